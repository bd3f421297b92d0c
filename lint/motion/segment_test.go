package motion

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// The Hermite basis as glTF 2.0 writes it (specification, appendix C "Animation Sampler Interpolation Modes", cubic
// spline interpolation; from memory), in another form than the code's.
func hermiteBasis(s Segment, t float64) float64 {
	u, d := (t-s.Start)/s.Duration, s.Duration
	return (2*u*u*u-3*u*u+1)*s.Value0 + d*(u*u*u-2*u*u+u)*s.Slope0 + (-2*u*u*u+3*u*u)*s.Value1 + d*(u*u*u-u*u)*s.Slope1
}

func TestSegmentsAreTheCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		length := c.Extent().Length
		covered := 0.0
		for _, s := range c.Segments() {
			covered += s.Duration
			if s.Duration == 0 {
				continue
			}
			at := s.Start + s.Duration*rapid.Float64Range(0, 0.99).Draw(t, "share")
			want := hermiteBasis(s, at)
			if s.Kind == Eased {
				want = s.Value0 + (s.Value1-s.Value0)*s.Ease.At((at-s.Start)/s.Duration)
			}
			assert.InDelta(t, want, c.At(at), 1e-9)
		}
		if c.Extent().Closed {
			assert.InDelta(t, length, covered, 1e-9)
		}
	})
}

func TestCubicsCoverExactlyTheExtent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		cubics := c.Cubics(0.25)
		require.NotEmpty(t, cubics)
		end := 0.0
		for _, s := range cubics {
			require.Equal(t, end, s.Start, "no hole")
			require.Positive(t, s.Duration)
			end = s.Start + s.Duration
			at := s.Start
			if !hasEase(c) { // Cubics only meet an easing at their ends.
				at += s.Duration * rapid.Float64Range(0, 0.99).Draw(t, "share")
			}
			assert.InDelta(t, c.At(at), hermiteBasis(s, at), 1e-9, "at %v of %+v", at, s)
		}
		assert.InDelta(t, c.Extent().Length, end, 1e-9)
	})
}

// A shorter step brings the cubics nearer to an easing: each halving of it, sixteen times nearer (the error of cubic
// Hermite interpolation, derivative⁴ × step⁴ ÷ 384, any numerical analysis textbook).
func TestCubicsCloseInOnAnEasing(t *testing.T) {
	eased := knot(0, 0, Smooth)
	eased.Ease = &Ease{0.3, -0.4, 0.4, 1.2}
	c := NewCurve([]Knot{eased, knot(32, 10, Smooth)}, span)
	farthest := func(step float64) (miss float64) {
		for _, s := range c.Cubics(step) {
			at := s.Start + s.Duration/2
			miss = max(miss, math.Abs(c.At(at)-hermiteBasis(s, at)))
		}
		return miss
	}
	assert.InDelta(t, 16, farthest(0.5)/farthest(0.25), 1)
	assert.Less(t, farthest(0.25), 1e-6)
}

func hasEase(c *Curve) bool {
	return slices.ContainsFunc(c.Segments(), func(s Segment) bool { return s.Kind == Eased })
}

// examples draws the same count of curves at every run, so that one question can hold them all.
func examples(count int, curves *rapid.Generator[*Curve], keep func(*Curve) bool) []*Curve {
	var kept []*Curve
	for seed := 0; len(kept) < count; seed++ {
		if c := curves.Example(seed); keep(c) {
			kept = append(kept, c)
		}
	}
	return kept
}

// Source: the glTF loader of three 0.187.0 from npm, asked by cubic.mjs. Kept so that the check needs no Node.
func TestCubicsAgainstKeptValues(t *testing.T) {
	c := NewCurve([]Knot{sloped(0, 1, 0, 0.5), sloped(2, 3, 0.25, -1), sloped(3, 2, 0, 0)}, Extent{Length: 3})
	for at, want := range map[float64]float64{
		0.25: 1.1748046875, 0.5: 1.4296875, 1: 2.0625, 1.5: 2.6640625, 2.25: 2.703125, 2.5: 2.375,
	} {
		assert.InDelta(t, want, c.At(at), 1e-15, "at %v", at)
	}
}

func TestCubicsAgainstThree(t *testing.T) {
	type question struct {
		Times  []float64 `json:"times"`
		Values []float64 `json:"values"` // Slope in, value, slope out, for each time.
		At     []float64 `json:"at"`
	}
	curves := examples(200, curveOf(Smooth, Rest, Sloped), func(c *Curve) bool { return !hasEase(c) })
	questions := make([]question, len(curves))
	for i, c := range curves {
		q := &questions[i]
		in := 0.0
		cubics := c.Cubics(1)
		for j, s := range cubics {
			if j > 0 && s.Value0 != cubics[j-1].Value1 {
				break // A glTF key can't step; three would see the value after it.
			}
			q.Times = append(q.Times, s.Start)
			q.Values = append(q.Values, in, s.Value0, s.Slope0)
			for k := range 8 {
				q.At = append(q.At, s.Start+s.Duration*float64(k)/8)
			}
			in = s.Slope1
		}
		last := cubics[len(q.Times)-1]
		q.Times = append(q.Times, last.Start+last.Duration)
		q.Values = append(q.Values, in, last.Value1, 0)
	}
	var answers [][]float64
	reference.Ask(t, "cubic.mjs", questions, &answers)
	require.Len(t, answers, len(questions))
	for i, c := range curves {
		for j, at := range questions[i].At {
			assert.InDelta(t, answers[i][j], c.At(at), 1e-12, "at %v", at)
		}
	}
}
