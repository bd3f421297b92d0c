package server

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// bond is one channel that follows another by a line of a follow.
type bond struct {
	follower *motion.Channel
	follow   *motion.Follow
}

// bonds are what the lines of a block make follow; only those of one line where that is not negative.
func bonds(m *motion.Motion, b *grammar.Block, line int) []bond {
	var out []bond
	for i := range m.Channels {
		c := &m.Channels[i]
		for k := range c.Follows {
			f := &c.Follows[k]
			if f.At.Block == b && (line < 0 || f.At.Line == line) {
				out = append(out, bond{c, f})
			}
		}
	}
	return out
}

// lagSamples is how many samples a lag is measured with: a cycle of whole seconds has less than one frame a sample.
const lagSamples = 512

// measuredLag is how many frames followers really come after their leaders, with all that moves them, and how alike both
// are there: the correlation of all pairs together at its best lag. It is false where nothing moves.
func measuredLag(s *motion.Sheet, all []bond) (frames, likeness float64, ok bool) {
	length := s.Length.Float()
	if len(all) == 0 || !(0 < length) {
		return 0, 0, false
	}
	sample := func(c *motion.Channel, sign float64) motion.Signal {
		values := make([]float64, lagSamples)
		for i := range values {
			values[i] = sign * c.At(length*float64(i)/lagSamples)
		}
		return motion.Signal{Samples: values, Closed: s.Closed}
	}
	var leaders, followers []motion.Signal
	for _, b := range all {
		leaders = append(leaders, sample(b.follow.Leader, 1))
		followers = append(followers, sample(b.follower, math.Copysign(1, b.follow.Gain)))
	}
	step := length / lagSamples
	if !s.Closed {
		match := motion.BestSpanLag(leaders[0].Samples, followers[0].Samples, lagSamples/4)
		return match.Lag * step, match.Correlation, match.Correlation != 0
	}
	c := motion.NewCorrelator(lagSamples)
	match := c.BestLag(c.Spectrum(leaders...), c.Spectrum(followers...))
	return match.Lag * step, match.Correlation, match.Correlation != 0
}

// densest is the most keys of a strand within one second, round the seam, among those that a block gives; a closing row
// is the first row again and does not count.
func densest(s *motion.Sheet, strand *motion.Strand, b *grammar.Block) (count, keys int) {
	var times []float64
	for i := range strand.Keys {
		if strand.Keys[i].At.Block == b && (i == 0 || !strand.Closes(i) || !strand.Keys[0].Time.IsZero()) {
			times = append(times, strand.Keys[i].Time.Float())
		}
	}
	n, second, period := len(times), s.Rate.Float(), strand.Period.Float()
	end := 0
	for i := range n {
		end = max(end, i)
		for end < i+n && (end < n || strand.Closed()) {
			if t := times[end%n] + period*float64(end/n); second <= t-times[i] {
				break
			}
			end++
		}
		count = max(count, end-i)
	}
	return count, n
}
