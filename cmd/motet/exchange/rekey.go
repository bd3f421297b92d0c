package exchange

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// A peg is a key of a curve that is being fitted anew, at a time that its author gave it or that the motion asks for.
type peg struct {
	time float64 // frames
	cell int     // pegs that one place of the text writes share it
	ease *motion.Ease
}

// A pegCell is what one place of the text says of its pegs.
type pegCell struct {
	motion.Knot // without a time; slopes a frame
	first       motion.Knot
	fresh       bool // the motion asks for it
	gone        bool // it is taken out
	removable   bool
	foreign     bool // it stands in another file, and is written out whole where it changes
	// tied is the cell whose value it keeps to, as a closing row to the first, and lift how much higher; -1 for none.
	tied int
	lift float64
}

func (c *pegCell) changed() bool {
	return c.fresh || c.gone || c.Value != c.first.Value || c.Shape != c.first.Shape || c.Shape == motion.Sloped && (c.SlopeIn != c.first.SlopeIn || c.SlopeOut != c.first.SlopeOut)
}

// A rekeying fits a curve to a motion and keeps as much as it can of what was written: values first, then slopes, and
// keys of its own only where that does not do.
type rekeying struct {
	pegs   []peg // in rising time
	cells  []pegCell
	extent motion.Extent
	// at, want and half are what the curve has to stay inside, at moments in rising time.
	at, want, half []float64
	holds          bool // a key stays until the next, so the motion may jump
	// unit is the raster of new keys in frames: 1, or a share of a beat where beats are no whole frames. rows are places of
	// the raster at which the table has a row already, where a new key costs least.
	unit float64
	rows map[int]bool
	beat float64 // frames; slopes are written a beat
	grid float64 // frames; a new key stands best on a multiple

	free  map[freedom]bool // what the fit may move
	value []float64        // of the curve, memory
}

// A freedom is the value or the slope of a cell.
type freedom struct {
	cell  int
	slope bool
}

func (r *rekeying) curve() *motion.Curve {
	knots := make([]motion.Knot, 0, len(r.pegs))
	for i := range r.pegs {
		c := &r.cells[r.pegs[i].cell]
		if c.gone {
			continue
		}
		k := c.Knot
		k.Time, k.Ease = r.pegs[i].time, r.pegs[i].ease
		if c.tied >= 0 {
			k.Value = r.cells[c.tied].Value + c.lift
		}
		knots = append(knots, k)
	}
	return motion.NewCurve(knots, r.extent)
}

func (r *rekeying) sample(into []float64) { r.curve().Sample(into, r.at) }

// worst is the largest error as a share of what is allowed, and the moment where it is.
func (r *rekeying) worst() (ratio float64, at int) {
	r.value = resized(r.value, len(r.at))
	r.sample(r.value)
	for k, v := range r.value {
		if off := math.Abs(v-r.want[k]) / r.half[k]; off > ratio {
			ratio, at = off, k
		}
	}
	return ratio, at
}

// off is how far the motion is from the curve at a time: between moments as the cubic through the four about it has it.
func (r *rekeying) off(t float64) float64 {
	r.value = resized(r.value, len(r.at))
	r.sample(r.value)
	return offAt(r.at, func(k int) float64 { return r.want[k] - r.value[k] }, t, r.extent, r.holds)
}

// offAt reads a function of moments between them. Behind a jump it is that of the nearest moment.
func offAt(at []float64, off func(k int) float64, t float64, extent motion.Extent, jumps bool) float64 {
	n := len(at)
	if n == 1 {
		return off(0)
	}
	moment := func(k int) (time, value float64) {
		round := 0.0
		if extent.Closed {
			for k < 0 {
				k, round = k+n, round-1
			}
			for k >= n {
				k, round = k-n, round+1
			}
		}
		k = max(0, min(n-1, k))
		return at[k] + round*extent.Length, off(k)
	}
	next, _ := slices.BinarySearch(at, t)
	t0, v0 := moment(next - 1)
	t1, v1 := moment(next)
	if t1-t0 < 1e-9 || jumps {
		if math.Abs(t1-t) <= math.Abs(t-t0) {
			return v1
		}
		return v0
	}
	slope := func(k int) float64 {
		ta, va := moment(k - 1)
		tb, vb := moment(k + 1)
		if tb-ta < 1e-9 {
			return 0
		}
		return (vb - va) / (tb - ta)
	}
	length := t1 - t0
	b := basis((t-t0)/length, length)
	return b[0]*v0 + b[1]*slope(next-1) + b[2]*v1 + b[3]*slope(next)
}

