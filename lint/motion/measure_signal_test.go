package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// sampledWave is one round of a function of the share of a cycle.
func sampledWave(count int, wave func(share float64) float64) Signal {
	s := Signal{Samples: make([]float64, count), Closed: true}
	for i := range s.Samples {
		s.Samples[i] = wave(float64(i) / float64(count))
	}
	return s
}

func TestABlipStandsOutFromTheCubicThroughItsNeighbours(t *testing.T) {
	// A lone 1 among zeros: the fourth difference's weights 1, −4, 6, −4, 1 over 6.
	weights := []float64{1. / 6, -2. / 3, 1, -2. / 3, 1. / 6}
	for _, c := range []struct {
		at     int
		closed bool
		want   []float64
	}{
		{5, true, []float64{0, 0, 0, weights[0], weights[1], 1, weights[3], weights[4], 0, 0}},
		{0, true, []float64{1, weights[1], weights[0], 0, 0, 0, 0, 0, weights[0], weights[1]}},
		{5, false, []float64{0, 0, 0, weights[0], weights[1], 1, weights[3], weights[4], 0, 0}},
		{0, false, []float64{0, 0, weights[0], 0, 0, 0, 0, 0, 0, 0}},
	} {
		s := Signal{Samples: make([]float64, 10), Closed: c.closed}
		s.Samples[c.at] = 1
		got, _ := s.CubicResiduals(nil)
		assert.InDeltaSlice(t, c.want, got, 1e-15)
	}
}

func TestABlipOnASineIsFoundAmongItsMedian(t *testing.T) {
	// The fourth difference of a sine of n samples is 16·sin⁴(π/n) times itself (finite differences of an exponential),
	// so its residual's median size is a sixth of that times the median of |sin|, which is sin 45°.
	const count = 72
	s := sampledWave(count, func(u float64) float64 { return 10 * math.Sin(2*math.Pi*u) })
	residuals, median := s.CubicResiduals(nil)
	factor := 16 * math.Pow(math.Sin(math.Pi/count), 4) / 6
	for i, r := range residuals {
		assert.InDelta(t, factor*s.Samples[i], r, 1e-14)
	}
	assert.InDelta(t, 10*factor*math.Sin(math.Pi/4), median, 1e-6)
	s.Samples[70] += 0.5
	residuals, after := s.CubicResiduals(residuals)
	assert.InDelta(t, 0.5+factor*(s.Samples[70]-0.5), residuals[70], 1e-14)
	assert.Less(t, after, 2*median)
	assert.Greater(t, residuals[70], 100*after)
}

func TestACubicHasNoResidual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SliceOfN(rapid.Float64Range(-5, 5), 4, 4).Draw(t, "coefficients")
		s := Signal{Samples: make([]float64, rapid.IntRange(0, 30).Draw(t, "count"))}
		for i := range s.Samples {
			x := float64(i) / 10
			s.Samples[i] = c[0] + x*(c[1]+x*(c[2]+x*c[3]))
		}
		residuals, median := s.CubicResiduals(nil)
		for _, r := range residuals {
			assert.InDelta(t, 0, r, 1e-12)
		}
		assert.InDelta(t, 0, median, 1e-12)
	})
}

func TestAClosedSignalThatGainsGoesOnOverTheSeam(t *testing.T) {
	// An even rise of 1 a sample has no residual, at the seam neither.
	s := Signal{Samples: []float64{0, 1, 2, 3, 4}, Closed: true, Gain: 5}
	residuals, _ := s.CubicResiduals(nil)
	assert.InDeltaSlice(t, make([]float64, 5), residuals, 1e-15)
	assert.InDelta(t, 0, s.Mean(), 1e-15)
	assert.InDelta(t, -7, s.at(-7), 0)
	assert.InDelta(t, 12, s.at(12), 0)
}
