package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestExtrema(t *testing.T) {
	eased := knot(0, 0, Smooth)
	eased.Ease = &Ease{0.5, -0.5, 0.5, 1.5}
	tests := []struct {
		name  string
		knots []Knot
		at    Extent
		want  []Extremum
	}{
		{
			"keys that turn, round the seam",
			[]Knot{knot(0, 2, Smooth), knot(10, 5, Smooth), knot(20, 3, Smooth), knot(30, -1, Smooth)},
			cycle,
			[]Extremum{{10, 5, true}, {30, -1, false}},
		},
		{
			"the seam turns",
			[]Knot{knot(0, 5, Smooth), knot(20, -1, Smooth)},
			cycle,
			[]Extremum{{0, 5, true}, {20, -1, false}},
		},
		{
			"a plateau counts at its start, over the seam too",
			[]Knot{knot(10, -1, Smooth), knot(20, -1, Smooth), knot(30, 4, Smooth)},
			cycle,
			[]Extremum{{10, -1, false}, {30, 4, true}},
		},
		{
			"a plateau that ends after the seam",
			[]Knot{knot(0, 4, Smooth), knot(20, -1, Smooth), knot(30, 4, Smooth)},
			cycle,
			[]Extremum{{20, -1, false}, {30, 4, true}},
		},
		{
			"a shelf is no extremum",
			[]Knot{knot(0, 0, Smooth), knot(10, 1, Smooth), knot(20, 1, Smooth), knot(30, 2, Smooth)},
			span,
			nil,
		},
		{
			"steps",
			[]Knot{knot(10, -6, Stay), knot(30, 4, Stay)},
			cycle,
			[]Extremum{{10, -6, false}, {30, 4, true}},
		},
		{
			"a span's last step",
			[]Knot{knot(0, 0, Smooth), knot(20, 6, Stay), knot(40, 4, Smooth)},
			span,
			[]Extremum{{20, 6, true}},
		},
		{
			// 0 to 0 with slopes 1 and 1 over 10 frames is 10u(1-u)(1-2u): it turns at u = ½ ± √3/6, by ±10√3/18.
			"between keys",
			[]Knot{sloped(10, 0, 0, 1), sloped(20, 0, 1, 0)},
			span,
			[]Extremum{{10 * (1.5 - math.Sqrt(3)/6), 10 * math.Sqrt(3) / 18, true}, {10 * (1.5 + math.Sqrt(3)/6), -10 * math.Sqrt(3) / 18, false}},
		},
		{
			"in an easing",
			[]Knot{eased, knot(20, 10, Smooth)},
			span,
			easedExtrema(),
		},
		{
			"a plateau over the seam of an advance",
			[]Knot{knot(0, -6, Smooth), knot(10, -20, Smooth), knot(30, 4, Smooth)},
			Extent{Length: 40, Closed: true, Gain: 10},
			[]Extremum{{10, -20, false}, {30, 4, true}},
		},
		{
			"an advance that turns at its seam",
			[]Knot{knot(0, 0, Smooth), knot(20, -9, Smooth)},
			Extent{Length: 40, Closed: true, Gain: 10},
			[]Extremum{{0, 0, true}, {20, -9, false}},
		},
		{
			"an advance that never turns",
			[]Knot{knot(0, 0, Smooth), knot(20, 3, Smooth)},
			Extent{Length: 40, Closed: true, Gain: 10},
			nil,
		},
	}
	for _, test := range tests {
		got := NewCurve(test.knots, test.at).Extrema()
		require.Len(t, got, len(test.want), "%s: %v", test.name, got)
		for i, want := range test.want {
			assert.InDelta(t, want.Time, got[i].Time, 1e-9, "%s, time", test.name)
			assert.InDelta(t, want.Value, got[i].Value, 1e-9, "%s, value", test.name)
			assert.Equal(t, want.High, got[i].High, "%s, side", test.name)
		}
	}
}

// easedExtrema works the turns of the easing 0.5,-0.5,0.5,1.5 by hand: its way has the derivative
// 3·(-0.5)(1-s)² + 6·2·s(1-s) + 3·(-0.5)s² = -1.5 + 15s - 15s², zero at s = ½ ∓ √0.15, where the time is
// 1.5·s(1-s)² + 1.5·s²(1-s) + s³.
func easedExtrema() []Extremum {
	var found []Extremum
	for i, s := range []float64{0.5 - math.Sqrt(0.15), 0.5 + math.Sqrt(0.15)} {
		x := 1.5*s*(1-s)*(1-s) + 1.5*s*s*(1-s) + s*s*s
		y := -1.5*s*(1-s)*(1-s) + 4.5*s*s*(1-s) + s*s*s
		found = append(found, Extremum{Time: 20 * x, Value: 10 * y, High: i == 1})
	}
	return found
}

