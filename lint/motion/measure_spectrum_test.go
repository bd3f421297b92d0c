package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func sine(rounds, amplitude, crest float64) func(u float64) float64 {
	return func(u float64) float64 { return amplitude * math.Cos(2*math.Pi*rounds*(u-crest)) }
}

func added(waves ...func(u float64) float64) func(u float64) float64 {
	return func(u float64) float64 {
		sum := 0.0
		for _, w := range waves {
			sum += w(u)
		}
		return sum
	}
}

func level(v float64) func(u float64) float64 { return func(float64) float64 { return v } }

func TestTheLagOfASignalPlayedLater(t *testing.T) {
	uneven := added(sine(1, 3, 0.1), sine(2, 1, 0.3), sine(5, 0.4, 0.02))
	twice := added(sine(2, 3, 0.1), sine(4, 1, 0.3))
	bump := func(u float64) float64 { return math.Exp(-50 * math.Pow(u-0.5, 2)) }
	for name, c := range map[string]struct {
		wave      func(u float64) float64
		count     int
		lag, want float64 // samples
	}{
		"a sine, by whole samples":      {sine(1, 2, 0), 96, 7, 7},
		"a sine, between samples":       {sine(1, 2, 0), 96, 7.3, 7.3},
		"earlier":                       {sine(1, 2, 0), 96, -11.28, -11.28},
		"three harmonics, an odd count": {uneven, 97, 20.601, 20.601},
		"more than half a round later":  {uneven, 96, 70, 70 - 96},
		"comes twice: nearest to 0":     {twice, 96, 50.25, 2.25},
		"comes twice, other side":       {twice, 96, 45, -3},
		"nearly a quarter of two":       {twice, 98, 24, 24},
		"a bump":                        {bump, 96, 4.5, 4.5},
		"few samples":                   {sine(1, 2, 0), 3, 0.7, 0.7},
		"in step":                       {uneven, 96, 0, 0},
		"ten rounds":                    {sine(10, 1, 0), 96, 0.4, 0.4},
	} {
		t.Run(name, func(t *testing.T) {
			correlator := NewCorrelator(c.count)
			a := correlator.Spectrum(sampledWave(c.count, c.wave))
			late := func(u float64) float64 { return 0.6*c.wave(math.Mod(u-c.lag/float64(c.count)+2, 1)) - 4 }
			match := correlator.BestLag(a, correlator.Spectrum(sampledWave(c.count, late)))
			assert.InDelta(t, c.want, match.Lag, 1e-6)
			assert.InDelta(t, 1, match.Correlation, 1e-9)
		})
	}
}

func TestTheBestLagIsTheBestOfAllLags(t *testing.T) {
	// The reference is the definition: Σ a(t)·b(t+lag) over the departures from the means, for every whole lag.
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(1, 40).Draw(t, "count")
		values := eighths(t, 2*count)
		a, b := Signal{Samples: values[:count], Closed: true}, Signal{Samples: values[count:], Closed: true, Gain: 3}
		correlator := NewCorrelator(count)
		x, y := correlator.Spectrum(a), correlator.Spectrum(b)
		best := correlator.BestLag(x, y)
		assert.LessOrEqual(t, math.Abs(best.Lag), float64(count)/2+1e-9)
		assert.InDelta(t, x.Correlation(y, best.Lag), best.Correlation, 1e-9)
		for lag := range count {
			correlation := x.Correlation(y, float64(lag))
			assert.GreaterOrEqual(t, best.Correlation, correlation-1e-9)
			if count%2 == 1 { // with an even number the fastest harmonic is left out
				assert.InDelta(t, circularCorrelation(a, b, lag), correlation, 1e-9)
			}
		}
	})
}

// eighths draws numbers that are far enough from one another that rounding decides nothing.
func eighths(t *rapid.T, count int) []float64 {
	values := make([]float64, count)
	for i := range values {
		values[i] = float64(rapid.IntRange(-64, 64).Draw(t, "eighth")) / 8
	}
	return values
}

func circularCorrelation(a, b Signal, lag int) float64 {
	n := len(a.Samples)
	x, y := make([]float64, n), make([]float64, n)
	a.departures(x, true)
	b.departures(y, true)
	product, xx, yy := 0.0, 0.0, 0.0
	for i := range n {
		product += x[i] * y[(i+lag)%n]
		xx += x[i] * x[i]
		yy += y[i] * y[i]
	}
	if xx < 1e-18 || yy < 1e-18 {
		return 0
	}
	return product / math.Sqrt(xx*yy)
}

