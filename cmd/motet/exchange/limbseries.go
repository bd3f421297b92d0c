package exchange

import (
	"math"
	"slices"
)

// What a chain is given, besides moves, turns and scales of joints: where its end is, and the turn of its plane.
const (
	goals   property = 4
	swivels property = 5
)

// withLimbs is what is settled with some limbs solved, those of each figure that are not idle in it: their joints' turns
// are replaced by where the end is, the turn of the limb's plane, and what is left of the joints' own turns. Places and
// turns of everything that carries a limb are counted from where they rest, so their rests are settled here, with what
// dropped channels stay at. limbs are the same in all figures but for their plants.
func (e *settled) withLimbs(limbs [][]limb) (*ensemble, [][]channel) {
	g := &ensemble{still: e.still, over: e.over}
	wanted := make([]bool, len(e.lead.skeleton.joints))
	for k, f := range e.figures {
		own := *f
		skeleton := *f.skeleton
		own.skeleton, own.limbs = &skeleton, slices.Clone(limbs[k])
		skeleton.joints, own.series, own.at = slices.Clone(skeleton.joints), slices.Clone(f.series), slices.Clone(f.at)
		g.figures = append(g.figures, &own)
		if f == e.lead {
			g.lead = &own
		}
		own.markCarriers(wanted)
	}
	var dead []bool
	for k, f := range g.figures {
		dead = f.settleRests(e.channels[k], wanted)
	}
	for n := range g.lead.limbs {
		if e.over == nil {
			g.restLimb(n)
		}
	}
	eachOf(len(g.figures), func(k int) {
		f := g.figures[k]
		f.restPlace, f.restTurn = f.restPlaces(), f.restTurns()
		f.bendLimbs(e.figures[k], wanted)
	})
	if e.over == nil {
		g.agreeOnBends()
	}
	paths := make([][]limbPaths, len(g.figures)) // by figure and limb
	eachOf(len(g.figures), func(k int) {
		f := g.figures[k]
		paths[k] = make([]limbPaths, len(f.limbs))
		var stands [][]stand
		for n := range f.limbs {
			l := &f.limbs[n]
			l.restEnd, l.restTurn = f.restPlace[l.end], f.restTurn[l.middle]
			if l.idle {
				continue
			}
			if stands == nil {
				stands = e.figures[k].standsAt(1, wanted)
			}
			paths[k][n] = f.derive(l, stands)
		}
	})
	for n := range g.lead.limbs {
		g.addLimb(n, paths)
	}
	if e.over != nil {
		return g, nil // all of them are made anew
	}
	return g, g.limbChannels(e.channels, dead)
}

// markCarriers marks all that carries a figure's limbs, or what these are planted on.
func (f *figure) markCarriers(wanted []bool) {
	mark := func(i int) {
		for ; i >= 0; i = f.skeleton.joints[i].parent {
			wanted[i] = true
		}
	}
	for n := range f.limbs {
		mark(f.limbs[n].end)
		for _, p := range f.limbs[n].plants {
			mark(p.on)
		}
	}
}

// settleRests takes the turns of the limbs' joints away, and keeps what carries them at rest where it is. It tells which
// series are gone.
func (f *figure) settleRests(channels []channel, wanted []bool) (dead []bool) {
	dead = make([]bool, len(f.series))
	for n := range f.limbs {
		l := &f.limbs[n]
		for _, i := range []int{l.root, l.middle, l.end} {
			for axis, s := range f.at[i][turns] {
				if s >= 0 {
					dead[s], f.series[s].gone, f.at[i][turns][axis] = true, true, -1
				}
			}
		}
	}
	for i := range channels {
		c := &channels[i]
		for _, d := range c.drives {
			s := &f.series[d.series]
			if c.dropped && s.property != scales {
				s.rest = tidy(s.rest + d.gain*(c.keys.value[0]-c.base))
			}
			if wanted[s.joint] && !dead[d.series] {
				s.pinned = true
			}
		}
	}
	for n := range f.series {
		if s := &f.series[n]; !dead[n] {
			f.setSeriesRest(f.skeleton.joints, s, s.rest)
		}
	}
	for i := range f.skeleton.joints {
		j := &f.skeleton.joints[i]
		j.rest.turn = j.order.quat(j.restAngles)
	}
	return dead
}

