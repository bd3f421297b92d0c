package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSeamCorner(t *testing.T) {
	for _, c := range []struct {
		name  string
		knots []Knot
		want  float64
	}{
		{"smooth round the seam", []Knot{knot(0, 2, Smooth), knot(10, 5, Smooth), knot(30, -1, Smooth)}, 0},
		{"leaves straight, arrives by the points", []Knot{knot(0, 0, Straight), knot(20, 10, Rest)}, 0.5},
		{"two marks that disagree", []Knot{sloped(0, 0, 1, 1), knot(20, 3, Smooth), sloped(40, 0, -2, -2)}, 3},
		{"one mark with two slopes", []Knot{sloped(0, 0, -2, 1), knot(20, 3, Smooth)}, 3},
		{"stays into the seam", []Knot{knot(0, 0, Straight), knot(20, 3, Stay)}, 0},
		{"stays out of it", []Knot{knot(0, 0, Stay), knot(20, 3, Straight)}, 0},
		{"the seam lies within a segment", []Knot{knot(10, 0, Straight), knot(20, 3, Straight)}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, c.want, NewCurve(c.knots, cycle).SeamCorner(), 1e-12)
		})
	}
	assert.Zero(t, NewCurve([]Knot{knot(0, 0, Straight), knot(20, 10, Rest)}, span).SeamCorner())
}

func TestSharpestCornerLeavesTheSeamOut(t *testing.T) {
	// Straight lines 0 to 10 in 10 frames, back in 30: slopes 1 and -1/3, so both corners are 4/3, one at the seam.
	jump, at := NewCurve([]Knot{knot(0, 0, Straight), knot(10, 10, Straight)}, cycle).SharpestCorner()
	assert.InDelta(t, 4.0/3, jump, 1e-12)
	assert.Equal(t, 10.0, at)

	jump, _ = NewCurve([]Knot{knot(0, 0, Straight), knot(20, 10, Rest)}, cycle).SharpestCorner()
	assert.InDelta(t, 0.5, jump, 1e-12) // 20 frames for 10, into a rest

	jump, _ = NewCurve([]Knot{knot(0, 0, Straight), knot(20, 10, Stay)}, cycle).SharpestCorner()
	assert.Zero(t, jump, "the ends of a stay are left out")
}
