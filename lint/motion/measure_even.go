package motion

import "math"

// MayGoEvenly tells whether a channel may go from one of its turns to the next at a mean speed above a share of its peak,
// over at least so many frames: a no is certain but where two turns hide between two samples, between which nothing moves
// that could be seen. It looks at the samples alone, and so costs a hundredth of [Motion.Paces].
//
// A way that takes T frames holds n whole steps from sample to sample, n > T − 2, all in one direction, and beside them goes
// no faster than its peak, which is no less than the largest step a sample's time M. So its mean is at most
// (Σ steps + (T − n)·peak) ÷ T, and that is at most (Σ steps ÷ M + 2) ÷ (n + 2) of the peak.
func (s *Sampled) MayGoEvenly(channel int, evenness, frames float64) bool {
	signal := s.Channel(channel)
	n := s.Steps()
	begin := 0 // where a run of steps in one direction begins, or anywhere where all go one way
	for i := 1; s.Closed && i < n; i++ {
		if direction(signal.Step(i)) != direction(signal.Step(i-1)) {
			begin = i
			break
		}
	}
	count, sum, most, way := 0, 0.0, 0.0, 0.0
	even := func() bool {
		return way != 0 && float64(count+2)*s.Step >= frames && (sum/most+2)/float64(count+2) > evenness
	}
	for i := range n {
		step := signal.Step(begin + i)
		if direction(step) != way {
			if even() {
				return true
			}
			count, sum, most, way = 0, 0, 0, direction(step)
		}
		count++
		sum += math.Abs(step)
		most = max(most, math.Abs(step))
	}
	return even()
}

func direction(step float64) float64 {
	if math.Abs(step) < 1e-12 {
		return 0
	}
	return sign(step)
}
