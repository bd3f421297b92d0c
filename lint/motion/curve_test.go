package motion

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// knot is short for tables: time, value and mark.
func knot(t, v float64, shape Shape) Knot { return Knot{Time: t, Value: v, Shape: shape} }

func marked(k Knot) Knot {
	k.Marked = true
	return k
}

func sloped(t, v, in, out float64) Knot {
	return Knot{Time: t, Value: v, Shape: Sloped, SlopeIn: in, SlopeOut: out}
}

var (
	span  = Extent{Length: 40}
	cycle = Extent{Length: 40, Closed: true}
)

// The slopes on both sides of the knot at 20, which is between chords of 0.1 and 0.3 a frame: the parabola through the
// three points has 0.2 there. Worked by hand from the meaning of the marks in the language's section on tracks.
func TestMarksGiveSlopes(t *testing.T) {
	before, after := knot(10, 1, Smooth), knot(30, 5, Smooth)
	tests := []struct {
		name                string
		before, at, after   Knot
		wantLeft, wantRight float64
	}{
		{"smooth", before, knot(20, 2, Smooth), after, 0.2, 0.2},
		{"rests", before, knot(20, 2, Rest), after, 0, 0},
		{"straight arrives by the points", before, knot(20, 2, Straight), after, 0.2, 0.3},
		{"stays", before, knot(20, 2, Stay), after, 0, 0},
		{"sloped", before, sloped(20, 2, -3, 1.5), after, -3, 1.5},
		{"smooth after straight", knot(10, 1, Straight), knot(20, 2, Smooth), after, 0.1, 0.2},
		{"smooth before straight", before, knot(20, 2, Smooth), knot(30, 5, Straight), 0.2, 0.2},
		{"smooth after a stay", knot(10, 1, Stay), knot(20, 2, Smooth), after, 0, 0},
		{"straight after a stay", knot(10, 1, Stay), knot(20, 2, Straight), after, 0, 0.3},
		{"sloped after a stay", knot(10, 1, Stay), sloped(20, 2, -3, 1.5), after, 0, 1.5},
		{"at a turn", before, knot(20, 6, Smooth), after, 0, 0},
	}
	for _, test := range tests {
		c := NewCurve([]Knot{knot(0, 0, Smooth), test.before, test.at, test.after, knot(40, 9, Smooth)}, span)
		left, right := c.Slope(20)
		assert.InDelta(t, test.wantLeft, left, 1e-15, "%s, arriving", test.name)
		assert.InDelta(t, test.wantRight, right, 1e-15, "%s, leaving", test.name)
	}
}

// At the ends of a span the slope is that of the parabola through the three end keys, between zero and twice the
// chord's; worked by hand from M. Steffen (1990), section 2.
func TestSpanEndsHaveOneSidedSlopes(t *testing.T) {
	tests := []struct {
		name      string
		knots     []Knot
		wantFirst float64
		wantLast  float64
	}{
		{"parabola", []Knot{knot(0, 0, Smooth), knot(10, 1, Smooth), knot(20, 4, Smooth)}, 0, 0.4},
		{"easing off", []Knot{knot(0, 0, Smooth), knot(10, 3, Smooth), knot(20, 4, Smooth)}, 0.4, 0},
		{"at most twice the chord", []Knot{knot(0, 0, Smooth), knot(10, 1, Smooth), knot(20, -9, Smooth)}, 0.2, -1.55},
		{"two keys", []Knot{knot(0, 0, Smooth), knot(10, 1, Smooth)}, 0.1, 0.1},
		{"two keys, one rests", []Knot{knot(0, 0, Rest), knot(10, 1, Smooth)}, 0, 0.1},
	}
	for _, test := range tests {
		c := NewCurve(test.knots, span)
		left, first := c.Slope(test.knots[0].Time)
		assert.Zero(t, left, "%s: the value stays before", test.name)
		assert.InDelta(t, test.wantFirst, first, 1e-15, test.name)
		last, right := c.Slope(test.knots[len(test.knots)-1].Time)
		assert.InDelta(t, test.wantLast, last, 1e-15, test.name)
		assert.Zero(t, right, "%s: the value stays after", test.name)
	}
}

