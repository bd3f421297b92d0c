package motion

import (
	"math"
	"slices"
)

// Signal is one number over even times: a channel's value, a joint's place on one axis, a limb's bend.
type Signal struct {
	Samples []float64
	Closed  bool    // the samples are one round of a cycle and come again; otherwise the first and the last are ends
	Gain    float64 // what a closed signal gains every round, in its own unit
}

// at is the signal at sample i, which in a closed signal may lie in any round. In an open one i is inside.
func (s Signal) at(i int) float64 {
	n := len(s.Samples)
	if i >= 0 && i < n {
		return s.Samples[i]
	}
	round := i / n
	if i%n < 0 {
		round--
	}
	return s.Samples[i-round*n] + float64(round)*s.Gain
}

// CubicResiduals tells by how much each sample is off the cubic through its neighbours at ±1 and ±2, in the signal's
// unit, and the median size of these. A single sample that sticks out by 1 gives 1 there, −2/3 beside it and 1/6 one
// further. In an open signal the two samples at each end have no such cubic: they get 0 and are left out of the median.
// The residuals go to dst where that is long enough.
//
// The cubic through four neighbours (Lagrange) is (−s₋₂ + 4·s₋₁ + 4·s₊₁ − s₊₂) ÷ 6, so the residual is a sixth of the
// fourth difference.
func (s Signal) CubicResiduals(dst []float64) (residuals []float64, medianSize float64) {
	residuals = slices.Grow(dst[:0], len(s.Samples))[:len(s.Samples)]
	for i := range residuals {
		residuals[i] = 0
		if s.Closed || i >= 2 && i+2 < len(residuals) {
			near, far := s.at(i-1)+s.at(i+1), s.at(i-2)+s.at(i+2)
			residuals[i] = s.Samples[i] - (4*near-far)/6
		}
	}
	judged := residuals
	if !s.Closed {
		ends := min(2, len(judged)/2)
		judged = judged[ends : len(judged)-ends]
	}
	if len(judged) == 0 {
		return residuals, 0
	}
	sizes := slices.Clone(judged)
	for i := range sizes {
		sizes[i] = math.Abs(sizes[i])
	}
	slices.Sort(sizes)
	half := len(sizes) / 2
	return residuals, (sizes[half] + sizes[(len(sizes)-1)/2]) / 2
}

// Mean is the mean of the samples; of a closed signal that gains every round, that of the even rise taken out.
func (s Signal) Mean() float64 {
	if len(s.Samples) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range s.Samples {
		sum += v
	}
	n := float64(len(s.Samples))
	return sum/n - s.Gain*(n-1)/(2*n)
}

// departures writes the signal less the even rise of its gain, and less its mean where that is asked for, into dst.
func (s Signal) departures(dst []float64, withoutMean bool) {
	rise, mean := s.Gain/float64(len(s.Samples)), 0.0
	if withoutMean {
		mean = s.Mean()
	}
	for i, v := range s.Samples {
		dst[i] = v - rise*float64(i) - mean
	}
}

// Step is by how much the signal changes from a sample to the next; in a closed one also from the last to the first of
// the next round.
func (s Signal) Step(i int) float64 { return s.at(i+1) - s.at(i) }

// Range is the least and the greatest of the samples; of no samples, 0.
func (s Signal) Range() (least, most float64) {
	if len(s.Samples) == 0 {
		return 0, 0
	}
	least, most = s.Samples[0], s.Samples[0]
	for _, v := range s.Samples[1:] {
		if v < least {
			least = v
		} else if v > most {
			most = v
		}
	}
	return least, most
}

// Negated is the signal with every sign turned round.
func (s Signal) Negated() Signal {
	negated := Signal{make([]float64, len(s.Samples)), s.Closed, -s.Gain}
	for i, v := range s.Samples {
		negated.Samples[i] = -v
	}
	return negated
}

// Less is the signal less another one of as many samples.
func (s Signal) Less(other Signal) Signal {
	rest := Signal{make([]float64, len(s.Samples)), s.Closed, s.Gain - other.Gain}
	for i, v := range s.Samples {
		rest.Samples[i] = v - other.Samples[i]
	}
	return rest
}