// turnShare is how much of the second difference at two moments a cubic between them may be off another one.
const turnShare = 0.125

// refine puts a moment between each two, where nothing jumps, so that the curve can't stray there.
func (r *rekeying) refine(step float64) {
	if r.holds || len(r.at) < 2 {
		return
	}
	before := r.curve()
	value := make([]float64, len(r.at))
	before.Sample(value, r.at)
	off := func(k int) float64 { return r.want[k] - value[k] }
	var at, want, half []float64
	for k, t := range r.at {
		at, want, half = append(at, t), append(want, r.want[k]), append(half, r.half[k])
		if k+1 < len(r.at) && r.at[k+1]-t < 1.5*step {
			middle := (t + r.at[k+1]) / 2
			// How sharply the difference turns here tells how little its values at both sides say of it between them.
			n := len(r.at)
			turn := off(k) + off(k+1) - off((k+n-1)%n) - off((k+2)%n)
			at, half = append(at, middle), append(half, r.half[k]+turnShare*math.Abs(turn))
			want = append(want, before.At(middle)+offAt(r.at, off, middle, r.extent, false))
		}
	}
	r.at, r.want, r.half = at, want, half
}

// touch is the share of what is allowed by which a key's own moment may be off and the key still stays as it is.
const touch = 0.3

// run fits the curve. It is false where that can't be done within what is allowed.
func (r *rekeying) run() bool {
	r.free = map[freedom]bool{}
	offs := make([]float64, len(r.cells)) // largest of a cell's pegs
	for i := range r.pegs {
		if off := r.off(r.pegs[i].time); math.Abs(off) > math.Abs(offs[r.pegs[i].cell]) {
			offs[r.pegs[i].cell] = off
		}
	}
	typical := slices.Min(r.half)
	for i := range r.cells {
		if math.Abs(offs[i]) > touch*typical && r.cells[i].tied < 0 {
			r.cells[i].Value += offs[i]
			r.free[freedom{i, false}] = true
		}
	}
	ok := r.fitted() || r.solve(r.parts(-1)) || r.reshape() || r.loosen() || r.insert()
	if !ok {
		return false
	}
	r.spare(offs)
	return r.write(typical)
}

func (r *rekeying) fitted() bool {
	ratio, _ := r.worst()
	return ratio <= fitShare
}

// parts are what may move, all of it or only near one peg.
func (r *rekeying) parts(near int) []freedom {
	wanted := map[int]bool{}
	for i := range r.pegs {
		apart := i - near
		if r.extent.Closed {
			n := len(r.pegs)
			apart = min(((apart%n)+n)%n, ((-apart%n)+n)%n)
		}
		if near < 0 || apart >= -windowKeys && apart <= windowKeys {
			wanted[r.pegs[i].cell] = true
		}
	}
	var out []freedom
	for i := range r.cells {
		for _, slope := range []bool{false, true} {
			if p := (freedom{i, slope}); r.free[p] && wanted[i] && r.cells[i].tied < 0 && !r.cells[i].gone {
				out = append(out, p)
			}
		}
	}
	return out
}

func (r *rekeying) get(p freedom) float64 {
	if p.slope {
		return r.cells[p.cell].SlopeOut
	}
	return r.cells[p.cell].Value
}

func (r *rekeying) set(p freedom, v float64) {
	c := &r.cells[p.cell]
	if p.slope {
		c.SlopeIn, c.SlopeOut = v, v
		return
	}
	c.Value = v
}

// solve moves some parts so that the worst error is small: least squares, linearised, with the weights raised where the
// curve is off (C. L. Lawson). It keeps the best that it sees, and tells whether that is inside.
func (r *rekeying) solve(parts []freedom) bool {
	if len(parts) == 0 {
		return r.fitted()
	}
	n, m := len(parts), len(r.at)
	best := make([]float64, n)
	for i, p := range parts {
		best[i] = r.get(p)
	}
	least, _ := r.worst()
	here, moved := make([]float64, m), make([]float64, m)
	weights := make([]float64, m)
	for k := range weights {
		weights[k] = 1 / (r.half[k] * r.half[k])
	}
	columns := make([][]float64, n)
	for round := 0; round < lawsonRounds && least > fitShare; round++ {
		r.sample(here)
		for i, p := range parts {
			nudge := 0.1 * r.half[0]
			if p.slope {
				nudge = 0.02 * r.half[0]
			}
			v := r.get(p)
			r.set(p, v+nudge)
			r.sample(moved)
			r.set(p, v)
			columns[i] = resized(columns[i], m)
			for k := range moved {
				columns[i][k] = (moved[k] - here[k]) / nudge
			}
		}
		step := r.step(columns, here, weights)
		for i, p := range parts {
			r.set(p, r.get(p)+step[i])
		}
		ratio, _ := r.worst()
		if ratio < least {
			least = ratio
			for i, p := range parts {
				best[i] = r.get(p)
			}
		}
		for k := range weights {
			weights[k] *= math.Abs(r.value[k]-r.want[k])/r.half[k]/math.Max(ratio, 1e-12) + 0.05
		}
	}
	for i, p := range parts {
		r.set(p, best[i])
	}
	return least <= fitShare
}

