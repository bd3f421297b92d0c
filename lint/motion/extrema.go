package motion

import (
	"math"
	"slices"
)

// Extremum is a place at which a curve stops rising or stops falling.
type Extremum struct {
	Time  float64 // Frames, within 0 and the extent's length; in a cycle before the length.
	Value float64 // The channel's unit.
	High  bool    // A local maximum; otherwise a local minimum.
}

// Extrema returns every place where the curve turns from rising to falling or back, in rising time: keys, places
// between keys (exactly, by the roots of the slope), and steps. A plateau counts at its start; a step gives
// up to two extrema at one time. In a cycle the seam is a place like any other; in a span the ends, before and after
// which the value stays, are not turns. They are worked out once; the caller must not change them.
func (c *Curve) Extrema() []Extremum {
	if known := c.known.extrema.Load(); known != nil {
		return *known
	}
	extrema := slices.Clip(turnsBetween(c.runs(), c.extent))
	c.known.extrema.Store(&extrema)
	return extrema
}

// turnsBetween gives the places between runs where rising turns to falling or back. The runs reach from 0 to the extent's
// length without a hole.
func turnsBetween(runs []run, extent Extent) []Extremum {
	var extrema []Extremum
	var last run
	if extent.Closed {
		for _, r := range runs {
			if r.direction != 0 {
				last = r
			}
		}
		last.to -= extent.Length
		last.value -= extent.Gain
	}
	for _, r := range runs {
		if r.direction == 0 {
			continue
		}
		if last.direction == -r.direction {
			extrema = append(extrema, Extremum{Time: last.to, Value: last.value, High: last.direction > 0})
		}
		last = r
	}
	if extent.Closed {
		extrema = withinOneRound(extrema, extent)
	}
	return extrema
}

// withinOneRound moves the first extremum a round later when it lies before the seam (a plateau that began there), and
// the last a round earlier when it lies on it, keeping the order in which the curve meets them.
func withinOneRound(extrema []Extremum, extent Extent) []Extremum {
	if len(extrema) == 0 {
		return nil
	}
	if first := extrema[0]; first.Time < 0 {
		first.Time += extent.Length
		first.Value += extent.Gain
		extrema = append(extrema[1:], first)
	}
	if last := extrema[len(extrema)-1]; last.Time >= extent.Length {
		last.Time -= extent.Length
		last.Value -= extent.Gain
		extrema = slices.Insert(extrema[:len(extrema)-1], 0, last)
	}
	return extrema
}

// TurnsAt reports whether the curve turns at knot i, so that an eye sees an accent there: it arrives moving one way and
// leaves the other way or not at all. A knot that is only passed through, with whatever change of speed, is no turn; of
// a plateau of equal keys only the first is one. The closing row of a cycle is not another key beside the one at 0, and
// so never a turn of its own. An index that no knot has is none either.
func (c *Curve) TurnsAt(i int) bool {
	if i < 0 || i >= len(c.knots) || c.hasClosing && i == len(c.knots)-1 {
		return false
	}
	if c.extent.Closed && c.knots[0].Time != c.starts[0] {
		i = (i + 1) % len(c.knots) // The closing row stands at 0, before the others.
	}
	before, value := i-1, c.last
	if c.extent.Closed && i == 0 {
		before = len(c.pieces) - 1
	}
	if before < 0 || before >= len(c.pieces) {
		return false
	}
	out := 0.0
	if i < len(c.pieces) {
		value = c.pieces[i].a
		out = c.pieces[i].firstDirection(c.tolerance)
	}
	if c.extent.Closed && i == 0 {
		value += c.extent.Gain
	}
	in := trend(value-c.pieces[before].at(1), c.tolerance)
	if in == 0 {
		in = c.pieces[before].lastDirection(c.tolerance)
	}
	return in != 0 && in != out
}

// Range returns the least and the greatest value from time 0 to the extent's length, between keys too. They are worked out
// once.
func (c *Curve) Range() (least, most float64) {
	ends := c.known.ends.Load()
	if ends == nil {
		ends = new([2]float64)
		ends[0], ends[1] = c.findRange()
		c.known.ends.Store(ends)
	}
	return ends[0], ends[1]
}

func (c *Curve) findRange() (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	include := func(v float64) {
		least, most = min(least, v), max(most, v)
	}
	include(c.At(0))
	for p := range c.round {
		include(p.value(p.from))
		include(p.value(p.to))
		us, n := p.turns()
		for _, u := range us[:n] {
			if t := p.start + p.offset + u*p.frames; t > p.from && t < p.to {
				include(p.at(u) + p.lift)
			}
		}
	}
	if !c.extent.Closed {
		include(c.At(c.extent.Length))
	}
	return least, most
}

// PeakSpeed returns the greatest size of the slope, in units per frame. Steps have no speed.
func (c *Curve) PeakSpeed() float64 {
	peak := 0.0
	for i := range c.pieces {
		p := &c.pieces[i]
		peak = max(peak, math.Abs(p.slope(0)), math.Abs(p.slope(1)))
		us, n := p.fastest()
		for _, u := range us[:n] {
			peak = max(peak, math.Abs(p.slope(u)))
		}
	}
	return peak
}

// run is a stretch within which the curve only rises, only falls or only stays; a step is one of no length.
type run struct {
	to, value float64 // Where it ends.
	direction float64 // 1, 0 or -1.
}

// runs cuts the curve from 0 to the extent's length where it may turn.
func (c *Curve) runs() []run {
	runs := make([]run, 0, 2*len(c.pieces)+2)
	value, began := 0.0, false
	reach := func(t, v float64) {
		if began {
			runs = append(runs, run{to: t, value: v, direction: trend(v-value, c.tolerance)})
		}
		value, began = v, true
	}
	for p := range c.round {
		reach(p.from, p.value(p.from))
		us, n := p.turns()
		for _, u := range us[:n] {
			if t := p.start + p.offset + u*p.frames; t > p.from && t < p.to {
				reach(t, p.at(u)+p.lift)
			}
		}
		reach(p.to, p.value(p.to))
	}
	if c.extent.Closed {
		reach(c.extent.Length, c.At(0)+c.extent.Gain)
	} else {
		reach(c.extent.Length, c.At(c.extent.Length))
	}
	return runs
}

// firstDirection returns which way the curve sets out. A stretch too short for rounding to tell is passed over.
func (p *piece) firstDirection(tolerance float64) float64 {
	from := 0.0
	us, n := p.turns()
	for _, u := range us[:n] {
		if way := trend(p.at(u)-p.at(from), tolerance); way != 0 {
			return way
		}
		from = u
	}
	return trend(p.at(1)-p.at(from), tolerance)
}

// lastDirection returns which way the curve comes in, as firstDirection does.
func (p *piece) lastDirection(tolerance float64) float64 {
	to := 1.0
	us, n := p.turns()
	for _, u := range slices.Backward(us[:n]) {
		if way := trend(p.at(to)-p.at(u), tolerance); way != 0 {
			return way
		}
		to = u
	}
	return trend(p.at(to)-p.at(0), tolerance)
}

func trend(change, tolerance float64) float64 {
	if math.Abs(change) <= tolerance {
		return 0
	}
	return sign(change)
}
