package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

// Source: Gauss-Legendre quadrature of gonum, between the places where the curve may have a corner.
func TestIntegralAgainstQuadrature(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(everyShape...).Draw(t, "curve")
		length := c.Extent().Length
		times := breaks(c)
		area := 0.0
		for i := 1; i < len(times); i++ {
			from, to := times[i-1], times[i]
			area += quad.Fixed(c.At, from, to, 200, quad.Legendre{}, 1)
			part := from + (to-from)*rapid.Float64Range(0, 1).Draw(t, "share")
			assert.InDelta(t, quad.Fixed(c.At, from, part, 200, quad.Legendre{}, 1), c.Integral(from, part), 1e-4*(1+length))
		}
		assert.InDelta(t, area, c.Integral(0, length), 1e-4*(1+length))
		assert.InDelta(t, area/length, c.Mean(), 1e-4)

		a := rapid.Float64Range(-3*length, 3*length).Draw(t, "a")
		b := rapid.Float64Range(-3*length, 3*length).Draw(t, "b")
		m := rapid.Float64Range(-3*length, 3*length).Draw(t, "m")
		slack := 1e-9 * (1 + 100*length)
		assert.InDelta(t, c.Integral(a, b), c.Integral(a, m)+c.Integral(m, b), slack)
		assert.InDelta(t, -c.Integral(b, a), c.Integral(a, b), slack)
		if c.Extent().Closed {
			assert.InDelta(t, c.Integral(a, b)+(b-a)*c.Extent().Gain, c.Integral(a+length, b+length), slack)
		}
	})
}
