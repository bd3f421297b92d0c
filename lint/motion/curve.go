package motion

import (
	"math"
	"slices"
	"sync/atomic"
)

// Shape says how a curve passes through one of its keys: the shape marks of a track's cells.
type Shape uint8

// The shapes, each with the mark that writes it.
const (
	Smooth   Shape = iota // None or `~`: the monotone slope of M. Steffen, see [steffenSlope].
	Rest                  // `^`: slope zero on both sides.
	Straight              // `>`: a straight line to the next key.
	Stay                  // `=`: this value until the next key.
	Sloped                // `@`: the slopes written in the key.
)

// Knot is one key of one channel, ready for arithmetic: time in frames, value in the channel's unit.
type Knot struct {
	Time, Value       float64
	Shape             Shape
	SlopeIn, SlopeOut float64 // Units per frame, arriving and leaving; read for Sloped only.
	Marked            bool    // An explicit mark was written, `~` included.
	Ease              *Ease   // How the segment that leaves this knot runs; nil for its shape's own way.
}

func (k Knot) marked() bool { return k.Marked || k.Shape != Smooth }

// Extent is the time that a curve covers.
type Extent struct {
	Length float64 // Frames, above 0.
	Closed bool    // A cycle, whose end is its start; false for a span, which plays once.
	Gain   float64 // What a cycle's value gains every round, in the channel's unit; 0 unless it advances.
}

// Curve is the value of one channel over all time. It never changes after it is made, so it can be shared freely, and
// it answers every finite question with a finite number.
//
// A cycle repeats with period [Extent.Length], higher by [Extent.Gain] each round. A span keeps its first value before
// its first key and its last value after its last.
type Curve struct {
	extent     Extent
	knots      []Knot // As given, in rising time; what indices in questions count.
	hasSlopes  bool   // Some knot is Sloped.
	hasClosing bool   // The last of knots is a cycle's closing row beside another row at 0.
	starts     []float64
	pieces     []piece // In time order without a hole; in a cycle exactly one round, from the first key.
	end        float64 // Frames; where the last piece ends.
	last       float64 // Where a span's value stays after its end.
	tolerance  float64 // The change of value below which rounding can't tell moving from staying.
	known      measured
}

// measured is what was worked out about a curve, each nil until somebody asks.
type measured struct {
	extrema atomic.Pointer[[]Extremum]
	sizes   atomic.Pointer[[]float64]  // of turns
	ends    atomic.Pointer[[2]float64] // the range
	corner  atomic.Pointer[[2]float64] // the sharpest, and its time
	losses  atomic.Pointer[losses]     // what each knot's going alone would change
	before  atomic.Pointer[Curve]      // an earlier version, whose losses may serve again; forgotten once they have
}

// Within these limits no product that a curve's arithmetic forms can overflow; no motion comes near them.
const (
	largest = 1e50 // Frames, or the channel's unit.
	closest = 1e-9 // Frames.
)

// NewCurve builds the curve through knots, which are in rising time within 0 and the extent's length.
//
// In a cycle a knot at exactly the length is the closing row: it gives the value and slope with which the curve arrives
// at the seam, and the first row those with which it leaves; of the two an unmarked one takes the other's mark, and an
// ease on the closing row counts for a first row without one. When no row stands at 0 the closing row stands there too.
// Without a closing row the last segment runs to the first knot of the next round.
//
// A single knot makes a constant, no knots the constant 0. The caller's slice is copied. So that no later question can
// fail, knots outside the extent are left out, one at (or within 10⁻⁹ frames of) the time of the one before replaces
// it, values and slopes are held within ±10⁵⁰, and what is not a number counts as 0.
func NewCurve(knots []Knot, extent Extent) *Curve {
	extent.Length, extent.Gain = tame(extent.Length), tame(extent.Gain)
	if extent.Length <= closest {
		extent.Length, extent.Closed = 0, false
	}
	if !extent.Closed {
		extent.Gain = 0
	}
	c := &Curve{extent: extent, knots: tameKnots(knots, extent)}
	c.hasSlopes = slices.ContainsFunc(c.knots, func(k Knot) bool { return k.Shape == Sloped })
	c.build()
	return c
}

// Constant returns the curve that is v at all times.
func Constant(v float64, extent Extent) *Curve {
	extent.Gain = 0
	return NewCurve([]Knot{{Value: v}}, extent)
}

// Knots returns the knots that the curve was built from, for reading only: marks taken over at the seam are not in it.
func (c *Curve) Knots() []Knot { return c.knots }

// HasSlopes tells whether a knot has slopes of its own.
func (c *Curve) HasSlopes() bool { return c.hasSlopes }

