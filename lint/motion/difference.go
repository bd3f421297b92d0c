package motion

import (
	"math"
	"slices"
	"sync"
)

// Without returns the curve with knot i taken out and its neighbours' slopes taken anew: what removing that key from
// the text would give. A curve's only knot stays, and so does the curve for an index that no knot has.
func (c *Curve) Without(i int) *Curve {
	if i < 0 || i >= len(c.knots) || len(c.knots) == 1 {
		return c
	}
	return NewCurve(slices.Concat(c.knots[:i], c.knots[i+1:]), c.extent)
}

// ChangeWithout returns the greatest change of the curve, and the time of it, when knot i is taken out: the same as
// MaxDifference between the curve and [Curve.Without], but away from the ends in a time that does not grow with the
// number of knots.
func (c *Curve) ChangeWithout(i int) (change, atTime float64) {
	if i <= reach || i >= len(c.knots)-reach-1 {
		return MaxDifference(c, c.Without(i))
	}
	window := Curve{extent: Extent{Length: c.extent.Length}, knots: c.knots[i-reach : i+reach+1]}
	window.build()
	return maxDifference(&window, window.Without(reach), c.knots[i-2].Time, c.knots[i+2].Time)
}

// MaxDifference returns the greatest size of a's value less b's from time 0 to the length of a's extent, and the first
// time at which it is that great. It is exact where both are cubic, straight or held; where an eased segment takes
// part, it is found among at least 32 places of the segment and refined from every summit among them.
func MaxDifference(a, b *Curve) (difference, atTime float64) {
	return maxDifference(a, b, 0, a.extent.Length)
}

func maxDifference(a, b *Curve, from, to float64) (difference, atTime float64) {
	atTime = from
	note := func(t, v float64) {
		if v = math.Abs(v); v > difference {
			difference, atTime = v, t
		}
	}
	room := partRooms.Get().(*partRoom)
	defer room.giveBack()
	room.a, room.b = a.collect(room.a, from, to), b.collect(room.b, from, to)
	as, bs := room.a, room.b
	for len(as) > 0 && len(bs) > 0 {
		p, q := as[0], bs[0]
		start, end := max(p.from, q.from), min(p.to, q.to)
		if start < end && !p.same(q) {
			noteDifference(p, q, start, end, note)
		}
		if p.to <= end {
			as = as[1:]
		}
		if q.to <= end {
			bs = bs[1:]
		}
	}
	if !a.extent.Closed {
		note(to, a.At(to)-b.At(to)) // A span may end with a step.
	}
	return difference, atTime
}

// partRoom is where two curves are laid side by side. A sheet's keys ask for it by the thousand, each time for a moment.
type partRoom struct{ a, b []part }

var partRooms = sync.Pool{New: func() any { return new(partRoom) }}

// giveBack lends the room to the next one, without holding on to the curves.
func (r *partRoom) giveBack() {
	clear(r.a)
	clear(r.b)
	partRooms.Put(r)
}

// collect puts the parts between two times into a room, in place of what is there.
func (c *Curve) collect(room []part, from, to float64) []part {
	count := c.pieceAt(to) - c.pieceAt(from)
	if c.extent.Closed && (count < 0 || to-from >= c.extent.Length) {
		count += len(c.pieces)
	}
	// One more than the pieces begun between; a span adds its two ends, a cycle cuts one piece at the seam.
	return slices.AppendSeq(slices.Grow(room[:0], count+3), c.parts(from, to))
}

// pieceAt returns the index of the piece that runs at a time, in a span the nearest.
func (c *Curve) pieceAt(t float64) int {
	if c.extent.Closed {
		t, _ = c.wrap(t)
	}
	return c.find(t)
}

// same reports two parts that run alike throughout.
func (p part) same(q part) bool {
	if p.lift != q.lift || p.offset != q.offset || p.kind != q.kind {
		return false
	}
	x, y := *p.piece, *q.piece
	if x.ease != nil && *x.ease != *y.ease {
		return false
	}
	x.ease, y.ease = nil, nil
	return x == y
}

// noteDifference notes the places between start and end at which p less q may be furthest from zero.
func noteDifference(p, q part, start, end float64, note func(t, v float64)) {
	if p.kind == Eased || q.kind == Eased {
		noteSampledDifference(p, q, start, end, note)
		return
	}
	d := hermite(start, end-start,
		p.value(start)-q.value(start), p.rate(start)-q.rate(start),
		p.value(end)-q.value(end), p.rate(end)-q.rate(end))
	note(start, d.a)
	us, n := d.turns()
	for _, u := range us[:n] {
		note(start+u*d.frames, d.at(u))
	}
	note(end, p.value(end)-q.value(end))
}

// noteSampledDifference looks at many places and climbs from each summit among them that may be the greatest.
func noteSampledDifference(p, q part, start, end float64, note func(t, v float64)) {
	size := func(t float64) float64 { return math.Abs(p.value(t) - q.value(t)) }
	times := sampleTimes(p, q, start, end)
	sizes := make([]float64, len(times))
	for i, t := range times {
		sizes[i] = size(t)
		note(t, sizes[i])
	}
	greatest := slices.Max(sizes)
	for i := 1; i+1 < len(sizes); i++ {
		if sizes[i] >= 0.9*greatest && sizes[i] >= sizes[i-1] && sizes[i] >= sizes[i+1] {
			t := climb(size, times[i-1], times[i+1])
			note(t, size(t))
		}
	}
}

// sampleTimes returns places from start to end, evenly spread in time and along each easing's own curve, so that a
// steep stretch is not stepped over.
func sampleTimes(p, q part, start, end float64) []float64 {
	const count = 32
	times := make([]float64, 0, 3*(count+1))
	for i := range count + 1 {
		share := float64(i) / count
		times = append(times, start+(end-start)*share)
		for _, part := range [2]part{p, q} {
			if part.ease == nil {
				continue
			}
			along := bezierAxis(part.ease.X1, part.ease.X2).at(share)
			if t := part.start + part.offset + along*part.frames; t > start && t < end {
				times = append(times, t)
			}
		}
	}
	slices.Sort(times)
	return times
}

// climb returns the place between two times at which size is greatest, when it has one summit there, by golden section.
func climb(size func(t float64) float64, low, high float64) float64 {
	const golden = 1 / math.Phi
	left, right := high-(high-low)*golden, low+(high-low)*golden
	atLeft, atRight := size(left), size(right)
	for range 48 {
		if atLeft >= atRight {
			high, right, atRight = right, left, atLeft
			left = high - (high-low)*golden
			atLeft = size(left)
		} else {
			low, left, atLeft = left, right, atRight
			right = low + (high-low)*golden
			atRight = size(right)
		}
	}
	return low + (high-low)/2
}