func TestSpanStaysOutside(t *testing.T) {
	c := NewCurve([]Knot{knot(10, 1, Smooth), knot(20, 2, Stay), knot(30, 5, Smooth)}, span)
	for at, want := range map[float64]float64{-1e9: 1, 0: 1, 10: 1, 20: 2, 29.999: 2, 30: 5, 40: 5, 1e9: 5} {
		assert.Equal(t, want, c.At(at), "at %v", at)
	}
}

func TestOneKeyIsConstant(t *testing.T) {
	for name, c := range map[string]*Curve{
		"span":                      NewCurve([]Knot{sloped(10, 3, 1, 1)}, span),
		"cycle":                     NewCurve([]Knot{sloped(10, 3, 1, 1)}, cycle),
		"cycle, closing row":        NewCurve([]Knot{sloped(0, 3, 1, 1), knot(40, 3, Smooth)}, cycle),
		"cycle, only a closing row": NewCurve([]Knot{sloped(40, 3, 1, 1)}, cycle),
		"constant":                  Constant(3, cycle),
		"constant span":             Constant(3, span),
		"constant, no length":       Constant(3, Extent{}),
	} {
		for _, at := range []float64{-50, 0, 5, 10, 40, 77} {
			assert.Equal(t, 3.0, c.At(at), name)
			left, right := c.Slope(at)
			assert.Zero(t, left, name)
			assert.Zero(t, right, name)
		}
		assert.Empty(t, c.Extrema(), name)
		assert.Equal(t, 3.0, c.Mean(), name)
		assert.Zero(t, c.PeakSpeed(), name)
		assert.Equal(t, Edge{Value: 3}, c.Leave(), name)
		assert.Equal(t, Edge{Value: 3}, c.Arrive(), name)
		assert.False(t, c.TurnsAt(0), name)
	}
}

// A cycle that advances by 40 over 40 frames and has one key is the straight walk through it.
func TestOneKeyThatAdvancesIsAStraightWalk(t *testing.T) {
	c := NewCurve([]Knot{knot(10, 3, Smooth)}, Extent{Length: 40, Closed: true, Gain: 40})
	for at, want := range map[float64]float64{-10: -17, 0: -7, 10: 3, 40: 33, 95: 88} {
		assert.InDelta(t, want, c.At(at), 1e-12, "at %v", at)
	}
	assert.InDelta(t, 13, c.Mean(), 1e-12)
	assert.Empty(t, c.Extrema())
}

// The chords into the seam and out of it are -0.2 and 0.1 a frame, or with the closing row of 6, 0.1 and 0.1.
func TestSeam(t *testing.T) {
	first, last := knot(0, 2, Smooth), knot(30, 5, Smooth)
	middle := knot(10, 3, Smooth)
	tests := []struct {
		name          string
		first         Knot
		closing       []Knot
		arrive, leave float64 // Values.
		in, out       float64 // Slopes.
		gap           float64
	}{
		{"no closing row", first, nil, 2, 2, 0, 0, 0},
		{"the same closing row", first, []Knot{knot(40, 2, Smooth)}, 2, 2, 0, 0, 0},
		{"a gap, one slope", first, []Knot{knot(40, 6, Smooth)}, 6, 2, 0.1, 0.1, 4},
		{"closing takes the first's mark", knot(0, 2, Rest), []Knot{knot(40, 6, Smooth)}, 6, 2, 0, 0, 4},
		{"first takes the closing's mark", first, []Knot{sloped(40, 2, -1, 3)}, 2, 2, -1, 3, 0},
		{"an explicit ~ keeps its own", knot(0, 2, Rest), []Knot{marked(knot(40, 6, Smooth))}, 6, 2, 0.1, 0, 4},
		{"first goes straight", knot(0, 2, Straight), []Knot{knot(40, 6, Smooth)}, 6, 2, 0.1, 0.1, 4},
		{"both marked", sloped(0, 2, 7, 0.5), []Knot{sloped(40, 2, -1, 3)}, 2, 2, -1, 0.5, 0},
	}
	for _, test := range tests {
		c := NewCurve(slices.Concat([]Knot{test.first, middle, last}, test.closing), cycle)
		arrive, leave := c.Arrive(), c.Leave()
		assert.InDelta(t, test.arrive, arrive.Value, 1e-12, "%s, arriving", test.name)
		assert.InDelta(t, test.leave, leave.Value, 1e-12, "%s, leaving", test.name)
		assert.InDelta(t, test.in, arrive.Slope, 1e-12, "%s, slope arriving", test.name)
		assert.InDelta(t, test.out, leave.Slope, 1e-12, "%s, slope leaving", test.name)
		assert.InDelta(t, test.gap, c.SeamGap(), 1e-12, "%s, gap", test.name)
		left, right := c.Slope(40)
		assert.InDelta(t, test.in, left, 1e-12, "%s, slope before 40", test.name)
		assert.InDelta(t, test.out, right, 1e-12, "%s, slope after 40", test.name)
		assert.Equal(t, leave.Value, c.At(40), "%s, value at 40", test.name)
	}
}

