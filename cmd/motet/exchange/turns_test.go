package exchange

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	gonum "gonum.org/v1/gonum/num/quat"
	"pgregory.net/rapid"
)

func drawAngles(r *rapid.T, limit float64) vec3 {
	draw := rapid.Float64Range(-limit, limit)
	return vec3{draw.Draw(r, "x"), draw.Draw(r, "y"), draw.Draw(r, "z")}
}

// Turns by all six orders equal the product of gonum's quaternions about the axes, and
// taking a turn apart and putting it together is nothing, 1e-12 (the figure of the
// project's list of checks).
func TestOrdersAgreeWithGonum(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		angles := drawAngles(r, 720)
		for _, o := range orders() {
			want := gonum.Number{Real: 1}
			for _, axis := range o {
				v := aboutAxis(axis, angles[axis])
				want = gonum.Mul(want, gonum.Number{Imag: v[0], Jmag: v[1], Kmag: v[2], Real: v[3]})
			}
			got := o.quat(angles)
			assert.InDeltaSlice(t, components4(want), got[:], 1e-12, "%s", o)
			assert.InDelta(t, 0, o.quat(o.angles(got)).angleTo(got), 1e-6, "%s apart and together", o)
			assert.InDelta(t, 0, o.quat(o.other(o.angles(got))).angleTo(got), 1e-6, "%s the other way", o)
			assert.LessOrEqual(t, math.Abs(o.angles(got)[o[1]]), 90.0)
		}
	})
}

// A joint that swings through 170° both ways and turns whole rounds has no jump in it.
func TestUnrollHasNoJump(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		size, offset := drawAngles(r, 170), drawAngles(r, 180)
		o := rapid.SampledFrom(orders()).Draw(r, "order")
		// The middle turn keeps away from lock, where no angles are continuous.
		size[o[1]], offset[o[1]] = size[o[1]]/4, offset[o[1]]/6
		var path []transform
		for k := range 241 {
			angles := offset.plus(size.times(math.Sin(2 * math.Pi * float64(k) / 240)))
			path = append(path, transform{turn: o.quat(angles)})
		}
		angles := o.unroll(path)
		for k := 1; k < len(angles); k++ {
			assert.Less(t, angles[k].to(angles[k-1]), 12.0)
			assert.InDelta(t, 0, o.quat(angles[k]).angleTo(path[k].turn), 1e-5)
		}
		assert.Less(t, angles[0].to(angles[240]), 1e-6, "the loop closes on its own branch")
	})
}

// A joint that turns about y through 90° would lock in the default order, whose middle
// turn is about y.
func TestSafestOrderLeavesLock(t *testing.T) {
	sweep := func(axis int, from, to float64) (path []transform) {
		for k := range 41 {
			v := aboutAxis(axis, from+(to-from)*float64(k)/40)
			path = append(path, transform{turn: quat(v)})
		}
		return path
	}
	for axis, locked := range map[int][]string{1: {"xyz", "zyx"}, 0: {"yxz", "zxy"}, 2: {"xzy", "yzx"}} {
		o, margin := safestOrder(sweep(axis, 60, 120))
		assert.NotContains(t, locked, o.String())
		assert.Equal(t, float64(safeMargin), margin)
	}
	o, _ := safestOrder(sweep(1, -20, 20))
	assert.Equal(t, "xyz", o.String(), "the default stays where it is safe")
	// A left and a right joint share an order that suits both.
	o, _ = safestOrder(sweep(1, -80, -100), sweep(2, 80, 100))
	assert.Equal(t, 0, o[1], "the middle turn is about the third axis, but it is %s", o)
}

func TestAnglesBetween(t *testing.T) {
	for _, deg := range []float64{0, 1e-6, 0.001, 0.25, 1, 90, 179, 180} {
		q := quat(aboutAxis(2, deg))
		assert.InDelta(t, deg, quat{0, 0, 0, 1}.angleTo(q), 1e-9)
		assert.InDelta(t, deg, quat{0, 0, 0, -1}.angleTo(q), 1e-9)
		assert.InDelta(t, deg, turnVector(quat{0, 0, 0, 1}, q).length(), 1e-9)
	}
}
