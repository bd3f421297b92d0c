package exchange

import (
	"math"
	"slices"
)

// A mesh is dials of a rig that move numbers together, so that each number tells only what several of them add up to. Each
// dial, in the order of the rig's table, has one number for its own: the one that it moves most of those that no dial
// before it has. What all of them are is then the one answer for these numbers. A dial for which none is left stays at
// rest: what it could do, those before it do.
type mesh struct {
	// own is each dial's own series, and inverse what a dial is, by how far each of these series departs from rest.
	own     []int
	inverse [][]float64
	// gains are those of each series that any dial moves, by dial.
	gains map[int][]float64
}

// leastPivot is the share of a dial's largest gain that must be left for a number to be its own: below it, the dials before
// it do nearly the same.
const leastPivot = 1e-3

// mesh makes a mesh of some channels, and tells which of them stay at rest.
func (e *ensemble) mesh(out []channel, together []int) (unused []int) {
	m := &mesh{gains: map[int][]float64{}}
	gain := func(channel, series int) float64 {
		for _, d := range out[channel].drives {
			if d.series == series {
				return d.gain
			}
		}
		return 0
	}
	var used []int
	for _, c := range together {
		best, own := 0.0, -1
		for _, d := range out[c].drives {
			if slices.Contains(m.own, d.series) {
				continue
			}
			// What is left of the gain when the dials before it hold their own numbers where they are.
			left := d.gain
			for place, before := range used {
				hold := 0.0
				for j, n := range m.own {
					hold += m.inverse[place][j] * gain(c, n)
				}
				left -= gain(before, d.series) * hold
			}
			if math.Abs(left) > best+1e-12 {
				best, own = math.Abs(left), d.series
			}
		}
		if own < 0 || best < leastPivot*math.Abs(out[c].drives[0].gain) {
			unused = append(unused, c)
			e.over.resting[out[c].number] = "dials before it in the rig's table can do what it does"
			continue
		}
		used, m.own = append(used, c), append(m.own, own)
		rows := make([][]float64, len(used))
		for j, n := range m.own {
			rows[j] = make([]float64, len(used))
			for place, c := range used {
				rows[j][place] = gain(c, n)
			}
		}
		m.inverse = inverted(rows)
	}
	for place, c := range used {
		for _, d := range out[c].drives {
			if m.gains[d.series] == nil {
				m.gains[d.series] = make([]float64, len(used))
			}
			m.gains[d.series][place] = d.gain
		}
	}
	for place, c := range used {
		out[c].mesh, out[c].place = m, place
		own := slices.IndexFunc(out[c].drives, func(d drive) bool { return d.series == m.own[place] })
		out[c].drives[0], out[c].drives[own] = out[c].drives[own], out[c].drives[0]
	}
	return unused
}

// inverted is the inverse of a small square matrix, by Gauss and Jordan's elimination with the largest pivot of a column.
func inverted(rows [][]float64) [][]float64 {
	n := len(rows)
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		out[i][i] = 1
	}
	for column := range n {
		pivot := column
		for i := column; i < n; i++ {
			if math.Abs(rows[i][column]) > math.Abs(rows[pivot][column]) {
				pivot = i
			}
		}
		rows[column], rows[pivot] = rows[pivot], rows[column]
		out[column], out[pivot] = out[pivot], out[column]
		by := 1 / rows[column][column]
		for k := range n {
			rows[column][k] *= by
			out[column][k] *= by
		}
		for i := range n {
			if by := rows[i][column]; i != column && by != 0 {
				for k := range n {
					rows[i][k] -= by * rows[column][k]
					out[i][k] -= by * out[column][k]
				}
			}
		}
	}
	return out
}

// dial is what a dial is for numbers of the dials' own series.
func (m *mesh) dial(place int, of func(series int) float64) float64 {
	sum := 0.0
	for j, n := range m.own {
		sum += m.inverse[place][j] * of(n)
	}
	return sum
}