// Within a window the best lag is that of a search by hand, and nothing where no summit there is high enough.
func TestBestLagWithinAWindow(t *testing.T) {
	correlator := NewCorrelator(96)
	spectrum := func(wave func(u float64) float64) *Spectrum { return correlator.Spectrum(sampledWave(96, wave)) }
	a := spectrum(added(sine(1, 3, 0), sine(2, 1, 0.3)))
	within := func(b *Spectrum) (alike, opposite Match) { return correlator.BestLagWithin(a, b, 8, 0.95) }
	alike, opposite := within(spectrum(sine(5, 1, 0)))
	assert.Zero(t, alike)
	assert.Zero(t, opposite)
	alike, opposite = within(spectrum(added(sine(1, 6, 5.0/96), sine(2, 2, 0.3+5.0/96))))
	assert.InDelta(t, 5, alike.Lag, 1e-6, "the same, five samples later")
	assert.InDelta(t, 1, alike.Correlation, 1e-9)
	assert.Zero(t, opposite)
	alike, opposite = within(spectrum(added(sine(1, -6, -5.5/96), sine(2, -2, 0.3-5.5/96))))
	assert.InDelta(t, -5.5, opposite.Lag, 1e-6)
	assert.InDelta(t, 1, opposite.Correlation, 1e-9)
	assert.Zero(t, alike)
	alike, opposite = within(spectrum(added(sine(1, 6, 30.0/96), sine(2, 2, 0.3+30.0/96))))
	assert.Zero(t, alike, "too far off")
	assert.Zero(t, opposite)
	alike, opposite = within(spectrum(added(sine(1, 6, 9.0/96), sine(2, 2, 0.3+9.0/96))))
	assert.Zero(t, alike, "its summit lies outside, though it is alike at the edge already")
	assert.Zero(t, opposite)
	alike, _ = within(spectrum(level(2)))
	assert.Zero(t, alike)
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) []float64 {
			return rapid.SliceOfN(rapid.Float64Range(-1, 1), 6, 6).Draw(t, name)
		}
		// Waves that are much alike, so that they match often.
		base, other := draw("base"), draw("other")
		wave := func(by []float64, share, late float64) func(u float64) float64 {
			return func(u float64) (sum float64) {
				for k := range 3 {
					sum += (base[k] + share*by[k]) * math.Cos(2*math.Pi*float64(k+1)*(u-late)+base[3+k])
				}
				return sum
			}
		}
		late := rapid.Float64Range(-9, 9).Draw(t, "late") / 96
		a, b := spectrum(wave(base, 0, 0)), spectrum(wave(other, 0.2, late))
		alike, _ := correlator.BestLagWithin(a, b, 8, 0.95)
		best := Match{}
		for i := -800; i <= 800; i++ {
			lag := float64(i) / 100
			if c := a.Correlation(b, lag); c > best.Correlation {
				best = Match{lag, c}
			}
		}
		switch inside := math.Abs(best.Lag) < 7.99; {
		case inside && best.Correlation > 0.95+1e-6:
			found++
			require.InDelta(t, best.Correlation, alike.Correlation, 1e-4)
			require.GreaterOrEqual(t, alike.Correlation, best.Correlation-1e-9)
		case best.Correlation < 0.95-1e-6:
			require.Zero(t, alike)
		}
	})
	require.Positive(t, found)
}

func TestSeveralSignalsAreComparedAsOne(t *testing.T) {
	// A point on a circle and one that goes round it 0.1 rounds later; the one that goes round the other way is like it
	// on one axis at a time only: at every lag x and z together come to at most half of what they are worth, squared.
	correlator := NewCorrelator(60)
	circle := func(late, way float64) *Spectrum {
		return correlator.Spectrum(sampledWave(60, sine(1, 5, late)), sampledWave(60, sine(1, 5*way, 0.25+late)))
	}
	match := correlator.BestLag(circle(0, 1), circle(0.1, 1))
	assert.InDelta(t, 6, match.Lag, 1e-9)
	assert.InDelta(t, 1, match.Correlation, 1e-12)
	assert.InDelta(t, 0, correlator.BestLag(circle(0, 1), circle(0.1, -1)).Correlation, 1e-12)
	assert.InDelta(t, 25, circle(0, 1).MeanSquare(), 1e-12)
}

func TestWhatStaysStillMatchesNothing(t *testing.T) {
	for _, count := range []int{1, 2, 7, 96} {
		correlator := NewCorrelator(count)
		still := correlator.Spectrum(sampledWave(count, level(3)))
		rising := Signal{Samples: make([]float64, count), Closed: true, Gain: float64(count)}
		for i := range rising.Samples {
			rising.Samples[i] = float64(i)
		}
		even := correlator.Spectrum(rising)
		moving := correlator.Spectrum(sampledWave(count, sine(1, 1, 0)))
		assert.Equal(t, Match{}, correlator.BestLag(still, moving))
		assert.Equal(t, Match{}, correlator.BestLag(moving, still))
		assert.Zero(t, still.Correlation(moving, 2))
		assert.Less(t, even.MeanSquare(), 1e-20, "an advance is no movement of its own")
		assert.Zero(t, still.Main(0).Number)
	}
	assert.Equal(t, Match{}, NewCorrelator(8).BestLag(NewCorrelator(8).Spectrum(sampledWave(8, sine(1, 1, 0))), NewCorrelator(9).Spectrum(sampledWave(9, sine(1, 1, 0)))))
}

