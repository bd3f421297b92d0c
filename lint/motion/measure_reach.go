package motion

import "math"

// Reach returns the least and the greatest value of a channel as it plays from 0 to the length, between keys too, each
// with the first moment at which it is reached. What an advance adds in later rounds is left out. The motion is whole.
// It is as exact as [Motion.Extrema].
func (m *Motion) Reach(channel int) (least, most Extremum) {
	c := &m.Channels[channel]
	length := m.Sheet.Length.Float()
	if c.Base == nil || len(c.Follows)+len(c.Waves)+len(c.over) > 0 {
		if !c.Moves() {
			return Extremum{Value: c.Dial.Rest}, Extremum{Value: c.Dial.Rest, High: true}
		}
		p := m.played(channel)
		return reachOf(p.runs(), p.steps[0].start)
	}
	least, most = reachOf(c.Base.Curve.runs(), c.Base.Curve.At(0))
	for _, e := range []*Extremum{&least, &most} {
		if e.Time += c.Late.Float(); m.Sheet.Closed {
			e.Time = wrapTime(e.Time, length)
		}
	}
	return least, most
}

// reachOf is the least and the greatest value that runs come to, from a value at 0 on.
func reachOf(runs []run, start float64) (least, most Extremum) {
	least, most = Extremum{Value: start}, Extremum{Value: start, High: true}
	for _, r := range runs {
		if r.value < least.Value {
			least.Time, least.Value = r.to, r.value
		}
		if r.value > most.Value {
			most.Time, most.Value = r.to, r.value
		}
	}
	return least, most
}

// Bulge is by how much a cubic leaves the span of its two values, in the curve's unit, above it more than 0 and below it
// less, and the frame at which it is farthest outside; 0 for one that stays inside, and for every other kind of segment,
// whose shape is asked for by name.
func (s *Segment) Bulge() (by, atFrame float64) {
	if s.Kind != Cubic {
		return 0, 0
	}
	p := hermite(s.Start, s.Duration, s.Value0, s.Slope0, s.Value1, s.Slope1)
	low, high := min(s.Value0, s.Value1), max(s.Value0, s.Value1)
	us, n := p.turns()
	for _, u := range us[:n] {
		outside := p.at(u) - min(max(p.at(u), low), high)
		if math.Abs(outside) > math.Abs(by) {
			by, atFrame = outside, s.Start+u*s.Duration
		}
	}
	return by, atFrame
}