func TestTurnsAt(t *testing.T) {
	tests := []struct {
		name  string
		knots []Knot
		at    Extent
		want  []bool
	}{
		{"up and down", []Knot{knot(0, 0, Smooth), knot(10, 5, Smooth), knot(20, 0, Smooth), knot(30, -2, Smooth)}, cycle, []bool{false, true, false, true}},
		{"passed at rest", []Knot{knot(0, 0, Smooth), knot(10, 1, Rest), knot(20, 2, Smooth)}, cycle, []bool{true, false, true}},
		{"a corner is passed", []Knot{knot(0, 0, Straight), knot(10, 1, Straight), knot(20, 9, Straight)}, cycle, []bool{true, false, true}},
		{"first of a plateau", []Knot{knot(0, 0, Smooth), knot(10, 3, Smooth), knot(15, 3, Smooth), knot(20, 3, Smooth)}, cycle, []bool{true, true, false, false}},
		{"a plateau over the seam", []Knot{knot(0, 3, Smooth), knot(10, 0, Smooth), knot(30, 3, Smooth), knot(40, 3, Smooth)}, cycle, []bool{false, true, true, false}},
		{"coming to a stop", []Knot{knot(0, 0, Smooth), knot(10, 3, Smooth), knot(20, 3, Smooth), knot(30, 5, Smooth)}, span, []bool{false, true, false, true}},
		{"every step", []Knot{knot(10, -6, Stay), knot(20, 4, Stay), knot(30, 9, Stay)}, cycle, []bool{true, true, true}},
		{"a step to where it is", []Knot{knot(10, -6, Stay), knot(20, -6, Stay), knot(30, 9, Stay)}, cycle, []bool{true, false, true}},
		{"the closing row is the first", []Knot{knot(0, 5, Smooth), knot(20, 1, Smooth), knot(40, 5, Smooth)}, cycle, []bool{true, true, false}},
		{"alone it stands at 0", []Knot{knot(20, 1, Smooth), knot(30, 3, Smooth), knot(40, 5, Smooth)}, cycle, []bool{true, false, true}},
		{"the curve turns beside it", []Knot{knot(0, 0, Smooth), sloped(10, 5, -1, -1), knot(20, 0, Smooth)}, span, []bool{false, false, true}},
		{"an advance passes its seam", []Knot{knot(0, 0, Smooth), knot(20, 5, Smooth)}, Extent{Length: 40, Closed: true, Gain: 10}, []bool{false, false}},
		{"one key", []Knot{knot(10, 3, Smooth)}, cycle, []bool{false}},
	}
	for _, test := range tests {
		c := NewCurve(test.knots, test.at)
		for i, want := range test.want {
			assert.Equal(t, want, c.TurnsAt(i), "%s, knot %d", test.name, i)
		}
		assert.False(t, c.TurnsAt(-1))
		assert.False(t, c.TurnsAt(len(test.knots)))
	}
}

func TestRangePeakSpeedAndExtremaHoldForEverySample(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		least, most := c.Range()
		peak, slack := c.PeakSpeed(), 1e-9*(1+most-least)
		lowest, highest, fastest := c.At(0), c.At(0), 0.0
		for _, at := range densely(c) {
			lowest, highest = min(lowest, c.At(at)), max(highest, c.At(at))
			left, right := c.Slope(at)
			fastest = max(fastest, math.Abs(left), math.Abs(right))
		}
		step := peak * c.Extent().Length / 1000
		assert.GreaterOrEqual(t, lowest, least-slack)
		assert.LessOrEqual(t, highest, most+slack)
		assert.InDelta(t, least, lowest, step+slack, "the least is reached")
		assert.InDelta(t, most, highest, step+slack, "the greatest is reached")
		assert.GreaterOrEqual(t, peak, fastest-1e-9)
		assert.InEpsilon(t, 1+peak, 1+fastest, 0.01, "the peak is reached")
		checkExtrema(t, c, slack)
	})
}

// densely returns a thousand times in each segment, closest at its ends and along an easing's own curve, all within the
// extent.
func densely(c *Curve) (times []float64) {
	length := c.Extent().Length
	for _, s := range c.Segments() {
		for i := range 1000 {
			share := (1 - math.Cos(math.Pi*float64(i)/1000)) / 2
			if s.Kind == Eased {
				share = bezierAxis(s.Ease.X1, s.Ease.X2).at(share)
			}
			at := s.Start + s.Duration*share
			if at >= length && c.Extent().Closed {
				at -= length // The stretch after the seam, in this round.
			}
			times = append(times, at)
		}
	}
	if c.Extent().Closed {
		return append(times, 0, length*(1-1e-9))
	}
	return append(times, 0, length)
}

// checkExtrema looks at every extremum from both sides, and that nothing between two of them turns.
func checkExtrema(t *rapid.T, c *Curve, slack float64) {
	extrema := c.Extrema()
	for i, e := range extrema {
		require.GreaterOrEqual(t, e.Time, 0.0)
		require.LessOrEqual(t, e.Time, c.Extent().Length)
		side := 1.0
		if e.High {
			side = -1
		}
		for _, step := range []float64{-1e-3, -1e-5, 1e-5, 1e-3} {
			if standsAlone(extrema, i, 2*math.Abs(step), c.Extent().Length) {
				assert.GreaterOrEqual(t, side*(c.At(e.Time+step)-e.Value), -slack, "extremum %+v", e)
			}
		}
		if i > 0 {
			require.NotEqual(t, extrema[i-1].High, e.High, "highs and lows take turns")
			checkMonotone(t, c, extrema[i-1], e, slack)
		}
	}
}

// standsAlone reports that no other extremum is so near that a look from one side would see beyond it.
func standsAlone(extrema []Extremum, i int, within, length float64) bool {
	for j, e := range extrema {
		distance := math.Abs(e.Time - extrema[i].Time)
		if j != i && min(distance, length-distance) < within {
			return false
		}
	}
	return true
}

func checkMonotone(t *rapid.T, c *Curve, from, to Extremum, slack float64) {
	before := from.Value
	side := sign(to.Value - from.Value)
	for i := 1; i < 200; i++ {
		value := c.At(from.Time + (to.Time-from.Time)*float64(i)/200)
		assert.GreaterOrEqual(t, side*(value-before), -slack, "between %+v and %+v", from, to)
		before = value
	}
}