func TestClosingRowStandsAtZeroToo(t *testing.T) {
	alone := NewCurve([]Knot{knot(10, 3, Smooth), knot(30, 5, Rest), sloped(40, 2, -1, 3)}, cycle)
	both := NewCurve([]Knot{sloped(0, 2, -1, 3), knot(10, 3, Smooth), knot(30, 5, Rest), sloped(40, 2, -1, 3)}, cycle)
	difference, _ := MaxDifference(alone, both)
	assert.Zero(t, difference)
	assert.Equal(t, both.Segments(), alone.Segments())

	walk := Extent{Length: 40, Closed: true, Gain: 7}
	c := NewCurve([]Knot{knot(10, 3, Smooth), knot(40, 2, Smooth)}, walk)
	assert.Equal(t, -5.0, c.At(0))
	assert.Equal(t, 2.0, c.At(40))
	assert.Zero(t, c.SeamGap())
}

func TestAStayMayStepAtTheSeam(t *testing.T) {
	c := NewCurve([]Knot{knot(0, 2, Smooth), knot(30, 5, Stay), knot(40, 2, Smooth)}, cycle)
	assert.True(t, c.StaysIntoSeam())
	assert.Zero(t, c.SeamGap())
	assert.Equal(t, Edge{Value: 5}, c.Arrive())
	assert.Equal(t, 2.0, c.At(40))
	assert.Zero(t, c.Leave().Slope, "after a stay a smooth key leaves at rest")

	over := NewCurve([]Knot{knot(10, 2, Smooth), knot(30, 5, Stay)}, cycle)
	assert.True(t, over.StaysIntoSeam())
	assert.Equal(t, 5.0, over.At(5), "the stay goes on until the first key")
	assert.Equal(t, 2.0, over.At(10))
	assert.Equal(t, 5.0, over.Leave().Value)
}

// The ends against what the curve does a little inside of them.
func TestArriveAndLeaveAreTheCurveAtItsEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		const near = 1e-8
		length := c.Extent().Length
		for name, end := range map[string]struct {
			edge Edge
			at   float64
		}{"leave": {c.Leave(), near}, "arrive": {c.Arrive(), length - near}} {
			if !c.Extent().Closed && name == "arrive" && c.At(length) != end.edge.Value {
				t.Fatalf("a span arrives at %v, not %v", end.edge.Value, c.At(length))
			}
			if c.Extent().Closed || c.At(end.at) == c.At(length) {
				assert.InDelta(t, c.At(end.at), end.edge.Value, 2*near*(1+c.PeakSpeed()), name)
			}
			slope, _ := c.Slope(end.at)
			assert.InDelta(t, slope, end.edge.Slope, 1e-3*(1+c.PeakSpeed()), name)
			before, _ := c.Slope(end.at - near/2)
			after, _ := c.Slope(end.at + near/2)
			bend := (after - before) / near
			assert.InDelta(t, bend, end.edge.Acceleration, 1e-2*(1+c.PeakSpeed()+math.Abs(bend)), name)
		}
	})
}

