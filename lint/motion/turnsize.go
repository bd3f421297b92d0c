package motion

import (
	"math"
	"sort"
)

// TurnSizes returns, for each knot at which the curve turns (see [Curve.TurnsAt]), how far it goes there: the smaller of
// the ways from the turn before and to the turn behind it, in the channel's unit, or only the former where the curve then
// stays. It is 0 for a knot at which the curve does not turn, and for the ends of a span. They are worked out once; the caller
// must not change them.
func (c *Curve) TurnSizes() []float64 {
	if known := c.known.sizes.Load(); known != nil {
		return *known
	}
	sizes := c.findTurnSizes()
	c.known.sizes.Store(&sizes)
	return sizes
}

func (c *Curve) findTurnSizes() []float64 {
	sizes := make([]float64, len(c.knots))
	turns := c.Extrema()
	for i := range c.knots {
		if !c.TurnsAt(i) {
			continue
		}
		t, value := c.knots[i].Time, c.knots[i].Value
		sizes[i] = math.Abs(value - c.turnBefore(turns, t))
		if _, leaves := c.Slope(t); leaves != 0 || !c.staysFrom(i) {
			sizes[i] = min(sizes[i], math.Abs(c.turnAfter(turns, t)-value))
		}
	}
	return sizes
}

// staysFrom tells whether the curve keeps knot i's value up to the next knot.
func (c *Curve) staysFrom(i int) bool {
	next := (i + 1) % len(c.knots)
	lift := 0.0
	if next == 0 {
		lift = c.extent.Gain
	}
	return c.knots[i].Shape == Stay || math.Abs(c.knots[next].Value+lift-c.knots[i].Value) <= c.tolerance
}

// turnBefore gives the curve's value at the last turn before a time, round the seam in a cycle; in a span at its start
// where none is left.
func (c *Curve) turnBefore(turns []Extremum, t float64) float64 {
	at := sort.Search(len(turns), func(i int) bool { return turns[i].Time >= t-closest })
	switch {
	case at > 0:
		return turns[at-1].Value
	case c.extent.Closed && len(turns) > 0:
		return turns[len(turns)-1].Value - c.extent.Gain
	}
	return c.At(0)
}

// turnAfter gives the curve's value at the next turn after a time, as turnBefore does.
func (c *Curve) turnAfter(turns []Extremum, t float64) float64 {
	at := sort.Search(len(turns), func(i int) bool { return turns[i].Time > t+closest })
	switch {
	case at < len(turns):
		return turns[at].Value
	case c.extent.Closed && len(turns) > 0:
		return turns[0].Value + c.extent.Gain
	}
	return c.At(c.extent.Length)
}
