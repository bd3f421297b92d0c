package motion

import "math"

// SegmentKind says how the curve runs between two keys.
type SegmentKind uint8

// The kinds of segment.
const (
	Cubic        SegmentKind = iota // The Hermite cubic of its values and slopes.
	StraightLine                    // Straight from Value0 to Value1.
	Held                            // Value0 throughout; a step at the end when the next segment starts elsewhere.
	Eased                           // From Value0 to Value1 by Ease.
)

// Segment is the curve between two neighbouring keys. Times are frames, slopes units per frame. For every kind the
// slopes are those at its ends, so that a straight or a held segment is also the Hermite cubic of its four numbers.
type Segment struct {
	Kind            SegmentKind
	Start, Duration float64
	Value0, Slope0  float64
	Value1, Slope1  float64
	Ease            Ease // For Eased only.
}

// Segments returns the curve as its segments between keys, in rising time without a hole. In a cycle they make up
// exactly one round, from the first key on: unless a key stands at 0 the last one runs over the seam. In a span they
// reach from the first key to the last; a span with one key is one held segment of no length.
func (c *Curve) Segments() []Segment {
	segments := make([]Segment, len(c.pieces))
	for i := range c.pieces {
		segments[i] = c.pieces[i].segment()
	}
	return segments
}

// Cubics returns the curve over exactly 0 to the extent's length as segments that are each the Hermite cubic of their
// four numbers: the form of glTF 2.0 CUBICSPLINE. All kinds but one are that already and are only cut at the seam and
// at 0; an eased segment is replaced by cubics of at most step frames each that meet it in value and slope.
func (c *Curve) Cubics(step float64) []Segment {
	var cubics []Segment
	for part := range c.round {
		if part.kind != Eased {
			cubics = append(cubics, part.cubic(part.from, part.to))
			continue
		}
		count := 1.0
		if step > 0 {
			count = max(1, math.Ceil((part.to-part.from)/step))
		}
		for i := range int(count) {
			from := part.from + (part.to-part.from)*float64(i)/count
			to := part.from + (part.to-part.from)*float64(i+1)/count
			cubics = append(cubics, part.cubic(from, to))
		}
	}
	return cubics
}

func (p *piece) segment() Segment {
	s := Segment{
		Kind: p.kind, Start: p.start, Duration: p.frames,
		Value0: p.a, Slope0: p.slope(0), Value1: p.at(1), Slope1: p.slope(1),
	}
	if p.ease != nil {
		s.Ease = *p.ease
	}
	return s
}

// part is a stretch of one piece, moved to the round in which it was asked for.
type part struct {
	*piece
	from, to float64 // Frames.
	offset   float64 // Frames; what the round adds to the piece's own times.
	lift     float64 // Units; what the round adds to its values.
}

// share returns the piece's own share of time at t.
func (p *part) share(t float64) float64 {
	return min(max((t-p.offset-p.start)*p.perFrame, 0), 1)
}

func (p *part) value(t float64) float64 { return p.at(p.share(t)) + p.lift }
func (p *part) rate(t float64) float64  { return p.slope(p.share(t)) }

// cubic returns the Hermite cubic that meets the part in value and slope at two times, which is the part itself there
// unless it is eased.
func (p *part) cubic(from, to float64) Segment {
	kind := p.kind
	if kind == Eased {
		kind = Cubic
	}
	return Segment{
		Kind: kind, Start: from, Duration: to - from,
		Value0: p.value(from), Slope0: p.rate(from), Value1: p.value(to), Slope1: p.rate(to),
	}
}

// round yields the curve from 0 to its extent's length, as parts does, without making anything on the heap.
func (c *Curve) round(yield func(part) bool) {
	if c.extent.Closed {
		c.cycleParts(0, c.extent.Length, yield)
		return
	}
	c.spanParts(0, c.extent.Length, yield)
}

// parts yields the curve from one time to another, piece by piece, each at its own side of a step: a part's values are
// those within it, to both its ends.
func (c *Curve) parts(from, to float64) func(yield func(part) bool) {
	if c.extent.Closed {
		return func(yield func(part) bool) { c.cycleParts(from, to, yield) }
	}
	return func(yield func(part) bool) { c.spanParts(from, to, yield) }
}

func (c *Curve) cycleParts(from, to float64, yield func(part) bool) {
	local, rounds := c.wrap(from)
	for i := c.find(local); from < to; i++ {
		if i == len(c.pieces) {
			i = 0
			rounds++
		}
		p := part{piece: &c.pieces[i], from: from, offset: rounds * c.extent.Length, lift: rounds * c.extent.Gain}
		p.to = c.end
		if i+1 < len(c.pieces) {
			p.to = c.pieces[i+1].start
		}
		p.to = min(p.to+p.offset, to)
		if p.to > p.from && !yield(p) {
			return
		}
		from = max(from, p.to)
	}
}

func (c *Curve) spanParts(from, to float64, yield func(part) bool) {
	first, end := c.starts[0], c.end
	before := piece{start: from, a: c.pieces[0].a, kind: Held}
	if stop := min(first, to); from < stop {
		before.frames = stop - from
		if !yield(part{piece: &before, from: from, to: stop}) {
			return
		}
	}
	for i := c.find(from); i < len(c.pieces) && c.pieces[i].start < to; i++ {
		p := part{piece: &c.pieces[i], from: max(from, c.pieces[i].start), to: end}
		if i+1 < len(c.pieces) {
			p.to = c.pieces[i+1].start
		}
		p.to = min(p.to, to)
		if p.from < p.to && !yield(p) {
			return
		}
	}
	after := piece{start: max(from, end), a: c.last, kind: Held}
	if after.start < to {
		after.frames = to - after.start
		yield(part{piece: &after, from: after.start, to: to})
	}
}