// idles tells whether a limb is not solved in some figure, so that its joints need all their turns there.
func (e *ensemble) idles(n int) bool {
	return slices.ContainsFunc(e.figures, func(f *figure) bool { return f.limbs[n].idle })
}

// limbPaths are the numbers of a solved limb at each step: where its goal is written, its swivel, the twists of root and
// middle, and how its end is turned.
type limbPaths struct {
	goal   []vec3
	swivel []float64
	twist  [2][]float64
	end    []transform
}

// derive finds what a limb's channels have to be for its joints to stand as in the clip.
func (f *figure) derive(l *limb, stands [][]stand) limbPaths {
	joints := f.skeleton.joints
	carrier := joints[l.root].parent
	goal, written := f.goalPath(l, stands)
	out := limbPaths{goal: written, swivel: l.swivelPath(carrier, stands, goal), end: make([]transform, len(stands))}
	for k := range out.twist {
		out.twist[k] = make([]float64, len(stands))
	}
	angle := [2]float64{joints[l.root].restAngles[l.twists[0]], joints[l.middle].restAngles[l.twists[1]]}
	for step, at := range stands {
		own := [2]transform{joints[l.root].path[step], joints[l.middle].path[step]}
		for k, i := range []int{l.root, l.middle} {
			angles := joints[i].restAngles
			tries := 3
			if step == 0 {
				tries = 50 // from where it rests; then from the step before
			}
			for range tries {
				angles[l.twists[k]] = angle[k]
				own[k].turn = joints[i].order.quat(angles)
				a, b, _ := l.solve(at[carrier], at[carrier].carry(&own[0]), &own[1], &joints[l.end].path[step], goal[step], out.swivel[step])
				have := [2]stand{a, b}[k].linear
				off := have.turnOf().inverse().after(at[i].linear.turnOf())
				if off[3] < 0 {
					off = off.times(-1)
				}
				more := 2 * math.Atan2(off[l.twists[k]], off[3]) * degrees
				angle[k] += more
				if math.Abs(more) < 1e-5 {
					break
				}
			}
			angles[l.twists[k]] = angle[k]
			own[k].turn = joints[i].order.quat(angles)
			out.twist[k][step] = angle[k]
		}
		// As seen from where the goal turns it: see endTurn.
		out.end[step].turn = l.restTurn.inverse().after(f.plantedTurn(l, step, stands).inverse()).after(at[l.end].linear.turnOf())
	}
	return out
}

// addLimb takes in a limb's series in all figures: those of the goal, the swivel and the twists, and where it idles in any
// the other turns of its root and middle; and the turns of its end.
func (e *ensemble) addLimb(n int, paths [][]limbPaths) {
	lead := &e.lead.limbs[n]
	for axis := range 3 {
		for k, f := range e.figures {
			l := &f.limbs[n]
			path := make([]float64, 0, f.skeleton.steps)
			for _, at := range paths[k][n].goal {
				path = append(path, at[axis])
			}
			l.goal[axis] = f.addMade(series{joint: l.end, property: goals, axes: []int{axis}, clip: path, rest: l.restEnd[axis], pinned: true, idle: l.idle})
		}
	}
	for k, f := range e.figures {
		l := &f.limbs[n]
		l.swivel = f.addMade(series{joint: l.end, property: swivels, axes: []int{0}, clip: paths[k][n].swivel, pinned: true, idle: l.idle})
	}
	for k, i := range []int{lead.root, lead.middle} {
		for axis := range 3 {
			if axis != lead.twists[k] && !e.idles(n) && e.over == nil {
				continue
			}
			for m, f := range e.figures {
				l, j := &f.limbs[n], &f.skeleton.joints[i]
				s := series{joint: i, property: turns, axes: []int{axis}, rest: j.restAngles[axis], pinned: true}
				at := &f.at[i][turns][axis]
				switch {
				case l.idle:
					*at = e.addOwn(f, s, j.order)
				case axis == lead.twists[k]:
					s.clip = paths[m][n].twist[k]
					*at = f.addMade(s)
				default:
					s.held = true
					s.clip = slices.Repeat([]float64{s.rest}, f.skeleton.steps)
					*at = f.addMade(s)
				}
				if axis == lead.twists[k] {
					l.twist[k] = *at
				}
			}
		}
	}
	e.addEnd(n, paths)
}

