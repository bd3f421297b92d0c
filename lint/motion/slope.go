package motion

import (
	"math"
	"slices"
)

// chord is the straight line between two neighbouring keys.
type chord struct{ frames, slope float64 }

// steffenSlope returns the slope at a key between two chords that keeps the curve monotone wherever its keys are, in
// units per frame. Source: M. Steffen, A simple method for monotonic interpolation in one dimension, Astronomy &
// Astrophysics 239, 443 (1990), equation 11 (number from memory).
func steffenSlope(before, after chord) float64 {
	parabola := (before.slope*after.frames + after.slope*before.frames) / (before.frames + after.frames)
	return (sign(before.slope) + sign(after.slope)) *
		min(math.Abs(before.slope), math.Abs(after.slope), math.Abs(parabola)/2)
}

// steffenEndSlope returns the slope at the first or last key of a span, from the chord at the end and the one beyond:
// that of the parabola through the three keys, kept between zero and twice the end chord's. Source: as steffenSlope.
func steffenEndSlope(end, beyond chord) float64 {
	parabola := end.slope + (end.slope-beyond.slope)*end.frames/(end.frames+beyond.frames)
	return (sign(parabola) + sign(end.slope)) * min(math.Abs(parabola)/2, math.Abs(end.slope))
}

func sign(v float64) float64 {
	switch {
	case v < 0:
		return -1
	case v > 0:
		return 1
	}
	return 0
}

// ring is what NewCurve makes pieces of: the keys that start a segment, the key that the last segment arrives at, and
// the chords between. In a cycle chord i leaves key i; a span has one chord less than keys.
type ring struct {
	keys    []Knot
	closing Knot
	closed  bool
	chords  []chord
}

// build fills in the pieces, into the room that there is. Chords hold the whole of a segment's length, so a cycle's last runs over the seam.
func (c *Curve) build() {
	var few [12]chord // most curves have no more, and need no memory of their own for what only the building looks at
	var keys [12]Knot
	r := c.newRing(few[:0], keys[:0])
	if r.isConstant(c.extent) {
		frames := r.closing.Time - r.keys[0].Time
		c.pieces = append(c.pieces[:0], piece{start: r.keys[0].Time, frames: frames, a: r.keys[0].Value, kind: Held})
		if frames > 0 {
			c.pieces[0].perFrame = 1 / frames
		}
	} else {
		c.pieces = slices.Grow(c.pieces[:0], len(r.chords))
		for i := range r.chords {
			c.pieces = append(c.pieces, r.piece(i))
		}
	}
	c.starts = slices.Grow(c.starts[:0], len(c.pieces))[:len(c.pieces)]
	scale := math.Abs(c.extent.Gain)
	for i := range c.pieces {
		p := &c.pieces[i]
		c.starts[i] = p.start
		scale = max(scale, math.Abs(p.a)+math.Abs(p.b)+math.Abs(p.c)+math.Abs(p.d))
	}
	c.tolerance = 1e-12 * scale
	c.end = r.closing.Time
	c.last = r.closing.Value
}

func (c *Curve) newRing(chords []chord, keys []Knot) ring {
	r := ring{keys: c.knots, closed: c.extent.Closed}
	n := len(r.keys)
	r.closing = r.keys[n-1]
	if r.closed {
		c.closeRing(&r, keys)
	}
	r.chords = slices.Grow(chords, len(r.keys))
	for i := range r.keys {
		target := &r.closing
		if i+1 < len(r.keys) {
			target = &r.keys[i+1]
		} else if !r.closed {
			break
		}
		frames := target.Time - r.keys[i].Time
		r.chords = append(r.chords, chord{frames, (target.Value - r.keys[i].Value) / frames})
	}
	return r
}

