package motion

import (
	"cmp"
	"math"
	"slices"
	"sync"
)

// Spare returns the indices of knots, in rising order, that may all be taken out together so that the curve changes
// nowhere by more than limit; only those for which may is true are considered, and never the last one left.
//
// Knots are taken out greedily, those whose loss changes the least first, and each is held against the curve as it was
// with all that are out already. No two neighbours go in one pass, so that the stretches to be compared grow only as
// fast as the knots in them go: the time is n log n for n knots.
func (c *Curve) Spare(limit float64, may func(i int) bool) []int {
	t := thinning{curve: c, limit: limit, kept: make([]int, len(c.knots)), changes: make([]float64, len(c.knots)), room: curveRooms.Get().(*curveRoom)}
	defer t.room.giveBack()
	for i := range c.knots {
		t.kept[i] = i
		t.changes[i] = needed
		if may(i) {
			t.changes[i] = unknown
		}
	}
	t.judgeFirst()
	for t.pass() {
	}
	return t.out()
}

// losses are what the going of each knot alone would change, needed where that is over the limit and unknown where nobody
// asked.
type losses struct {
	limit   float64
	changes []float64
}

// judgeFirst works out what each knot's going alone would change. What an earlier version of the curve knows of a knot is
// taken over where the knots about it, as many as the answer rests on, are the same in both: so after an edit of one key
// only a few are worked out.
func (t *thinning) judgeFirst() {
	c := t.curve
	before := c.known.before.Load()
	var old *losses
	if before != nil {
		old = before.known.losses.Load()
	}
	head, tail := 0, 0 // knots at both ends that are the same
	if old != nil && old.limit == t.limit && before.extent == c.extent {
		for head < min(len(c.knots), len(before.knots)) && c.knots[head] == before.knots[head] {
			head++
		}
		for tail < min(len(c.knots), len(before.knots))-head && c.knots[len(c.knots)-1-tail] == before.knots[len(before.knots)-1-tail] {
			tail++
		}
	}
	n := len(c.knots)
	found := losses{t.limit, make([]float64, n)}
	for i := range c.knots {
		found.changes[i] = unknown
		if t.changes[i] != unknown {
			continue
		}
		k := -1
		switch edge := isEdge(i, n); {
		case edge && min(head, tail) <= 2*reach+1: // in a cycle the other end counts too
		case edge && i <= reach, !edge && i+reach < head:
			k = i
		case edge, i-reach >= n-tail:
			k = i - n + len(before.knots)
		}
		if k >= 0 && isEdge(k, len(before.knots)) == isEdge(i, n) && old.changes[k] != unknown {
			t.changes[i] = old.changes[k]
		} else {
			t.judge(i)
		}
		found.changes[i] = t.changes[i]
	}
	c.known.losses.Store(&found)
	c.known.before.Store(nil)
}

// isEdge tells whether a knot of some is so near an end that its going is held against the whole curve.
func isEdge(i, knots int) bool { return i < reach+1 || i >= knots-reach-1 }

// judge works out what the going of a knot that is still there would change.
func (t *thinning) judge(place int) {
	i := t.kept[place]
	if t.changes[i] = t.changeWithout(place); t.changes[i] > t.limit {
		t.changes[i] = needed // with fewer neighbours it is needed all the more
	}
}

// A knot's going moves two segments on either side of it, and one knot more fixes the slopes there.
const reach = 3

// thinning is a curve that loses knots.
type thinning struct {
	curve   *Curve
	limit   float64
	kept    []int     // indices of the knots that are left, rising
	changes []float64 // what each knot's going would change, by its index into the curve's knots

	room *curveRoom
}

// curveRoom is lent to one curve after the other, since each is looked at once and a sheet's keys ask for thousands.
type curveRoom struct {
	knots  []Knot
	pieces []piece
	starts []float64
}

var curveRooms = sync.Pool{New: func() any { return new(curveRoom) }}

// giveBack lends the room to the next search, without holding on to the easings of this one.
func (r *curveRoom) giveBack() {
	clear(r.knots)
	clear(r.pieces)
	curveRooms.Put(r)
}

// What may stand in changes instead of a change.
const (
	unknown = -1 // to be worked out, since a knot nearby has gone
	needed  = -2 // never to go
)

// loss is what one knot's going would change.
type loss struct {
	place  int // index into kept
	change float64
}

