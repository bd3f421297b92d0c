package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"
	"pgregory.net/rapid"
)

func TestQuiverPhasesAreTheReferencesOwn(t *testing.T) {
	// Test vectors of the reference (grammar/LANGUAGE.md), worked out by a second implementation of FNV-1a and
	// SplitMix64 in another language.
	for _, c := range []struct {
		path  string
		seed  uint64
		h     int
		share float64
	}{
		{"wrist.left/turn", 7, 2, 0.44663986439103875},
		{"wrist.left/turn", 7, 3, 0.46567978672813526},
		{"wrist.right/roll", 11, 2, 0.6855041737522004},
	} {
		assert.Equal(t, c.share, quiverPhase(c.path, c.seed, c.h))
	}
}

func TestQuiversHaveOnlyTheirHarmonicsNoMeanAndTheirPeak(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := rapid.IntRange(1, 5).Draw(t, "first")
		last := first + rapid.IntRange(0, 6).Draw(t, "more")
		amplitude := rapid.Float64Range(0.1, 9).Draw(t, "amplitude")
		q := NewQuiver("wrist.left/turn", rapid.Uint64().Draw(t, "seed"), 72, amplitude, first, last)
		const n = 1440
		samples := make([]float64, n)
		most := 0.0
		for i := range samples {
			samples[i], _ = q.at(72 * float64(i) / n)
			most = max(most, math.Abs(samples[i]))
		}
		// The peak between samples exceeds the largest sample by at most the curve's bend over half a step.
		h := 2 * math.Pi * float64(last) / n
		if most > amplitude*(1+1e-12) || most < amplitude*(1-h*h*float64(last-first+1)) {
			t.Fatalf("peak %g for an amplitude of %g", most, amplitude)
		}
		for k, c := range fourier.NewFFT(n).Coefficients(nil, samples) {
			if size := math.Hypot(real(c), imag(c)) / n; (k < first || k > last) && size > 1e-12*amplitude {
				t.Fatalf("harmonic %d has size %g outside %d … %d", k, size, first, last)
			}
		}
		at := rapid.Float64Range(0, 72).Draw(t, "at")
		before, _ := q.at(at - 1e-5)
		after, _ := q.at(at + 1e-5)
		if _, slope := q.at(at); math.Abs(slope-(after-before)/2e-5) > 1e-6*(1+math.Abs(slope)) {
			t.Fatalf("slope %g, but the difference quotient is %g", slope, (after-before)/2e-5)
		}
	})
}

func TestHarmonicsOfABand(t *testing.T) {
	first, last := Harmonics(3, 0.6, 2.5) // 72 frames at 24 fps: harmonics stand a third of a hertz apart
	assert.Equal(t, [2]int{2, 7}, [2]int{first, last})
	first, last = Harmonics(3, 0.4, 0.6)
	require.Greater(t, first, last)
}

func TestBreathRisesFallsAndPauses(t *testing.T) {
	b := NewBreath(72, 1, 9, 0.4, 0.1, 4)
	for _, c := range []struct{ at, value float64 }{
		{9, 0}, {9 + 72*0.2, 2}, {9 + 72*0.4, 4}, {9 + 72*0.65, 2}, {9 + 72*0.9, 0}, {9 + 72*0.95, 0}, {0, 4 * (1 + math.Cos(math.Pi*(63.0/72-0.4)/0.5)) / 2},
	} {
		value, _ := b.at(c.at)
		assert.InDelta(t, c.value, value, 1e-12, "at %g", c.at)
	}
	for at := 0.5; at < 72; at++ {
		before, _ := b.at(at - 1e-5)
		after, _ := b.at(at + 1e-5)
		_, slope := b.at(at)
		assert.InDelta(t, (after-before)/2e-5, slope, 1e-6)
	}
}
