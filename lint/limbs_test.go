package lint

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/motet-sheet/motet/lint/motion"
)

// TestStillFor counts by hand the frames from one on in which no signal moves by its share.
func TestStillFor(t *testing.T) {
	eyes, lids := []float64{0, 1, 2, 9, 9, 9}, []float64{5, 5, 5, 5, 5, 40}
	for _, c := range []struct {
		name   string
		from   int
		closed bool
		want   int
	}{
		{"the eyes go at frame 3", 0, false, 2},
		{"the lids go at frame 5", 3, false, 1},
		{"to the end of a span", 5, false, 0},
		{"the lids go back over the seam", 5, true, 0},
		{"both in a cycle", 4, true, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, stillFor([][]float64{eyes, lids}, []float64{5, 10}, c.from, c.closed))
		})
	}
	assert.Equal(t, 12, stillFor([][]float64{{1, 2, 1, 2, 1, 2}}, []float64{5}, 0, true), "two rounds, and none moves")
}

// TestLikeness holds the correlation of limbs to what trigonometry gives: of two sines a phase apart it is the phase's
// cosine, and 1 where the second is played so much earlier.
func TestLikeness(t *testing.T) {
	const frames, late = 72, 6
	sine := func(size, phase float64) keyed {
		k := keyed{values: make([]float64, frames)}
		for i := range k.values {
			k.values[i] = size * math.Sin(2*math.Pi*(float64(i)-phase)/frames)
			k.square += k.values[i] * k.values[i]
		}
		return k
	}
	a, b := []keyed{sine(3, 0), sine(1, 10)}, []keyed{sine(6, late), sine(2, 10+late)}
	assert.InDelta(t, math.Cos(2*math.Pi*late/frames), likeness(a, b, 0), 1e-12)
	assert.InDelta(t, 1, likeness(a, b, late), 1e-12)
	assert.InDelta(t, -1, likeness(a, b, late+frames/2), 1e-12)
	assert.Zero(t, likeness(a, []keyed{{values: make([]float64, frames)}, {values: make([]float64, frames)}}, 0), "what stays still is like nothing")
	assert.Equal(t, 0, strongest(a))
	// A sine of height 3 goes up and down by 12 a round, less the last of 72 steps, whose length is that of its slope at 0.
	assert.InDelta(t, 12-3*2*math.Pi/frames, pathOf(a[:1]), 0.01)
}

// TestAlongside compares axes of joints that are turned at rest.
func TestAlongside(t *testing.T) {
	turned := func(degrees float64) *motion.Transform {
		m := motion.TurnMatrix("xyz", [3]float64{0, 0, degrees})
		var t motion.Transform
		copy(t[:], m[:])
		return &t
	}
	for _, c := range []struct{ degrees, x, z float64 }{{0, 1, 1}, {44, 1, 1}, {46, 0, 1}, {134, 0, 1}, {136, -1, 1}, {180, -1, 1}} {
		assert.Equal(t, c.x, alongside(turned(0), turned(c.degrees), 0), c.degrees)
		assert.Equal(t, c.z, alongside(turned(0), turned(c.degrees), 2), c.degrees)
	}
}

// TestCalmOrder puts the axis that stays farthest from a right angle in the middle.
func TestCalmOrder(t *testing.T) {
	assert.Equal(t, "yxz", calmOrder([3]float64{-5, -80, -20}, [3]float64{5, 88, 30}))
	assert.Equal(t, "xyz", calmOrder([3]float64{-85, -1, -20}, [3]float64{5, 8, 30}))
	assert.Equal(t, "xzy", calmOrder([3]float64{-85, -88, -20}, [3]float64{5, 8, 30}))
}