// An instant before the seam that a float64 can't tell from it is the seam.
func TestTheSeamIsOneInstant(t *testing.T) {
	c := NewCurve([]Knot{knot(0, 0, Straight), knot(10, 5, Straight)}, cycle)
	wantLeft, wantRight := c.Slope(0)
	for _, at := range []float64{-1e-20, 40, -40, 4e9} {
		left, right := c.Slope(at)
		assert.Equal(t, wantLeft, left)
		assert.Equal(t, wantRight, right)
	}
}

func TestAClosingRowThatForgetsTheAdvanceIsAGap(t *testing.T) {
	c := NewCurve([]Knot{knot(0, 3, Smooth), knot(40, 3, Smooth)}, Extent{Length: 40, Closed: true, Gain: 7})
	assert.Equal(t, -7.0, c.SeamGap())
}

func TestEaseReplacesTheSegmentThatLeaves(t *testing.T) {
	eased := knot(10, 0, Smooth)
	eased.Ease = &Ease{0.25, 0.1, 0.25, 1}
	c := NewCurve([]Knot{knot(0, 0, Smooth), eased, knot(30, 10, Smooth), knot(40, 12, Smooth)}, span)
	// Source: bezier-easing 3.2.0 from npm, see TestEaseAgainstBezierEasing.
	assert.InDelta(t, 8.024033875848573, c.At(20), 1e-12)
	_, right := c.Slope(30)
	assert.InDelta(t, 0.3, right, 1e-12, "beside an easing a smooth key takes its slope from the points alone")

	eased.Shape = Stay
	c = NewCurve([]Knot{eased, knot(30, 10, Smooth)}, span)
	assert.Equal(t, 0.0, c.At(29), "a stay has no way to ease")

	closing := knot(40, 0, Smooth)
	closing.Ease = &Ease{0, 0, 1, 1}
	c = NewCurve([]Knot{knot(0, 0, Smooth), knot(20, 10, Rest), closing}, cycle)
	assert.InDelta(t, 2.5, c.At(5), 1e-12, "the closing row's ease counts for a first row without one")
}

func TestCurveKeepsItsOwnCopy(t *testing.T) {
	eased := knot(0, 0, Smooth)
	eased.Ease = &Ease{0, 0, 1, 1}
	knots := []Knot{eased, knot(20, 10, Smooth)}
	c := NewCurve(knots, span)
	knots[1].Value = 99
	knots[0].Ease.Y1 = 5
	assert.Equal(t, 5.0, c.At(10))
	assert.Equal(t, 10.0, c.Knots()[1].Value)
}

// curveOf draws curves as sheets make them: times on quarter frames, every mark, some eased, with and without a seam.
func curveOf(shapes ...Shape) *rapid.Generator[*Curve] {
	return rapid.Custom(func(t *rapid.T) *Curve {
		extent := Extent{Length: float64(rapid.IntRange(8, 200).Draw(t, "quarters")) / 4, Closed: rapid.Bool().Draw(t, "closed")}
		if extent.Closed && rapid.IntRange(0, 3).Draw(t, "advances") == 0 {
			extent.Gain = float64(rapid.IntRange(-50, 50).Draw(t, "gain"))
		}
		quarters := rapid.SliceOfNDistinct(rapid.IntRange(0, int(extent.Length*4)), 1, 12, rapid.ID).Draw(t, "times")
		slices.Sort(quarters)
		knots := make([]Knot, len(quarters))
		for i, q := range quarters {
			knots[i] = knotAt(float64(q)/4, shapes).Draw(t, "knot")
		}
		return NewCurve(knots, extent)
	})
}

func knotAt(at float64, shapes []Shape) *rapid.Generator[Knot] {
	value := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-400, 400).Draw(t, "hundredths")) / 100 })
	return rapid.Custom(func(t *rapid.T) Knot {
		k := Knot{
			Time: at, Value: value.Draw(t, "value"), Marked: rapid.Bool().Draw(t, "marked"),
			Shape: rapid.SampledFrom(shapes).Draw(t, "shape"),
		}
		if k.Shape == Sloped {
			k.SlopeIn, k.SlopeOut = value.Draw(t, "in"), value.Draw(t, "out")
		}
		if len(shapes) > 1 && rapid.IntRange(0, 4).Draw(t, "eased") == 0 {
			k.Ease = anyEase().Draw(t, "ease")
		}
		return k
	})
}

