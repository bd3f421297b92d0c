package exchange

import (
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// A handle is one number that dials move: a move, turn or scale of a joint about one axis, one axis of a chain's goal, a
// chain's swivel, or the weight of a morph target.
type handle struct {
	kind  motion.DriveKind
	joint int // of moves, turns and scales
	chain int // of goals and swivels
	axis  int // of a weight, the rig's morph target
}

// A pull is how far a dial moves a handle, a unit of the dial.
type pull struct {
	handle, dial int
	gain         float64
}

// A gear is a set of handles and dials that hang together: nothing else moves these handles, and these dials move
// nothing else.
type gear struct {
	handles, dials []int
	pulls          []pull // by their places in handles and dials
}

// Gears are what a rig's dials move, and how far each dial may be off.
type gears struct {
	rig     *motion.Rig
	handles []handle
	gears   []gear
	// limits of the dials, in their units; infinite for one that moves nothing.
	limits []float64
	within Within
	at     map[handle]int
}

// gearsOf takes a rig apart into gears. The limits of turns follow from those of their joint, shared by its axes, and
// from what hangs on it in the world.
func gearsOf(rig *motion.Rig, within Within) *gears {
	g := &gears{rig: rig, within: within, at: map[handle]int{}, limits: make([]float64, len(rig.Channels))}
	var pulls []pull
	for dial := range rig.Channels {
		for _, d := range rig.Channels[dial].Drives {
			for axis := range 3 {
				if !d.Axes[axis] && !(d.Kind == motion.DrivesSwivel && axis == 0) || d.Gain == 0 {
					continue
				}
				h := handle{kind: d.Kind, joint: d.Joint, axis: axis, chain: -1}
				if d.Joint < 0 {
					h.chain = rig.ChainIndex(d.Goal)
				}
				pulls = append(pulls, pull{g.numberOf(h), dial, d.Gain})
			}
		}
	}
	pulls = g.blendPulls(pulls)
	g.group(pulls)
	g.limit(pulls, within)
	return g
}

// numberOf is the number of a handle, a new one where it has none yet.
func (g *gears) numberOf(h handle) int {
	n, known := g.at[h]
	if !known {
		n = len(g.handles)
		g.at[h] = n
		g.handles = append(g.handles, h)
	}
	return n
}

// group puts together what hangs together.
func (g *gears) group(pulls []pull) {
	sets := eachAlone(len(g.rig.Channels))
	first := map[int]int{} // of each handle, a dial
	for _, p := range pulls {
		if other, ok := first[p.handle]; ok {
			sets.join(other, p.dial)
			continue
		}
		first[p.handle] = p.dial
	}
	index := map[int]int{}
	place := func(list *[]int, n int) int {
		for i, have := range *list {
			if have == n {
				return i
			}
		}
		*list = append(*list, n)
		return len(*list) - 1
	}
	for _, p := range pulls {
		set := sets.find(p.dial)
		if _, ok := index[set]; !ok {
			index[set] = len(g.gears)
			g.gears = append(g.gears, gear{})
		}
		gear := &g.gears[index[set]]
		gear.pulls = append(gear.pulls, pull{place(&gear.handles, p.handle), place(&gear.dials, p.dial), p.gain})
	}
}

// swivelShare is how much farther than a joint's turn a swivel may be off: it moves nothing but the middle of a limb, and
// that by less than a bone's length.
const swivelShare = 4

func (g *gears) limit(pulls []pull, within Within) {
	axes := map[[2]int]int{}
	for _, h := range g.handles {
		axes[[2]int{int(h.kind), h.joint}]++
	}
	reach := levers(g.rig)
	for i := range g.limits {
		g.limits[i] = math.Inf(1)
	}
	for _, p := range pulls {
		h := g.handles[p.handle]
		limit := within.MoveCM
		switch h.kind {
		case motion.DrivesTurn:
			limit = 0.95 * within.TurnDeg / math.Sqrt(float64(axes[[2]int{int(h.kind), h.joint}]))
			limit = math.Min(limit, worldShare*within.WorldCM/math.Max(reach[h.joint]/degrees, 1e-9))
		case motion.DrivesScale:
			limit = math.Min(within.ScalePercent, worldShare*within.WorldCM/math.Max(reach[h.joint]/100, 1e-9))
		case motion.DrivesSwivel:
			limit = swivelShare * within.TurnDeg
		case drivesWeight:
			limit = within.WeightPercent
		}
		g.limits[p.dial] = math.Min(g.limits[p.dial], math.Max(leastAllowance, limit)/math.Abs(p.gain))
	}
}

// A wanted is how much more than a sheet a clip wants of each dial at each moment; NaN where it doesn't matter, as for
// the swing of an arm whose hand is held.
type wanted struct {
	more [][]float64 // by dial and moment; nil for a dial that moves nothing
	// worst is by how many of its limits a dial is off at most.
	worst []float64
	// plain says that a joint which the dial moves is itself farther off than it may be, and not only a part of many that
	// add up in the world.
	plain []bool
	// lifts are how much more than the sheet the clip gains in a round.
	lifts []float64
}

// unknown is what it wants of a dial that doesn't matter.
func unknown() float64 { return math.NaN() }

// wants holds the clip against a sheet.
func (f *footage) wants(m *motion.Motion, g *gears) *wanted {
	w := &wanted{more: make([][]float64, len(m.Channels)), worst: make([]float64, len(m.Channels)), plain: make([]bool, len(m.Channels)), lifts: make([]float64, len(m.Channels))}
	sight := newSight(f, m, g)
	need := make([][]float64, len(f.at)) // by moment and handle
	for k := range f.at {
		need[k] = sight.look(k)
	}
	sight.planted(need)
	for i := range g.gears {
		for _, p := range g.gears[i].pulls {
			dial, handle := g.gears[i].dials[p.dial], g.gears[i].handles[p.handle]
			w.more[dial] = make([]float64, len(f.at))
			w.plain[dial] = w.plain[dial] || sight.plain[handle]
		}
		for k := range f.at {
			g.gears[i].solve(need[k], func(dial int, more float64) { w.more[dial][k] = more })
		}
	}
	for dial, more := range w.more {
		for _, v := range more {
			if !math.IsNaN(v) {
				w.worst[dial] = math.Max(w.worst[dial], math.Abs(v)/g.limits[dial])
			}
		}
	}
	if len(f.end) > 0 {
		f.lifts(w, m, g)
	}
	return w
}

// lifts are told from the moves and turns at a cycle's end, where the sheet's are those at its start, and what it gains.
func (f *footage) lifts(w *wanted, m *motion.Motion, g *gears) {
	for i := range g.gears {
		if len(g.gears[i].dials) > 1 {
			continue
		}
		dial := g.gears[i].dials[0]
		h := g.handles[g.gears[i].handles[0]]
		if h.kind != motion.DrivesMove || m.Sheet.Advance[m.Rig.Channels[dial].Path] == 0 {
			continue
		}
		rise := (f.end[0][h.joint].move[h.axis] - f.own[0][h.joint].move[h.axis]) / g.gears[i].pulls[0].gain
		w.lifts[dial] = rise - m.Sheet.Advance[m.Rig.Channels[dial].Path]
	}
}

// solve finds the smallest turns of dials that move the handles as needed, by least squares; a dial all of whose handles
// are unknown is unknown.
func (g *gear) solve(need []float64, give func(dial int, more float64)) {
	if len(g.dials) == 1 {
		var with, size float64
		for _, p := range g.pulls {
			if n := need[g.handles[p.handle]]; !math.IsNaN(n) {
				with, size = with+p.gain*n, size+p.gain*p.gain
			}
		}
		if size == 0 {
			give(g.dials[0], unknown())
			return
		}
		give(g.dials[0], with/size)
		return
	}
	n := len(g.dials)
	rows := make([][]float64, len(g.handles))
	for i := range rows {
		rows[i] = make([]float64, n)
	}
	for _, p := range g.pulls {
		rows[p.handle][p.dial] += p.gain
	}
	normal, right := make([][]float64, n), make([]float64, n)
	for i := range normal {
		normal[i] = make([]float64, n)
	}
	size := 0.0
	for r, row := range rows {
		want := need[g.handles[r]]
		if math.IsNaN(want) {
			continue
		}
		for i := range n {
			right[i] += row[i] * want
			for j := range n {
				normal[i][j] += row[i] * row[j]
			}
			size += row[i] * row[i]
		}
	}
	free := make([]bool, n)
	for i := range n {
		free[i] = normal[i][i] == 0
		// A whisper, so that of several ways the smallest is taken.
		normal[i][i] += 1e-9*size + 1e-30
	}
	solveDense(normal, right)
	for i, dial := range g.dials {
		if free[i] {
			give(dial, unknown())
			continue
		}
		give(dial, right[i])
	}
}

// solveDense solves a symmetric positive definite system in place by Cholesky's method; the answer is in right.
func solveDense(a [][]float64, right []float64) {
	n := len(a)
	for i := range n {
		for j := 0; j <= i; j++ {
			sum := a[i][j]
			for k := range j {
				sum -= a[i][k] * a[j][k]
			}
			if i == j {
				a[i][i] = math.Sqrt(math.Max(sum, 1e-300))
				continue
			}
			a[i][j] = sum / a[j][j]
		}
	}
	for i := range n {
		for k := range i {
			right[i] -= a[i][k] * right[k]
		}
		right[i] /= a[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			right[i] -= a[k][i] * right[k]
		}
		right[i] /= a[i][i]
	}
}