func TestTheMainPeriodAndItsCrest(t *testing.T) {
	wave := added(level(7), sine(2, 3, 0.2), sine(1, 1, 0.6), sine(3, 0.5, 0))
	for _, count := range []int{48, 49} {
		main := NewCorrelator(count).Spectrum(sampledWave(count, level(1)), sampledWave(count, wave)).Main(1)
		assert.Equal(t, 2, main.Number)
		assert.InDelta(t, 3, main.Amplitude, 1e-9)
		assert.InDelta(t, 0.2, main.Crest, 1e-9)
		assert.InDelta(t, 9/(9+1+0.25), main.Share, 1e-9) // Parseval: a sine's mean square is half its amplitude's square
	}
	equal := NewCorrelator(64).Spectrum(sampledWave(64, added(sine(3, 1, 0), sine(1, 1, 0.9)))).Main(0)
	assert.Equal(t, 1, equal.Number)
	assert.InDelta(t, 0.9, equal.Crest, 1e-9)
}

func TestHowMuchASwaysHalvesMirrorEachOther(t *testing.T) {
	// Half a round later odd harmonics have turned round and even ones have come back, so the measure is the odd ones'
	// power less the even ones' over all: (1 − a²) ÷ (1 + a²) for a second harmonic of amplitude a.
	for _, a := range []float64{0, 0.1, 0.5, 1, 3} {
		for _, count := range []int{72, 71} {
			s := NewCorrelator(count).Spectrum(sampledWave(count, added(level(2), sine(1, 1, 0.3), sine(2, a, 0.1))))
			assert.InDelta(t, (1-a*a)/(1+a*a), s.SecondHalfMirrors(float64(count)), 1e-12)
		}
	}
	// Two even sways a round mirror themselves at half of the main period, not of the round.
	s := NewCorrelator(72).Spectrum(sampledWave(72, sine(2, 1, 0)))
	assert.InDelta(t, 1, s.SecondHalfMirrors(72/float64(s.Main(0).Number)), 1e-12)
	assert.InDelta(t, -1, s.SecondHalfMirrors(72), 1e-12)
}

func TestTheLagOfASpanPlayedLater(t *testing.T) {
	bump := func(at float64) float64 { return 3 * math.Exp(-math.Pow((at-40)/6, 2)) }
	for _, lag := range []float64{0, 5, -7, 12.5, 3.3} {
		a, b := make([]float64, 90), make([]float64, 90)
		for i := range a {
			a[i], b[i] = bump(float64(i)), 0.5*bump(float64(i)-lag)+9
		}
		match := BestSpanLag(a, b, 20)
		assert.InDelta(t, lag, match.Lag, 1e-3)
		assert.InDelta(t, 1, match.Correlation, 1e-5)
	}
	// A sine has no ends that would betray its lag; compared over what meets, it gives it away all the same.
	for lag := -5.0; lag <= 5; lag += 0.1 {
		a, b := make([]float64, 60), make([]float64, 60)
		for i := range a {
			a[i], b[i] = math.Sin(2*math.Pi*float64(i)/24), math.Sin(2*math.Pi*(float64(i)-lag)/24)
		}
		match := BestSpanLag(a, b, 8)
		assert.InDelta(t, lag, match.Lag, 1e-3)
		assert.InDelta(t, 1, match.Correlation, 1e-5)
	}
}

func TestSpanCorrelationsAreThoseOfWhatMeets(t *testing.T) {
	// The reference is the definition of Pearson's correlation, over the overlap.
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 40).Draw(t, "count")
		values := eighths(t, 2*n)
		a, b := values[:n], values[n:]
		most := rapid.IntRange(0, n/2).Draw(t, "limit")
		x, y := newRunning(a), newRunning(b)
		products := spanProducts(x.values, y.values, most)
		for lag := -most; lag <= most; lag++ {
			from, to := max(0, -lag), min(n, n-lag)
			if squares, _ := x.moving(from, to); squares == 0 {
				continue
			}
			if squares, _ := y.moving(from+lag, to+lag); squares == 0 {
				continue
			}
			require.InDelta(t, pearson(a[from:to], b[from+lag:to+lag]), overlapCorrelation(x, y, lag, products[lag+most]), 1e-7)
		}
	})
}

func pearson(a, b []float64) float64 {
	n := float64(len(a))
	meanA, meanB := 0.0, 0.0
	for i := range a {
		meanA += a[i] / n
		meanB += b[i] / n
	}
	ab, aa, bb := 0.0, 0.0, 0.0
	for i := range a {
		ab += (a[i] - meanA) * (b[i] - meanB)
		aa += (a[i] - meanA) * (a[i] - meanA)
		bb += (b[i] - meanB) * (b[i] - meanB)
	}
	return ab / math.Sqrt(aa*bb)
}

func TestSpansThatSayNothing(t *testing.T) {
	still := []float64{2, 2, 2, 2, 2, 2, 2, 2}
	moving := []float64{0, 1, 0, -1, 0, 1, 0, -1}
	assert.Equal(t, Match{}, BestSpanLag(still, moving, 3))
	assert.Equal(t, Match{}, BestSpanLag(moving, still, 3))
	assert.Equal(t, Match{}, BestSpanLag(moving, moving[:7], 3))
	assert.Equal(t, Match{}, BestSpanLag(nil, nil, 3))
	assert.InDelta(t, 1, BestSpanLag(moving, moving, 0).Correlation, 1e-12)
}
