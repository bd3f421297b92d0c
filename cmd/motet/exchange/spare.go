package exchange

import (
	"math"
	"slices"
	"strconv"

	"github.com/motet-sheet/motet/lint/motion"
)

// spare leaves out what the curve can do without: keys of its own, what it changed by less than shows, slopes, and the
// author's keys where the motion they made is gone.
func (r *rekeying) spare(offs []float64) {
	keep := func(ok func() bool, change func(c *pegCell), cell int) bool {
		before := slices.Clone(r.cells)
		change(&r.cells[cell])
		if ok() {
			return true
		}
		r.cells = before
		return false
	}
	for i := range r.pegs {
		if n := r.pegs[i].cell; r.cells[n].fresh && len(r.pegs) > 2 {
			keep(func() bool { return r.solve(r.parts(i)) }, func(c *pegCell) { c.gone = true }, n)
		}
	}
	for n := range r.cells {
		c := &r.cells[n]
		if c.fresh || c.gone || c.tied >= 0 {
			continue
		}
		if c.Shape != c.first.Shape || c.SlopeIn != c.first.SlopeIn || c.SlopeOut != c.first.SlopeOut {
			keep(r.fitted, func(c *pegCell) {
				c.Shape, c.SlopeIn, c.SlopeOut, c.Marked = c.first.Shape, c.first.SlopeIn, c.first.SlopeOut, c.first.Marked
			}, n)
		}
		if c := &r.cells[n]; c.Value != c.first.Value {
			keep(r.fitted, func(c *pegCell) { c.Value = c.first.Value }, n)
		}
	}
	left := 0
	for n := range r.cells {
		if !r.cells[n].gone {
			left++
		}
	}
	for n := range r.cells {
		c := &r.cells[n]
		if c.fresh || c.gone || c.tied >= 0 || !c.removable || n >= len(offs) || math.Abs(offs[n]) < slices.Min(r.half) || left < 3 || r.isTie(n) {
			continue
		}
		if keep(r.fitted, func(c *pegCell) { c.gone = true }, n) {
			left--
		}
	}
	for n := range r.cells {
		c := &r.cells[n]
		if c.gone || c.Shape != motion.Sloped || !c.fresh && c.first.Shape == motion.Sloped {
			continue
		}
		lean := func(shape motion.Shape) bool {
			return keep(r.fitted, func(c *pegCell) { c.Shape, c.SlopeIn, c.SlopeOut, c.Marked = shape, 0, 0, shape != motion.Smooth }, n)
		}
		_ = lean(motion.Smooth) || lean(motion.Rest)
	}
}

func (r *rekeying) isTie(n int) bool {
	return slices.ContainsFunc(r.cells, func(c pegCell) bool { return c.tied == n })
}

// write rounds what has changed to as few digits as stay inside.
func (r *rekeying) write(typical float64) bool {
	exact := slices.Clone(r.cells)
	least := max(0, int(math.Ceil(-math.Log10(0.4*typical))))
	for decimals := least; decimals < least+4; decimals++ {
		copy(r.cells, exact)
		for n := range r.cells {
			if c := &r.cells[n]; c.rounds() {
				c.Value = round(c.Value, decimals)
			}
		}
		if ratio, _ := r.worst(); ratio > 1 {
			continue
		}
		r.shorten(exact, decimals)
		if r.writeSlopes() {
			for n := range r.cells {
				if c := &r.cells[n]; c.tied >= 0 {
					c.Value = r.cells[c.tied].Value + c.lift
				}
			}
			return true
		}
	}
	return false
}

// rounds tells whether the cell's number is written anew.
func (c *pegCell) rounds() bool {
	return c.fresh || c.Value != c.first.Value || c.foreign && c.changed()
}

// shortShare is the share of what is allowed by which a number may be rounded to have fewer digits.
const shortShare = 0.35

// shorten gives each changed value as few digits as come near enough.
func (r *rekeying) shorten(exact []pegCell, decimals int) {
	for n := range r.cells {
		c := &r.cells[n]
		if !c.rounds() {
			continue
		}
		before := c.Value
		for fewer := range decimals {
			c.Value = round(exact[n].Value, fewer)
			if math.Abs(c.Value-exact[n].Value) <= shortShare*r.half[0] {
				if ratio, _ := r.worst(); ratio <= 1 {
					break
				}
			}
			c.Value = before
		}
	}
}

func (r *rekeying) writeSlopes() bool {
	for n := range r.cells {
		c := &r.cells[n]
		if c.gone || c.Shape != motion.Sloped || !c.fresh && c.first.Shape == motion.Sloped && c.SlopeIn == c.first.SlopeIn && c.SlopeOut == c.first.SlopeOut {
			continue
		}
		exact := c.SlopeOut
		done := false
		for digits := 0; digits < 7 && !done; digits++ {
			v, _ := strconv.ParseFloat(number(exact*r.beat, digits), 64)
			c.SlopeIn, c.SlopeOut = v/r.beat, v/r.beat
			ratio, _ := r.worst()
			done = ratio <= 1
		}
		if !done {
			return false
		}
	}
	return true
}
