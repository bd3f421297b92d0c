package motion

import (
	"iter"
	"math"
)

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
	known := c.known.corner.Load()
	if known == nil {
		known = new([2]float64)
		known[0], known[1] = c.findSharpestCorner()
		c.known.corner.Store(known)
	}
	return known[0], known[1]
}

func (c *Curve) findSharpestCorner() (jump, atTime float64) {
	for from, to := range c.meetings() {
		if corner := math.Abs(c.pieces[to].slope(0) - c.pieces[from].slope(1)); corner > jump {
			jump, atTime = corner, c.starts[to]
		}
	}
	return jump, atTime
}

// meetings gives the pieces that meet at each key inside the curve, the one before it and the one behind. The seam is left
// out, and so are the ends of a stay.
func (c *Curve) meetings() iter.Seq2[int, int] {
	return func(yield func(from, to int) bool) {
		for to := range c.pieces {
			from := to - 1
			if to == 0 {
				if !c.extent.Closed || c.starts[0] == 0 {
					continue
				}
				from = len(c.pieces) - 1
			}
			if c.pieces[from].kind != Held && c.pieces[to].kind != Held && !yield(from, to) {
				return
			}
		}
	}
}