// Extent returns the time that the curve covers.
func (c *Curve) Extent() Extent { return c.extent }

// At returns the value at time t in frames, any t. Where the curve steps, it is the value after the step.
func (c *Curve) At(t float64) float64 {
	if c.extent.Closed {
		local, rounds := c.wrap(t)
		p := &c.pieces[c.find(local)]
		return p.at((local-p.start)*p.perFrame) + rounds*c.extent.Gain
	}
	if !(t < c.end) {
		return c.last
	}
	if t <= c.starts[0] {
		return c.pieces[0].a
	}
	p := &c.pieces[c.find(t)]
	return p.at((t - p.start) * p.perFrame)
}

// Slope returns the slopes on both sides of time t, in units per frame. They differ only at a key. A step has no slope:
// each side tells of its own piece. Where an easing is vertical the slope is held at a million times the segment's own.
func (c *Curve) Slope(t float64) (left, right float64) {
	if !c.extent.Closed && !(t >= c.starts[0] && t <= c.end) {
		return 0, 0
	}
	local := t
	if c.extent.Closed {
		local, _ = c.wrap(t)
	}
	i := c.find(local)
	p := &c.pieces[i]
	switch {
	case local > p.start && local < c.end:
		left = p.slope((local - p.start) * p.perFrame)
		return left, left
	case local >= c.end: // Only in a span: the value stays after its end.
		return p.slope(1), 0
	case i > 0:
		left = c.pieces[i-1].slope(1)
	case c.extent.Closed:
		left = c.pieces[len(c.pieces)-1].slope(1)
	}
	return left, p.slope(0)
}

// Sample writes the values at times, in frames, into dst, as far as both go. It takes one pass over the segments while
// times rise within one round, and a search at each time that goes back.
func (c *Curve) Sample(dst, times []float64) {
	i := 0
	for k := range min(len(dst), len(times)) {
		t, lift := times[k], 0.0
		if c.extent.Closed {
			var rounds float64
			t, rounds = c.wrap(t)
			lift = rounds * c.extent.Gain
		} else if !(t > c.starts[0] && t < c.end) {
			dst[k] = c.At(t)
			continue
		}
		if t < c.starts[i] {
			i = c.find(t)
		}
		for i+1 < len(c.starts) && c.starts[i+1] <= t {
			i++
		}
		p := &c.pieces[i]
		dst[k] = p.at((t-p.start)*p.perFrame) + lift
	}
}

// wrap brings t into the round that the pieces cover, and tells how many rounds later t is.
func (c *Curve) wrap(t float64) (local, rounds float64) {
	origin := c.starts[0]
	if t >= origin && t < c.end {
		return t, 0
	}
	t = tame(t)
	local = origin + remainder(t-origin, c.extent.Length)
	rounds = math.Round((t - local) / c.extent.Length)
	// Rounding in the sum may land on the end itself, which is the start of the next round.
	if local >= c.end {
		local -= c.extent.Length
		rounds++
	}
	return max(local, origin), rounds
}

// find returns the index of the piece that covers t, which is not before the first.
func (c *Curve) find(t float64) int {
	low, high := 0, len(c.starts)
	for high-low > 1 {
		middle := int(uint(low+high) >> 1)
		if c.starts[middle] <= t {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// tameKnots copies what NewCurve can use of knots.
func tameKnots(knots []Knot, extent Extent) []Knot {
	tamed := make([]Knot, 0, len(knots))
	for _, k := range knots {
		k.Time, k.Value = tame(k.Time), tame(k.Value)
		k.SlopeIn, k.SlopeOut = tame(k.SlopeIn), tame(k.SlopeOut)
		if k.Ease != nil {
			ease := k.Ease.tamed()
			k.Ease = &ease
		}
		k.Time = snap(k.Time, extent.Length)
		if k.Time < 0 || extent.Length > 0 && k.Time > extent.Length {
			continue
		}
		if n := len(tamed); n > 0 && k.Time-tamed[n-1].Time < closest {
			if k.Time >= tamed[n-1].Time {
				tamed[n-1] = k
			}
			continue
		}
		tamed = append(tamed, k)
	}
	if len(tamed) == 0 {
		tamed = append(tamed, Knot{})
	}
	return slices.Clip(tamed)
}

// snap puts a time that rounding has moved off the seam back on it.
func snap(t, length float64) float64 {
	switch {
	case math.Abs(t) < closest:
		return 0
	case length > 0 && math.Abs(t-length) < closest:
		return length
	}
	return t
}

func tame(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return min(max(v, -largest), largest)
}