// addEnd takes in the turns of a limb's end: as its goal turns it where it is solved, and its own where it idles.
func (e *ensemble) addEnd(n int, paths [][]limbPaths) {
	end := e.lead.limbs[n].end
	var all [][]transform
	var held []transform
	for k, f := range e.figures {
		switch j := &f.skeleton.joints[end]; {
		case !f.limbs[n].idle:
			all, held = append(all, paths[k][n].end), append(held, paths[k][n].end...)
		case !j.absent:
			all = append(all, j.path)
		}
	}
	o := e.lead.skeleton.joints[end].order
	if e.over == nil {
		o, _ = safestOrder(all...)
		angles := o.angles(meanTurn(held))
		for _, f := range e.figures {
			f.skeleton.joints[end].order = o
			f.skeleton.joints[end].setRest(angles)
		}
	}
	for axis := range 3 {
		for k, f := range e.figures {
			j := &f.skeleton.joints[end]
			s := series{joint: end, property: turns, axes: []int{axis}, rest: j.restAngles[axis]}
			if f.limbs[n].idle {
				f.at[end][turns][axis] = e.addOwn(f, s, o)
				continue
			}
			unrolled := o.unroll(paths[k][n].end)
			if e.over != nil {
				unrolled = o.beside(unrolled, j.restAngles)
			}
			lift := near(unrolled[0], j.restAngles).minus(unrolled[0])
			for _, a := range unrolled {
				s.clip = append(s.clip, a[axis]+lift[axis])
			}
			f.at[end][turns][axis] = f.addMade(s)
		}
	}
}

// addOwn takes in a turn of a joint as the clip itself has it, of a limb that is not solved there.
func (e *ensemble) addOwn(f *figure, s series, o order) int {
	j := &f.skeleton.joints[s.joint]
	if !j.absent {
		for _, a := range o.beside(o.unroll(j.path), j.restAngles) {
			s.clip = append(s.clip, a[s.axes[0]])
		}
	}
	return f.takeIn(s, e.still.turnDeg, len(e.figures) > 1)
}

// nearlyClosed is by how much the ends of a solved limb's numbers may be apart in a cycle, in degrees and centimetres, for
// its end to be its start: what the arithmetic leaves.
const nearlyClosed = 0.01

// addMade takes in a series that is no number of the clip itself, and gives its number. One that idles stays at rest.
func (f *figure) addMade(s series) int {
	s.made = true
	if s.idle {
		s.clip = slices.Repeat([]float64{s.rest}, f.skeleton.steps)
	}
	if last := len(s.clip) - 1; f.closed {
		off := s.clip[last] - s.clip[0]
		if s.property != goals {
			s.gain = 360 * math.Round(off/360)
		}
		if off -= s.gain; math.Abs(off) < nearlyClosed {
			s.clip[last] = s.clip[0] + s.gain
		} else {
			s.torn = true
		}
	}
	s.smooth = smoothCurve(s.clip, f.closed && !s.torn, s.gain)
	f.series = append(f.series, s)
	return len(f.series) - 1
}

// goalPath is where a limb's end shall be at each step, as in the clip, or while it is planted, where it stands; and where
// the sheet puts the goal, which a joint that it is planted on carries from where it was at first.
func (f *figure) goalPath(l *limb, stands [][]stand) (goal, written []vec3) {
	goal, written = make([]vec3, len(stands)), make([]vec3, len(stands))
	for step := range stands {
		goal[step] = stands[step][l.end].place
		p := f.plantAt(l, step)
		switch {
		case p == nil:
		case p.on < 0:
			goal[step] = p.anchor
		default:
			goal[step] = stands[step][p.on].apply(p.anchor)
			written[step] = stands[p.from*stepsPerFrame][p.on].apply(p.anchor)
			continue
		}
		written[step] = goal[step]
	}
	return goal, written
}