// closeRing finds the key that a cycle's last segment arrives at: the closing row, or the first key a round later.
func (c *Curve) closeRing(r *ring, keys []Knot) {
	n := len(r.keys)
	first, closing := r.keys[0], r.keys[n-1]
	if closing.Time != c.extent.Length {
		r.closing = later(first, c.extent)
		return
	}
	if first.Time != 0 {
		// Nothing stands at 0, so the closing row does: one key in two places.
		first = closing
		first.Time, first.Value = 0, closing.Value-c.extent.Gain
		r.keys = append(append(keys, first), r.keys[:n-1]...)
		r.closing = closing
		return
	}
	c.hasClosing = true
	switch {
	case !closing.marked() && first.marked():
		closing.Shape, closing.SlopeIn, closing.SlopeOut = first.Shape, first.SlopeIn, first.SlopeOut
	case closing.marked() && !first.marked():
		first.Shape, first.SlopeIn, first.SlopeOut = closing.Shape, closing.SlopeIn, closing.SlopeOut
	}
	if first.Ease == nil {
		first.Ease = closing.Ease
	}
	r.keys = append(append(keys, first), r.keys[1:n-1]...)
	r.closing = closing
}

// later is the same key one round on.
func later(k Knot, extent Extent) Knot {
	k.Time += extent.Length
	k.Value += extent.Gain
	return k
}

// isConstant reports a curve with one key, whatever its mark, which writing the closing row out does not change. A
// cycle that gains something every round is not one.
func (r *ring) isConstant(extent Extent) bool {
	if len(r.keys) > 1 {
		return false
	}
	only, closing := r.keys[0], r.closing
	return !r.closed || closing.Value == only.Value && extent.Gain == 0 && closing.Shape == only.Shape &&
		closing.SlopeIn == only.SlopeIn && closing.SlopeOut == only.SlopeOut
}

func (r *ring) piece(i int) piece {
	from, to := &r.keys[i], &r.closing
	if i+1 < len(r.keys) {
		to = &r.keys[i+1]
	}
	straight := piece{
		start: from.Time, frames: r.chords[i].frames, perFrame: 1 / r.chords[i].frames,
		a: from.Value, b: to.Value - from.Value, kind: StraightLine,
	}
	switch {
	case from.Shape == Stay:
		straight.b, straight.kind = 0, Held
		return straight
	case from.Ease != nil && !from.Ease.linear():
		straight.ease, straight.kind = from.Ease, Eased
		return straight
	case from.Ease != nil || from.Shape == Straight:
		return straight
	}
	return hermite(from.Time, r.chords[i].frames, from.Value, r.leaving(i), to.Value, r.arriving(i, to))
}

// leaving returns the slope with which a cubic segment leaves key i, in units per frame.
func (r *ring) leaving(i int) float64 {
	switch r.keys[i].Shape {
	case Sloped:
		return r.keys[i].SlopeOut
	case Smooth:
		if before := r.before(i); before >= 0 && r.keys[before].Shape == Stay {
			return 0
		}
		return r.pointSlope(i)
	}
	return 0
}

// arriving returns the slope with which a cubic segment i arrives at its far key, in units per frame. A key that goes
// straight on arrives as the points alone would have it.
func (r *ring) arriving(i int, to *Knot) float64 {
	switch to.Shape {
	case Sloped:
		return to.SlopeIn
	case Smooth, Straight:
		if r.closed {
			return r.pointSlope((i + 1) % len(r.keys))
		}
		return r.pointSlope(i + 1)
	}
	return 0
}

// pointSlope returns the slope that the places of the keys alone give key i. In a cycle the first key's is also that of
// the closing row, since both lie between the same two chords.
func (r *ring) pointSlope(i int) float64 {
	before, after := r.before(i), i
	switch {
	case len(r.chords) == 1:
		return r.chords[0].slope
	case before < 0:
		return steffenEndSlope(r.chords[0], r.chords[1])
	case after >= len(r.chords):
		return steffenEndSlope(r.chords[before], r.chords[before-1])
	}
	return steffenSlope(r.chords[before], r.chords[after])
}

// before returns the index of the chord that arrives at key i, or -1 at the start of a span.
func (r *ring) before(i int) int {
	if i == 0 && r.closed {
		return len(r.chords) - 1
	}
	return i - 1
}