// torn tells whether any dial's own series does not close.
func (m *mesh) torn(f *figure) bool {
	return slices.ContainsFunc(m.own, func(n int) bool { return f.series[n].torn })
}

// wants is how far from rest a dial wants to be at each step of a clip.
func (m *mesh) wants(f *figure, place int) []float64 {
	out := make([]float64, f.skeleton.steps)
	for k := range out {
		out[k] = m.dial(place, func(n int) float64 { return f.series[n].smooth[k] - f.series[n].rest })
	}
	return out
}

// left is what the dials leave of a series at a step, when each of them has its own.
func (m *mesh) left(f *figure, n, step int) float64 {
	s := &f.series[n]
	if slices.Contains(m.own, n) {
		return 0
	}
	out := s.smooth[step] - s.rest
	for place, gain := range m.gains[n] {
		if gain != 0 {
			out -= gain * m.dial(place, func(n int) float64 { return f.series[n].smooth[step] - f.series[n].rest })
		}
	}
	return out
}

// movers is how many dials move a series.
func (m *mesh) movers(n int) (movers float64) {
	for _, gain := range m.gains[n] {
		if gain != 0 {
			movers++
		}
	}
	return movers
}

// leftShare is how much of a number's allowance may be what a mesh leaves of it, before it has a dial of its own.
const leftShare = 0.5

// fits tells whether what a mesh leaves of a series in a clip is within what it is allowed.
func (m *mesh) fits(f *figure, n int, allowance [][]float64) bool {
	if f.series[n].idle || f.skeleton.joints[f.series[n].joint].absent {
		return true
	}
	for k := range f.skeleton.steps {
		if math.Abs(m.left(f, n, k)) > leftShare*allowance[n][k/stepsPerFrame] {
			return false
		}
	}
	return true
}

// loosenMesh lets go of the numbers that the dials of a mesh do not move as the clips do. It tells which.
func (e *ensemble) loosenMesh(channels [][]channel, m *mesh, allowance [][][]float64) (more []int) {
	for n := range m.gains {
		if slices.Contains(m.own, n) {
			continue
		}
		fits := true
		for k, f := range e.figures {
			fits = fits && m.fits(f, n, allowance[k])
		}
		if fits {
			continue
		}
		fresh := false
		for k := range channels {
			for c := range channels[k] {
				for d := range channels[k][c].drives {
					if own := &channels[k][c].drives[d]; channels[k][c].mesh == m && own.series == n && !own.loose {
						own.loose, fresh = true, true
					}
				}
			}
		}
		if fresh {
			more = append(more, n)
		}
	}
	slices.Sort(more)
	return more
}

// meshTube is what the curve of a dial of a mesh has to stay inside: what it wants, as closely as its share of what each
// number that it moves may be off. ok is false when a number is not moved as the clip does.
func (f *figure) meshTube(c *channel, t *tube, allowance [][]float64) (ok bool) {
	ok = true
	for _, d := range c.drives {
		ok = ok && (d.loose || slices.Contains(c.mesh.own, d.series) || c.mesh.fits(f, d.series, allowance))
	}
	trend := c.gain / float64(f.skeleton.steps-1)
	for k := range t.middle {
		half := math.Inf(1)
		for _, d := range c.drives {
			s := &f.series[d.series]
			if d.loose || s.idle || f.skeleton.joints[s.joint].absent {
				continue
			}
			allowed := allowance[d.series][k/stepsPerFrame]
			if k%stepsPerFrame != 0 {
				allowed = math.Min(allowed, allowance[d.series][k/stepsPerFrame+1])
			}
			if !slices.Contains(c.mesh.own, d.series) {
				allowed = math.Max((1-leftShare)*allowed, allowed-math.Abs(c.mesh.left(f, d.series, k)))
			}
			half = math.Min(half, allowed/(c.mesh.movers(d.series)*math.Abs(d.gain)))
		}
		if math.IsInf(half, 1) {
			half = 1
		}
		t.middle[k], t.half[k] = c.want[k]+c.base-trend*float64(k), half
	}
	return ok
}