// plantAt is the plant that holds a limb at a step, nil where none does.
func (f *figure) plantAt(l *limb, step int) *plant {
	steps := f.time.frames * stepsPerFrame
	if f.closed {
		step %= steps
	}
	for i := range l.plants {
		p := &l.plants[i]
		from, to := p.from*stepsPerFrame, p.to*stepsPerFrame
		if from <= step && step <= to || f.closed && step+steps <= to {
			return p
		}
	}
	return nil
}

// plantedTurn is how much what carries a planted limb's end has turned since the plant began.
func (f *figure) plantedTurn(l *limb, step int, stands [][]stand) quat {
	p := f.plantAt(l, step)
	if p == nil || p.on < 0 {
		return quat{0, 0, 0, 1}
	}
	from := stands[p.from*stepsPerFrame][p.on].linear.turnOf()
	return stands[step][p.on].linear.turnOf().after(from.inverse())
}

// swivelPath is the turn of the limb's plane about the line from its root to its goal, in degrees. Where the limb is as
// good as straight, its plane is taken from the moments before and after.
func (l *limb) swivelPath(carrier int, stands [][]stand, goal []vec3) []float64 {
	out := make([]float64, len(stands))
	known := -1
	for step, at := range stands {
		line := goal[step].minus(at[l.root].place)
		line = line.times(1 / math.Max(line.length(), 1e-9))
		upper := at[l.middle].place.minus(at[l.root].place)
		knee := upper.minus(line.times(upper.dot(line)))
		if knee.length() < straightShare*upper.length() {
			continue
		}
		side := across(l.bendsIn(at[carrier]), line)
		angle := math.Atan2(line.dot(side.cross(knee)), side.dot(knee)) * degrees
		if known >= 0 {
			angle -= 360 * math.Round((angle-out[known])/360)
		}
		out[step] = angle
		for between := known + 1; between < step; between++ {
			out[between] = angle
			if known >= 0 {
				out[between] = out[known] + (angle-out[known])*float64(between-known)/float64(step-known)
			}
		}
		known = step
	}
	for step := known + 1; known >= 0 && step < len(out); step++ {
		out[step] = out[known]
	}
	return out
}

// straightShare is how far the middle is beside the line from root to end, as a share of the upper bone, below which the
// limb's plane is not read from it.
const straightShare = 0.0008

// limbChannels are the channels of the figures with their limbs solved: those that were, without what drove the limbs'
// turns, and new ones.
func (e *ensemble) limbChannels(channels [][]channel, dead []bool) [][]channel {
	all := e.allClips()
	out := make([][]channel, len(channels))
	fresh := func(series int) {
		for k, c := range e.channelOf(all, []int{series}) {
			out[k] = append(out[k], c)
		}
	}
	for i := range channels[0] {
		if slices.ContainsFunc(channels[0][i].drives, func(d drive) bool { return dead[d.series] }) {
			for _, d := range channels[0][i].drives {
				if !dead[d.series] {
					fresh(d.series)
				}
			}
			continue
		}
		for k, f := range e.figures {
			c := channels[k][i]
			if c.dropped && f.series[c.drives[0].series].property != scales {
				// The rest has it now.
				by := c.keys.value[0] - c.base
				c.keys = fit{at: []int{0}, value: []float64{c.base}, slope: []float64{0}}
				c.low, c.high = c.low-by, c.high-by
			}
			out[k] = append(out[k], c)
		}
	}
	for n := range e.lead.limbs {
		l := &e.lead.limbs[n]
		for _, s := range append(l.goal[:], l.swivel) {
			fresh(s)
		}
		for _, i := range []int{l.root, l.middle, l.end} {
			for _, s := range e.lead.at[i][turns] {
				if s >= 0 {
					fresh(s)
				}
			}
		}
	}
	for k := range out {
		sortByControl(out[k])
	}
	return out
}
