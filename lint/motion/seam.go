package motion

// Edge is what a curve does at one end of its time, on the inside of it.
type Edge struct {
	Value        float64 // The channel's unit.
	Slope        float64 // Units per frame.
	Acceleration float64 // Units per frame, per frame.
}

// Leave returns how the curve sets out from time 0.
func (c *Curve) Leave() Edge {
	if !c.extent.Closed {
		if c.starts[0] > 0 || c.end == c.starts[0] {
			return Edge{Value: c.pieces[0].a}
		}
		return c.pieces[0].edge(0)
	}
	local, rounds := c.wrap(0)
	p := &c.pieces[c.find(local)]
	edge := p.edge((local - p.start) * p.perFrame)
	edge.Value += rounds * c.extent.Gain
	return edge
}

// Arrive returns how the curve comes to its end, at the extent's length. Where a cycle stays into the seam that is the
// value that it holds until then; a span arrives at its last key's value.
func (c *Curve) Arrive() Edge {
	p := &c.pieces[len(c.pieces)-1]
	switch {
	case !c.extent.Closed && (c.end < c.extent.Length || c.end == c.starts[0]):
		return Edge{Value: c.last}
	case !c.extent.Closed:
		edge := p.edge(1)
		edge.Value = c.last
		return edge
	case c.starts[0] > 0:
		edge := c.Leave() // The seam lies within a segment.
		edge.Value += c.extent.Gain
		return edge
	}
	return p.edge(1)
}

// StaysIntoSeam reports a cycle that holds a value up to its end: it may step there.
func (c *Curve) StaysIntoSeam() bool {
	return c.extent.Closed && c.pieces[len(c.pieces)-1].kind == Held
}

// SeamGap returns by how much a cycle's value at its end is over its value at its start, less what it gains a round; 0
// for a span, and for a curve that stays into the seam.
func (c *Curve) SeamGap() float64 {
	if !c.extent.Closed || c.StaysIntoSeam() {
		return 0
	}
	return c.Arrive().Value - c.Leave().Value - c.extent.Gain
}

func (p *piece) edge(u float64) Edge {
	return Edge{Value: p.at(u), Slope: p.slope(u), Acceleration: p.acceleration(u)}
}
