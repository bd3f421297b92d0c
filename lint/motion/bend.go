package motion

import "math"

// SeamBend returns by how much the acceleration jumps across a cycle's seam, in units per frame, per frame: that with
// which the curve leaves less that with which it arrives. It is 0 in a span, where the seam lies within a segment, and
// where the curve stays into the seam or out of it.
func (c *Curve) SeamBend() float64 {
	if !c.extent.Closed || c.StaysIntoSeam() || c.pieces[0].kind == Held {
		return 0
	}
	return c.Leave().Acceleration - c.Arrive().Acceleration
}

// SharpestBend returns the greatest jump of the acceleration at a key, in units per frame, per frame. The seam is left
// out, and so are the ends of a stay.
func (c *Curve) SharpestBend() float64 {
	sharpest := 0.0
	for from, to := range c.meetings() {
		sharpest = max(sharpest, math.Abs(c.pieces[to].acceleration(0)-c.pieces[from].acceleration(1)))
	}
	return sharpest
}

// PeakAcceleration returns the greatest size of the acceleration, in units per frame, per frame. A cubic has it at one of
// its ends; an easing is looked at in 32 steps.
func (c *Curve) PeakAcceleration() float64 {
	peak := 0.0
	for i := range c.pieces {
		p := &c.pieces[i]
		steps := 1
		if p.ease != nil {
			steps = 32
		}
		for k := range steps + 1 {
			peak = max(peak, math.Abs(p.acceleration(float64(k)/float64(steps))))
		}
	}
	return peak
}
