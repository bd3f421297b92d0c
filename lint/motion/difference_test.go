package motion

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestMaxDifference(t *testing.T) {
	flat := Constant(0, span)
	// 10u(1-u)(1-2u), as in TestExtrema, is furthest from 0 at its turns.
	swing := NewCurve([]Knot{sloped(10, 0, 0, 1), sloped(20, 0, 1, 0)}, span)
	difference, at := MaxDifference(swing, flat)
	assert.InDelta(t, 10*math.Sqrt(3)/18, difference, 1e-12)
	assert.InDelta(t, 10*(1.5-math.Sqrt(3)/6), at, 1e-9)

	// A step of 5 that comes 3 frames late.
	early := NewCurve([]Knot{knot(0, 0, Stay), knot(10, 5, Stay)}, cycle)
	late := NewCurve([]Knot{knot(0, 0, Stay), knot(13, 5, Stay)}, cycle)
	difference, at = MaxDifference(early, late)
	assert.Equal(t, 5.0, difference)
	assert.Equal(t, 10.0, at)

	// The easing 0.5,-0.5,0.5,1.5 against the rest value, as in TestExtrema.
	eased := knot(0, 0, Smooth)
	eased.Ease = &Ease{0.5, -0.5, 0.5, 1.5}
	over := NewCurve([]Knot{eased, knot(20, 10, Smooth)}, span)
	difference, at = MaxDifference(over, flat)
	assert.InDelta(t, easedExtrema()[1].Value, difference, 1e-9)
	assert.InDelta(t, easedExtrema()[1].Time, at, 1e-4)

	// The last key of a span stands alone after a stay.
	difference, at = MaxDifference(NewCurve([]Knot{knot(0, 0, Stay), knot(40, 5, Smooth)}, span), flat)
	assert.Equal(t, 5.0, difference)
	assert.Equal(t, 40.0, at)
}

func TestMaxDifferenceIsTheGreatestOfAllSamples(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := curveOf(everyShape...).Draw(t, "a")
		// Moved and reshaped keys in the same extent.
		knots := slices.Clone(a.Knots())
		i := rapid.IntRange(0, len(knots)-1).Draw(t, "i")
		knots[i] = knotAt(knots[i].Time, everyShape).Draw(t, "knot")
		b := NewCurve(knots, a.Extent())
		difference, at := MaxDifference(a, b)
		length := a.Extent().Length
		greatest := 0.0
		const steps = 2000
		for i := range steps + 1 {
			t := length * float64(i) / steps
			greatest = max(greatest, math.Abs(a.At(t)-b.At(t)))
		}
		slack := 1e-9 * (1 + greatest)
		assert.GreaterOrEqual(t, difference, greatest-slack-0.002*(1+greatest))
		assert.InDelta(t, greatest, difference, slack+(a.PeakSpeed()+b.PeakSpeed())*length/steps)
		before, after := math.Abs(a.At(at-1e-9)-b.At(at-1e-9)), math.Abs(a.At(at)-b.At(at))
		assert.InDelta(t, difference, max(before, after), 1e-6*(1+difference), "at %v", at)
		same, _ := MaxDifference(a, a)
		assert.Zero(t, same)
		back, _ := MaxDifference(b, a)
		assert.InDelta(t, difference, back, slack)
	})
}

func TestWithout(t *testing.T) {
	// A straight line's middle key is spare; the top of a hill is not.
	line := NewCurve([]Knot{knot(0, 0, Smooth), knot(10, 1, Smooth), knot(20, 2, Smooth), knot(30, 3, Smooth)}, span)
	change, _ := line.ChangeWithout(1)
	assert.InDelta(t, 0, change, 1e-12)
	hill := NewCurve([]Knot{knot(0, 0, Smooth), knot(10, 5, Smooth), knot(20, 0, Smooth)}, span)
	change, at := hill.ChangeWithout(1)
	assert.Equal(t, 5.0, change)
	assert.Equal(t, 10.0, at)

	only := NewCurve([]Knot{knot(5, 2, Smooth)}, cycle)
	assert.Same(t, only, only.Without(0), "the only key stays")
	assert.Same(t, line, line.Without(-1))
	assert.Same(t, line, line.Without(4))
}

func TestChangeWithoutIsMaxDifference(t *testing.T) {
	many := rapid.Custom(func(t *rapid.T) *Curve {
		knots := make([]Knot, rapid.IntRange(8, 16).Draw(t, "count"))
		for i := range knots {
			knots[i] = knotAt(float64(i*i+i)/4, everyShape).Draw(t, "knot")
		}
		length := knots[len(knots)-1].Time + float64(rapid.IntRange(0, 3).Draw(t, "rest"))
		return NewCurve(knots, Extent{Length: length, Closed: rapid.Bool().Draw(t, "closed")})
	})
	rapid.Check(t, func(t *rapid.T) {
		c := many.Draw(t, "curve")
		for i := range c.Knots() {
			want, _ := MaxDifference(c, c.Without(i))
			got, _ := c.ChangeWithout(i)
			assert.InDelta(t, want, got, 1e-9, "knot %d", i)
		}
	})
}
