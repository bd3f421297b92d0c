package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestTurnSizes(t *testing.T) {
	for _, c := range []struct {
		name   string
		knots  []Knot
		extent Extent
		want   []float64
	}{
		{"there and back", []Knot{knot(0, 0, Smooth), knot(20, 5, Smooth)}, cycle, []float64{5, 5}},
		{"passed through", []Knot{knot(0, 0, Smooth), knot(10, 2, Smooth), knot(20, 5, Smooth)}, cycle, []float64{5, 0, 5}},
		{"a small hitch on the way", []Knot{knot(0, 0, Smooth), knot(8, 3, Smooth), knot(10, 2.9, Smooth), knot(20, 5, Smooth)}, cycle, []float64{3, 0.1, 0.1, 2.1}},
		{"arrives and stays", []Knot{knot(0, 0, Smooth), knot(10, 5, Smooth), knot(20, 5, Smooth), knot(30, 0, Smooth)}, span, []float64{0, 5, 0, 5}},
		{"the ends of a span", []Knot{knot(0, 0, Smooth), knot(20, 5, Smooth), knot(40, 1, Smooth)}, span, []float64{0, 4, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDeltaSlice(t, c.want, NewCurve(c.knots, c.extent).TurnSizes(), 1e-12)
		})
	}
}
