package motion

import "math"

// SeamCorner returns by how much the slope jumps across a cycle's seam, in units per frame: the slope with which the
// curve leaves less the one with which it arrives. It is 0 in a span, and where the curve stays into the seam or out of
// it, which no one writes by accident.
func (c *Curve) SeamCorner() float64 {
	if !c.extent.Closed || c.StaysIntoSeam() || c.pieces[0].kind == Held {
		return 0
	}
	return c.Leave().Slope - c.Arrive().Slope
}

// SharpestCorner returns the greatest jump of the slope at a key, in units per frame, and its time. The seam is left
// out, and so are the ends of a stay.
func (c *Curve) SharpestCorner() (jump, atTime float64) {
	for i := range c.pieces {
		before := i - 1
		if i == 0 {
			if !c.extent.Closed || c.starts[0] == 0 {
				continue
			}
			before = len(c.pieces) - 1
		}
		from, to := &c.pieces[before], &c.pieces[i]
		if from.kind == Held || to.kind == Held {
			continue
		}
		if corner := math.Abs(to.slope(0) - from.slope(1)); corner > jump {
			jump, atTime = corner, c.starts[i]
		}
	}
	return jump, atTime
}