func anyEase() *rapid.Generator[*Ease] {
	return rapid.Custom(func(t *rapid.T) *Ease {
		x, y := rapid.IntRange(1, 19), rapid.IntRange(-20, 40)
		return &Ease{
			float64(x.Draw(t, "x1")) / 20, float64(y.Draw(t, "y1")) / 20,
			float64(x.Draw(t, "x2")) / 20, float64(y.Draw(t, "y2")) / 20,
		}
	})
}

var everyShape = []Shape{Smooth, Rest, Straight, Stay, Sloped}

// breaks returns the times between 0 and the length at which the curve may have a corner or a step, both ends included.
func breaks(c *Curve) []float64 {
	times := []float64{0, c.Extent().Length}
	for _, k := range c.Knots() {
		times = append(times, k.Time)
	}
	slices.Sort(times)
	return slices.Compact(times)
}

func TestCurvePassesThroughItsKeys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		for i, k := range c.Knots() {
			if c.Extent().Closed && k.Time == c.Extent().Length && i > 0 {
				continue // The closing row tells how the curve arrives.
			}
			assert.InDelta(t, k.Value, c.At(k.Time), 1e-12)
		}
	})
}

func TestCycleRepeatsHigherByItsGain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		if !c.Extent().Closed {
			return
		}
		// Eighths of a frame are exact, so that both sides of a step are told apart.
		at := float64(rapid.IntRange(-4000, 4000).Draw(t, "eighths")) / 8
		rounds := float64(rapid.IntRange(-1000, 1000).Draw(t, "rounds"))
		assert.InDelta(t, c.At(at)+rounds*c.Extent().Gain, c.At(at+rounds*c.Extent().Length), 1e-9)
		left, right := c.Slope(at)
		laterLeft, laterRight := c.Slope(at + rounds*c.Extent().Length)
		assert.InDelta(t, left, laterLeft, 1e-9)
		assert.InDelta(t, right, laterRight, 1e-9)
	})
}

// Where the cycle is cut must not matter: the same keys, all moved round, make the same curve, moved round.
func TestTheSeamIsAPlaceLikeAnyOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		length, gain := c.Extent().Length, c.Extent().Gain
		if !c.Extent().Closed || slices.ContainsFunc(c.Knots(), func(k Knot) bool { return k.Time == length }) {
			return
		}
		shift := float64(rapid.IntRange(0, int(length*4)-1).Draw(t, "quarters")) / 4
		moved := slices.Clone(c.Knots())
		for i := range moved {
			if moved[i].Time += shift; moved[i].Time >= length {
				moved[i].Time -= length
				moved[i].Value -= gain
			}
		}
		slices.SortFunc(moved, func(a, b Knot) int { return int(4*a.Time - 4*b.Time) })
		turned := NewCurve(moved, c.Extent())
		for eighth := range int(length * 8) {
			at := float64(eighth) / 8
			assert.InDelta(t, c.At(at), turned.At(at+shift), 1e-9, "at %v", at)
		}
		assert.InDelta(t, c.PeakSpeed(), turned.PeakSpeed(), 1e-9)
		assert.Len(t, turned.Extrema(), len(c.Extrema()))
		for i, k := range c.Knots() {
			j := slices.IndexFunc(moved, func(m Knot) bool { return m.Time == math.Mod(k.Time+shift, length) })
			assert.Equal(t, c.TurnsAt(i), turned.TurnsAt(j), "turn at %v", k.Time)
		}
	})
}

func TestAWrittenOutClosingRowChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		knots := c.Knots()
		if !c.Extent().Closed || knots[0].Time != 0 || knots[len(knots)-1].Time == c.Extent().Length {
			return
		}
		closing := Knot{Time: c.Extent().Length, Value: knots[0].Value + c.Extent().Gain}
		written := NewCurve(slices.Concat(knots, []Knot{closing}), c.Extent())
		assert.Equal(t, c.Segments(), written.Segments())
		assert.Equal(t, c.Extrema(), written.Extrema())
		assert.False(t, written.TurnsAt(len(knots)), "the closing row is not another key")
		for i := range knots {
			assert.Equal(t, c.TurnsAt(i), written.TurnsAt(i))
		}
	})
}

