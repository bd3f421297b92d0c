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

// withLimbs is the figure with some limbs solved: their joints' turns are replaced by where the end is, the turn of the
// limb's plane, and what is left of the joints' own turns. Places and turns of everything that carries a limb are counted
// from where they rest, so their rests are settled here, with what dropped channels stay at.
func (f *figure) withLimbs(limbs []limb, channels []channel, still stillness) (*ensemble, []channel) {
	g := *f
	skeleton := *f.skeleton
	g.skeleton, g.limbs = &skeleton, slices.Clone(limbs)
	g.skeleton.joints, g.series, g.at = slices.Clone(skeleton.joints), slices.Clone(f.series), slices.Clone(f.at)
	wanted := make([]bool, len(g.skeleton.joints))
	for n := range g.limbs {
		for i := g.limbs[n].end; i >= 0; i = g.skeleton.joints[i].parent {
			wanted[i] = true
		}
		for _, p := range g.limbs[n].plants {
			for i := p.on; i >= 0; i = g.skeleton.joints[i].parent {
				wanted[i] = true
			}
		}
	}
	dead := g.settleRests(channels, wanted)
	stands := f.standsAt(1, wanted)
	for n := range g.limbs {
		g.restLimb(&g.limbs[n], stands)
	}
	g.restPlace, g.restTurn = g.restPlaces(), g.restTurns()
	for n := range g.limbs {
		g.derive(&g.limbs[n], stands)
	}
	e := &ensemble{figures: []*figure{&g}, lead: &g, still: still}
	return e, e.limbChannels(channels, dead)
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

// restLimb puts a limb at rest as it mostly is in the clip, so that its twists are small and the way from rest to where
// its bones point is short.
func (f *figure) restLimb(l *limb, stands [][]stand) {
	joints := f.skeleton.joints
	for k, i := range []int{l.root, l.middle} {
		j := &joints[i]
		sum := meanTurn(j.path)
		j.order = order{(l.twists[k] + 1) % 3, (l.twists[k] + 2) % 3, l.twists[k]}
		slices.Sort(j.order[:2])
		j.setRest(j.order.angles(sum))
	}
	// Toward where the middle bends, seen from what carries the limb.
	var best float64
	for axis := range 3 {
		along, least := 0.0, 1.0
		for step := range stands {
			at := stands[step]
			side := at[joints[l.root].parent].linear.column(axis)
			line := at[l.end].place.minus(at[l.root].place)
			line = line.times(1 / math.Max(line.length(), 1e-9))
			knee := at[l.middle].place.minus(at[l.root].place)
			along += side.dot(knee.minus(line.times(knee.dot(line))))
			least = math.Min(least, math.Sqrt(math.Max(0, 1-line.dot(side)*line.dot(side))))
		}
		if worth := math.Abs(along) * least; worth > best {
			best, l.bends, l.way = worth, axis, math.Copysign(1, along)
		}
	}
}

// meanTurn is the turn in the middle of a path of turns.
func meanTurn(path []transform) quat {
	var sum quat
	for step := range path {
		turn := path[step].turn
		if turn.dot(sum) < 0 {
			turn = turn.times(-1)
		}
		sum = sum.plus(turn)
	}
	if sum.dot(sum) < 1e-12 {
		return path[0].turn
	}
	return sum.normal()
}

// derive makes the series of a solved limb: what its channels have to be for its joints to stand as in the clip.
func (f *figure) derive(l *limb, stands [][]stand) {
	joints := f.skeleton.joints
	l.restEnd, l.restTurn = f.restPlace[l.end], f.restTurn[l.middle]
	carrier := joints[l.root].parent
	goal, written := f.goalPath(l, stands)
	swivel := l.swivelPath(carrier, stands, goal)
	var twist [2][]float64
	for k := range twist {
		twist[k] = make([]float64, len(stands))
	}
	end := make([]transform, len(stands))
	angle := [2]float64{joints[l.root].restAngles[l.twists[0]], joints[l.middle].restAngles[l.twists[1]]}
	for step, at := range stands {
		own := [2]transform{joints[l.root].path[step], joints[l.middle].path[step]}
		for k, i := range []int{l.root, l.middle} {
			angles := joints[i].restAngles
			for range 3 {
				angles[l.twists[k]] = angle[k]
				own[k].turn = joints[i].order.quat(angles)
				a, b, _ := l.solve(at[carrier], at[carrier].carry(&own[0]), &own[1], &joints[l.end].path[step], goal[step], swivel[step])
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
			twist[k][step] = angle[k]
		}
		// As seen from where the goal turns it: see endTurn.
		end[step].turn = l.restTurn.inverse().after(f.plantedTurn(l, step, stands).inverse()).after(at[l.end].linear.turnOf())
	}
	for axis := range 3 {
		path := make([]float64, len(written))
		for step := range written {
			path[step] = written[step][axis]
		}
		l.goal[axis] = f.addLimb(series{joint: l.end, property: goals, axes: []int{axis}, clip: path, rest: l.restEnd[axis], pinned: true})
	}
	l.swivel = f.addLimb(series{joint: l.end, property: swivels, axes: []int{0}, clip: swivel, pinned: true})
	for k, i := range []int{l.root, l.middle} {
		rest := joints[i].restAngles[l.twists[k]]
		l.twist[k] = f.addLimb(series{joint: i, property: turns, axes: []int{l.twists[k]}, clip: twist[k], rest: rest, pinned: true})
		f.at[i][turns][l.twists[k]] = l.twist[k]
	}
	j := &joints[l.end]
	j.order, _ = safestOrder(end)
	j.setRest(j.order.angles(meanTurn(end)))
	angles := j.order.unroll(end)
	lift := near(angles[0], j.restAngles).minus(angles[0])
	for axis := range 3 {
		path := make([]float64, len(angles))
		for step := range angles {
			path[step] = angles[step][axis] + lift[axis]
		}
		f.at[l.end][turns][axis] = f.addLimb(series{joint: l.end, property: turns, axes: []int{axis}, clip: path, rest: j.restAngles[axis]})
	}
}

// nearlyClosed is by how much the ends of a solved limb's numbers may be apart in a cycle, in degrees and centimetres, for
// its end to be its start: what the arithmetic leaves.
const nearlyClosed = 0.01

// addLimb takes in a series that is no number of the clip itself, and gives its number.
func (f *figure) addLimb(s series) int {
	s.made = true
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

// limbChannels are the channels of the figure with its limbs solved: those that were, without what drove the limbs' turns,
// and new ones.
func (e *ensemble) limbChannels(channels []channel, dead []bool) []channel {
	f, all := e.lead, e.allClips()
	var out []channel
	fresh := func(series int) { out = append(out, e.channelOf(all, []int{series})...) }
	for _, c := range channels {
		gone := slices.ContainsFunc(c.drives, func(d drive) bool { return dead[d.series] })
		if !gone {
			if c.dropped && f.series[c.drives[0].series].property != scales {
				// The rest has it now.
				by := c.keys.value[0] - c.base
				c.keys = fit{at: []int{0}, value: []float64{c.base}, slope: []float64{0}}
				c.low, c.high = c.low-by, c.high-by
			}
			out = append(out, c)
			continue
		}
		for _, d := range c.drives {
			if !dead[d.series] {
				fresh(d.series)
			}
		}
	}
	for n := range f.limbs {
		l := &f.limbs[n]
		for _, s := range append(append(l.goal[:], l.swivel, l.twist[0], l.twist[1]), f.at[l.end][turns][:]...) {
			fresh(s)
		}
	}
	sortByControl(out)
	return out
}