// step solves the normal equations of a weighted least-squares step.
func (r *rekeying) step(columns [][]float64, here, weights []float64) []float64 {
	n := len(columns)
	normal, right := make([][]float64, n), make([]float64, n)
	for i := range n {
		normal[i] = make([]float64, n)
		for j := 0; j <= i; j++ {
			sum := 0.0
			for k, x := range columns[i] {
				if x != 0 {
					sum += weights[k] * x * columns[j][k]
				}
			}
			normal[i][j], normal[j][i] = sum, sum
		}
		for k, x := range columns[i] {
			right[i] += weights[k] * x * (r.want[k] - here[k])
		}
	}
	for i := range n {
		normal[i][i] += normal[i][i]*1e-6 + 1e-9
	}
	solveDense(normal, right)
	return right
}

// insert adds keys where the curve is off until it is inside.
func (r *rekeying) insert() bool {
	for range int(r.extent.Length) + 1 {
		ratio, at := r.worst()
		if ratio <= fitShare {
			return true
		}
		frame, ok := r.frameFor(r.at[at])
		if !ok {
			return false
		}
		value, slope := r.through(frame)
		n := len(r.cells)
		r.cells = append(r.cells, pegCell{Knot: motion.Knot{Value: value, Shape: motion.Sloped, SlopeIn: slope, SlopeOut: slope, Marked: true}, fresh: true, removable: true, tied: -1})
		if r.holds {
			r.cells[n].Shape = motion.Stay
		}
		i, _ := slices.BinarySearchFunc(r.pegs, frame, func(p peg, t float64) int {
			if p.time < t {
				return -1
			}
			return 1
		})
		r.pegs = slices.Insert(r.pegs, i, peg{time: frame, cell: n})
		r.free[freedom{n, false}] = true
		r.free[freedom{n, true}] = !r.holds
		if r.solve(r.parts(i)) {
			return true
		}
	}
	return false
}

// through is the motion's own value and slope at a frame.
func (r *rekeying) through(frame float64) (value, slope float64) {
	curve := r.curve()
	at := func(t float64) float64 { return curve.At(t) + r.off(t) }
	const beside = 0.5
	return at(frame), (at(frame+beside) - at(frame-beside)) / (2 * beside)
}

// reachOfRow is how many places of the raster a new key may stand off where it is needed most, to share a row.
const reachOfRow = 2

// frameFor is a time of the raster near a time, without a key within most of a frame; one at which the table has a row is
// preferred, and one on the sheet's grid.
func (r *rekeying) frameFor(t float64) (float64, bool) {
	best, least := 0.0, math.Inf(1)
	last := int(math.Round(r.extent.Length / r.unit))
	for off := -reachOfRow - 1; off <= reachOfRow+1; off++ {
		n := int(math.Round(t/r.unit)) + off
		if r.extent.Closed {
			n = ((n % last) + last) % last
		}
		frame := float64(n) * r.unit
		if n < 0 || n > last || r.taken(frame) {
			continue
		}
		cost := math.Abs(float64(off))
		if r.rows[n] {
			cost -= reachOfRow - 0.5
		}
		if r.onGrid(frame) {
			cost -= reachOfRow - 0.5
		}
		if cost < least {
			best, least = frame, cost
		}
	}
	return best, !math.IsInf(least, 1)
}

func (r *rekeying) onGrid(frame float64) bool {
	n := frame / r.grid
	return r.grid > 0 && math.Abs(n-math.Round(n)) < 1e-6
}

func (r *rekeying) taken(frame float64) bool {
	for i := range r.pegs {
		apart := math.Abs(r.pegs[i].time - frame)
		if r.extent.Closed {
			apart = math.Min(apart, r.extent.Length-apart)
		}
		if apart < 0.75 && !r.cells[r.pegs[i].cell].gone {
			return true
		}
	}
	return false
}