// pass takes out knots that are no neighbours of one another, and tells whether there were any.
func (t *thinning) pass() bool {
	var losses []loss
	for place, i := range t.kept {
		if t.changes[i] == unknown {
			t.judge(place)
		}
		if t.changes[i] >= 0 {
			losses = append(losses, loss{place, t.changes[i]})
		}
	}
	slices.SortStableFunc(losses, func(a, b loss) int { return cmp.Compare(a.change, b.change) })
	const apart = reach + 1 // so the segments that two of them move do not meet
	taken := make([]bool, len(t.kept))
	any := false
	for _, l := range losses {
		if len(t.kept) == 1 || t.near(taken, l.place, apart) {
			continue
		}
		taken[l.place], any = true, true
	}
	t.drop(taken)
	return any
}

// near tells whether a knot fewer than apart places away is taken, round the seam in a cycle.
func (t *thinning) near(taken []bool, place, apart int) bool {
	for d := 1 - apart; d < apart; d++ {
		if at := t.around(place + d); at >= 0 && taken[at] {
			return true
		}
	}
	return false
}

// around brings a place into kept, round the seam in a cycle; outside a span it is -1.
func (t *thinning) around(place int) int {
	n := len(t.kept)
	switch {
	case t.curve.extent.Closed:
		return ((place % n) + n) % n
	case place < n:
		return max(place, -1)
	}
	return -1
}

// drop lets the taken knots go; what their going has changed nearby is to be worked out anew.
func (t *thinning) drop(taken []bool) {
	for place := range t.kept {
		for d := -reach; taken[place] && d <= reach; d++ {
			if at := t.around(place + d); at >= 0 && t.changes[t.kept[at]] != needed {
				t.changes[t.kept[at]] = unknown
			}
		}
	}
	left := t.kept[:0]
	for place, i := range t.kept {
		if !taken[place] {
			left = append(left, i)
		}
	}
	t.kept = left
}

// changeWithout is the greatest difference between the curve as it was and one that has lost all that is out already and
// one more, as far as that one reaches. Where a look shows that it is over the limit, it is not worked out.
func (t *thinning) changeWithout(place int) float64 {
	if len(t.kept) == 1 || t.sticksOut(place) {
		return t.limit + 1
	}
	gone := t.knot(place)
	over := func(c *Curve) bool { return math.Abs(c.At(gone.Time)-t.curve.At(gone.Time)) > t.limit }
	if isEdge(place, len(t.kept)) {
		whole := t.without(t.kept, place, t.curve.extent)
		if over(whole) {
			return t.limit + 1
		}
		change, _ := MaxDifference(t.curve, whole)
		return change
	}
	window := t.without(t.kept[place-reach:place+reach+1], reach, Extent{Length: t.curve.extent.Length})
	if over(window) {
		return t.limit + 1
	}
	change, _ := maxDifference(t.curve, window, t.knot(place-2).Time, t.knot(place+2).Time)
	return change
}

// sticksOut tells whether a knot lies outside what a curve between its neighbours can reach at its time, by more than the
// limit. Slopes of the sheet's own and easings may lead anywhere, and tell nothing.
func (t *thinning) sticksOut(place int) bool {
	if place == 0 || place == len(t.kept)-1 {
		return false
	}
	before, gone, after := t.knot(place-1), t.knot(place), t.knot(place+1)
	if before.Shape == Sloped || after.Shape == Sloped || before.Ease != nil {
		return false
	}
	low, high := 0.0, 1.0 // of the way from the one to the other
	if before.Shape == Stay {
		high = 0
	}
	if u := (gone.Time - before.Time) / (after.Time - before.Time); before.Shape == Smooth || before.Shape == Rest {
		// The cubic of two values and of slopes between none and twice the chord's, which is as much as Steffen gives: each of
		// the two only takes it up, or only down.
		straight := u * u * (3 - 2*u)
		low, high = straight-2*u*u*(1-u), straight+2*u*(1-u)*(1-u)
	}
	from, way := before.Value, after.Value-before.Value
	least, most := from+min(low*way, high*way), from+max(low*way, high*way)
	return gone.Value > most+t.limit || gone.Value < least-t.limit
}

func (t *thinning) knot(place int) Knot { return t.curve.knots[t.kept[place]] }

// without is the curve through some knots but for the one at a place. It holds until the next one is asked for.
func (t *thinning) without(indices []int, place int, extent Extent) *Curve {
	knots := t.room.knots[:0]
	for at, i := range indices {
		if at != place {
			knots = append(knots, t.curve.knots[i])
		}
	}
	curve := &Curve{extent: extent, knots: knots, pieces: t.room.pieces, starts: t.room.starts}
	curve.build()
	t.room.knots, t.room.pieces, t.room.starts = knots, curve.pieces, curve.starts
	return curve
}

func (t *thinning) out() []int {
	var out []int
	at := 0
	for i := range t.curve.knots {
		if at < len(t.kept) && t.kept[at] == i {
			at++
		} else {
			out = append(out, i)
		}
	}
	return out
}