func TestSlopeIsTheDerivative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		times := breaks(c)
		for i := 1; i < len(times); i++ {
			const step = 1e-5
			at := times[i-1] + (times[i]-times[i-1])*rapid.Float64Range(0.05, 0.95).Draw(t, "share")
			left, right := c.Slope(at)
			assert.Equal(t, left, right)
			assert.InDelta(t, (c.At(at+step)-c.At(at-step))/(2*step), left, 1e-4*(1+c.PeakSpeed()))
		}
	})
}

func TestSampleIsAt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		times := rapid.SliceOf(rapid.Float64Range(-100, 150)).Draw(t, "times")
		if rapid.Bool().Draw(t, "sorted") {
			slices.Sort(times)
		}
		values := make([]float64, len(times))
		c.Sample(values, times)
		for i, at := range times {
			assert.Equal(t, c.At(at), values[i])
		}
	})
}

func TestAtAndSlopeDoNotAllocate(t *testing.T) {
	eased := knot(10, 3, Smooth)
	eased.Ease = &Ease{0.25, 0.1, 0.25, 1}
	c := NewCurve([]Knot{knot(0, 1, Smooth), eased, knot(30, 5, Rest)}, cycle)
	dst, times := make([]float64, 3), []float64{3, 15, 200}
	allocations := testing.AllocsPerRun(100, func() {
		c.At(-77)
		c.At(15)
		c.Slope(10)
		c.Sample(dst, times)
		c.Integral(-3, 99)
		c.PeakSpeed()
		c.TurnsAt(1)
	})
	assert.Zero(t, allocations)
}

// Whatever finite numbers come in, finite numbers go out, and nothing panics.
func TestWildNumbersGiveFiniteAnswers(t *testing.T) {
	number := rapid.OneOf(rapid.Float64Range(-100, 100), rapid.Float64(), rapid.SampledFrom([]float64{
		0, 1e-300, 5e-324, 1e-12, 1e300, -1e300, math.MaxFloat64,
	}))
	rapid.Check(t, func(t *rapid.T) {
		draw := func(label string) float64 { return number.Draw(t, label) }
		knots := make([]Knot, rapid.IntRange(0, 6).Draw(t, "knots"))
		for i := range knots {
			knots[i] = Knot{
				Time: draw("time"), Value: draw("value"), SlopeIn: draw("in"), SlopeOut: draw("out"),
				Shape: rapid.SampledFrom(everyShape).Draw(t, "shape"), Marked: rapid.Bool().Draw(t, "marked"),
			}
			if rapid.Bool().Draw(t, "eased") {
				knots[i].Ease = &Ease{draw("x1"), draw("y1"), draw("x2"), draw("y2")}
			}
		}
		if rapid.Bool().Draw(t, "sorted") {
			slices.SortFunc(knots, func(a, b Knot) int { return int(sign(a.Time - b.Time)) })
		}
		c := NewCurve(knots, Extent{Length: draw("length"), Closed: rapid.Bool().Draw(t, "closed"), Gain: draw("gain")})
		answers := []float64{c.At(draw("t")), c.Integral(draw("a"), draw("b")), c.Mean(), c.PeakSpeed(), c.SeamGap()}
		left, right := c.Slope(draw("t"))
		least, most := c.Range()
		answers = append(answers, left, right, least, most)
		for _, edge := range []Edge{c.Arrive(), c.Leave()} {
			answers = append(answers, edge.Value, edge.Slope, edge.Acceleration)
		}
		for _, e := range c.Extrema() {
			answers = append(answers, e.Time, e.Value)
		}
		for i := range knots {
			c.TurnsAt(i)
			change, at := c.ChangeWithout(i)
			answers = append(answers, change, at)
		}
		for _, s := range slices.Concat(c.Segments(), c.Cubics(math.Inf(1))) {
			answers = append(answers, s.Value0, s.Value1, s.Slope0, s.Slope1, s.Duration)
		}
		for _, v := range answers {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("not finite: %v", answers)
			}
		}
	})
}
