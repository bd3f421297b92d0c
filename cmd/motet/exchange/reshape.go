package exchange

import (
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// reshape tries other marks on the keys beside where the curve is off, as long as each makes it much better.
func (r *rekeying) reshape() bool {
	before := slices.Clone(r.cells)
	for range r.pegs {
		ratio, at := r.worst()
		best, least := pegCell{}, reshapeShare*ratio
		cell := -1
		for _, i := range r.beside(r.at[at]) {
			n := r.pegs[i].cell
			c := r.cells[n]
			if c.tied >= 0 || r.pegs[i].ease != nil {
				continue
			}
			for _, shape := range []motion.Shape{motion.Smooth, motion.Rest, motion.Straight, motion.Stay} {
				r.cells[n].Shape, r.cells[n].SlopeIn, r.cells[n].SlopeOut, r.cells[n].Marked = shape, 0, 0, shape != motion.Smooth
				if ratio, _ := r.worst(); ratio < least {
					best, least, cell = r.cells[n], ratio, n
				}
				r.cells[n] = c
			}
		}
		if cell < 0 {
			break
		}
		r.cells[cell] = best
		if least <= fitShare {
			return true
		}
	}
	r.cells = before
	return false
}

// reshapeShare is how much better another mark must make the curve to be taken.
const reshapeShare = 0.7

// loosen lets the keys on both sides of where the curve is off take another slope, and those beside them another value.
func (r *rekeying) loosen() bool {
	for range 2 * len(r.pegs) {
		_, at := r.worst()
		added := false
		for _, i := range r.beside(r.at[at]) {
			c := &r.cells[r.pegs[i].cell]
			for _, p := range []freedom{{r.pegs[i].cell, false}, {r.pegs[i].cell, true}} {
				if r.free[p] || c.tied >= 0 || p.slope && !r.mayLean(i) {
					continue
				}
				if p.slope && c.Shape != motion.Sloped {
					before, after := r.curve().Slope(r.pegs[i].time)
					c.Shape, c.SlopeIn, c.SlopeOut, c.Marked = motion.Sloped, after, after, true
					if !r.extent.Closed && i == len(r.pegs)-1 {
						c.SlopeIn, c.SlopeOut = before, before
					}
				}
				r.free[p], added = true, true
			}
		}
		if !added {
			return false
		}
		if r.solve(r.parts(-1)) {
			return true
		}
	}
	return false
}

// mayLean tells whether a peg's slope means anything, and the same on both sides.
func (r *rekeying) mayLean(i int) bool {
	c := &r.cells[r.pegs[i].cell]
	if c.Shape == motion.Straight || c.Shape == motion.Stay || r.pegs[i].ease != nil || len(r.pegs) < 2 {
		return false
	}
	return c.Shape != motion.Sloped || c.SlopeIn == c.SlopeOut
}

// beside are the pegs before and behind a time.
func (r *rekeying) beside(t float64) []int {
	next, _ := slices.BinarySearchFunc(r.pegs, t, func(p peg, t float64) int {
		if p.time <= t {
			return -1
		}
		return 1
	})
	before := next - 1
	n := len(r.pegs)
	switch {
	case n == 0:
		return nil
	case r.extent.Closed:
		return []int{(before + n) % n, next % n}
	case before < 0:
		return []int{0}
	case next == n:
		return []int{n - 1}
	}
	return []int{before, next}
}
