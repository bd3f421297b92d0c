package motion

// Integral returns the area under the curve from time a to time b, in units × frames, exactly but for rounding; for
// b before a it is the area from b to a, negated.
func (c *Curve) Integral(a, b float64) float64 {
	return c.areaUntil(tame(b)) - c.areaUntil(tame(a))
}

// Mean returns the mean value from time 0 to the extent's length.
func (c *Curve) Mean() float64 {
	if c.extent.Length == 0 {
		return c.At(0)
	}
	return c.Integral(0, c.extent.Length) / c.extent.Length
}

// areaUntil returns the area from the first key to t.
func (c *Curve) areaUntil(t float64) float64 {
	if !c.extent.Closed {
		switch {
		case t <= c.starts[0]:
			return (t - c.starts[0]) * c.pieces[0].a
		case t > c.end:
			return c.areaWithin(c.end) + (t-c.end)*c.last
		}
		return c.areaWithin(t)
	}
	local, rounds := c.wrap(t)
	area := c.areaWithin(local)
	if rounds != 0 {
		// Each whole round adds one round's area and, over its length, what the rounds before it gained.
		gain := c.extent.Gain
		area += rounds * c.areaWithin(c.end)
		area += rounds * gain * (c.extent.Length*(rounds-1)/2 + local - c.starts[0])
	}
	return area
}

// areaWithin returns the area from the first key to t within the pieces.
func (c *Curve) areaWithin(t float64) float64 {
	area := 0.0
	for i := range c.pieces {
		p := &c.pieces[i]
		if t <= p.start+p.frames {
			return area + p.integral(max(t-p.start, 0)*p.perFrame)
		}
		area += p.integral(1)
	}
	return area
}
