package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// Data set RPN 14 of F. N. Fritsch and R. E. Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17
// (1980), from memory: a curve that only ever rises, and that an ordinary spline overshoots.
func TestRPN14IsMonotone(t *testing.T) {
	xs := []float64{7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20}
	ys := []float64{0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994}
	knots := make([]Knot, len(xs))
	for i := range xs {
		knots[i] = Knot{Time: xs[i], Value: ys[i]}
	}
	c := NewCurve(knots, Extent{Length: 20})
	assert.Empty(t, c.Extrema())
	least, most := c.Range()
	assert.Equal(t, ys[0], least)
	assert.Equal(t, ys[len(ys)-1], most)
	const steps = 100_000
	before := c.At(xs[0])
	for i := range steps + 1 {
		at := xs[0] + (20-xs[0])*float64(i)/steps
		value := c.At(at)
		left, right := c.Slope(at)
		require.GreaterOrEqual(t, value, before, "at %v", at)
		require.GreaterOrEqual(t, min(left, right), 0.0, "at %v", at)
		before = value
	}
}

func TestSmoothCurvesStayBetweenTheirKeys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(Smooth).Draw(t, "curve")
		for _, s := range c.Segments() {
			at := s.Start + s.Duration*rapid.Float64Range(0, 0.999).Draw(t, "share")
			value, slack := c.At(at), 1e-12
			assert.GreaterOrEqual(t, value, min(s.Value0, s.Value1)-slack)
			assert.LessOrEqual(t, value, max(s.Value0, s.Value1)+slack)
			_, right := c.Slope(at)
			assert.GreaterOrEqual(t, right*sign(s.Value1-s.Value0), -slack, "the slope never turns between keys")
		}
	})
}

// Source: curveMonotoneX of d3-shape 3.2.1 from npm, asked by monotone.mjs; the slope of a Bézier is three times the
// first step of its control points. Kept here so that the check needs no Node.
func TestSteffenSlopesAgainstKeptValues(t *testing.T) {
	c := NewCurve([]Knot{{Time: 0}, {Time: 10, Value: 1}, {Time: 20, Value: 4}, {Time: 28, Value: 4.5}, {Time: 40, Value: -2}, {Time: 44, Value: -2.5}}, Extent{Length: 44})
	for at, want := range map[float64]float64{
		10: (1.6666666666666667 - 1) / (13.333333333333334 - 10),
		20: (4.333333333333333 - 4) / (22.666666666666668 - 20),
		28: 0,
		40: (-2.3055555555555554 + 2) / (41.333333333333336 - 40),
	} {
		left, right := c.Slope(at)
		assert.InDelta(t, want, left, 1e-12, "at %v", at)
		assert.InDelta(t, want, right, 1e-12, "at %v", at)
	}
}

// Every slope but the two at the ends, for which d3-shape uses another rule than M. Steffen's.
func TestSteffenAgainstD3Shape(t *testing.T) {
	curves := examples(200, curveOf(Smooth), func(c *Curve) bool { return len(c.Knots()) > 2 && !c.Extent().Closed })
	request := make([][][2]float64, len(curves))
	for i, c := range curves {
		for _, k := range c.Knots() {
			request[i] = append(request[i], [2]float64{k.Time, k.Value})
		}
	}
	var answer [][][8]float64
	reference.Ask(t, "monotone.mjs", request, &answer)
	require.Len(t, answer, len(curves))
	for i, c := range curves {
		for j, s := range c.Segments() {
			bezier := answer[i][j]
			require.Equal(t, s.Start, bezier[0])
			if j > 0 {
				assert.InDelta(t, s.Slope0, (bezier[3]-bezier[1])/(bezier[2]-bezier[0]), 1e-12)
			}
			if j+1 < len(answer[i]) {
				assert.InDelta(t, s.Slope1, (bezier[7]-bezier[5])/(bezier[6]-bezier[4]), 1e-12)
			}
		}
	}
}
