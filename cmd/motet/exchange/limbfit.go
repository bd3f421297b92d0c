package exchange

import (
	"math"
	"slices"
)

// A limbSight is what a solved limb's numbers do to its joints at a frame, for dividing what is allowed among them.
type limbSight struct {
	// line is the way from root to end, at length 1.
	line vec3
	// bendPerCM is by how many degrees root, middle and end turn when the distance from root to end changes by one
	// centimetre, and swingPerCM when the end goes one centimetre sideways.
	bendPerCM, swingPerCM float64
	// sidePerSwivel is by how many degrees the bones turn with one of the swivel.
	sidePerSwivel float64
}

// sightOf looks at a limb in the clip. Where it is nearly straight the bend is as for one that is bent a little: no
// allowance could be small enough for less.
func (f *figure) sightOf(l *limb, frame int) limbSight {
	place := f.world[frame*stepsPerFrame]
	a, b, c := place[l.root], place[l.middle], place[l.end]
	upper, lower, distance := a.to(b), b.to(c), math.Max(a.to(c), 1e-6)
	line := c.minus(a).times(1 / distance)
	bend := b.minus(a).angleTo(c.minus(b)) / degrees
	perCM := degrees * distance / math.Max(upper*lower*math.Sin(bend), 0.03*upper*lower)
	aside := b.minus(a)
	aside = aside.minus(line.times(aside.dot(line)))
	return limbSight{line: line, bendPerCM: perCM, swingPerCM: degrees / distance, sidePerSwivel: aside.length() / math.Min(upper, lower)}
}

// limbShare is how much of a joint's limit one number of its limb may use before all are added up, and carrierShare how
// much what carries the limb may.
const (
	limbShare    = 0.4
	carrierShare = 0.35
)

// limbAllowances are how far the series of solved limbs may be off at each frame to begin with, behind those that the
// figure had before, which have to keep closer where they carry a limb.
func (f *figure) limbAllowances(before [][]float64, within Within) [][]float64 {
	out := f.allowances(within)
	for n := range before {
		out[n] = slices.Clone(before[n])
	}
	for n := range f.limbs {
		l := &f.limbs[n]
		if l.idle {
			continue
		}
		for frame := range f.time.frames + 1 {
			sight := f.sightOf(l, frame)
			for axis, s := range l.goal {
				along := math.Abs(sight.line[axis])
				perCM := math.Max(along*sight.bendPerCM, math.Sqrt(1-math.Min(1, along*along))*sight.swingPerCM)
				out[s][frame] = math.Max(leastAllowance, math.Min(math.Min(0.95*within.MoveCM, worldShare*within.WorldCM), limbShare*within.TurnDeg/perCM))
			}
			out[l.swivel][frame] = math.Min(limbShare*within.TurnDeg/math.Max(sight.sidePerSwivel, 0.02), 0.95*swivelShare*within.TurnDeg)
			for _, s := range l.twist {
				out[s][frame] = limbShare * within.TurnDeg
			}
			for _, s := range f.at[l.end][turns] {
				out[s][frame] = limbShare * within.TurnDeg
			}
			f.eachCarrier(l, func(n int, perUnit float64) {
				if perUnit > 0 {
					out[n][frame] = math.Max(leastAllowance, math.Min(out[n][frame], carrierShare*within.TurnDeg/perUnit))
				}
			}, frame, sight)
		}
		for _, p := range l.plants {
			for _, s := range l.goal {
				least := out[s][p.from]
				for k := p.from; k <= p.to; k++ {
					least = math.Min(least, out[s][frameIn(k, f.time.frames)])
				}
				out[s][p.from] = least
			}
		}
	}
	return out
}

// frameIn brings a frame of a plant that crosses the seam of a cycle of n frames into it.
func frameIn(frame, n int) int {
	if frame > n {
		return frame - n
	}
	return frame
}

// eachCarrier goes through the series of all that carries a limb, or what it is planted on, with by how many degrees one
// unit of them turns the limb's joints on each other at a frame.
func (f *figure) eachCarrier(l *limb, do func(n int, perUnit float64), frame int, sight limbSight) {
	place := f.world[frame*stepsPerFrame]
	joints := f.skeleton.joints
	for i := joints[l.root].parent; i >= 0; i = joints[i].parent {
		for n, s := range f.seriesOf(i) {
			do(n, s.limbEffect(place[i].to(place[l.root]), sight))
		}
	}
	for n, s := range f.seriesOf(l.root) {
		if s.property == moves {
			do(n, s.limbEffect(0, sight))
		}
	}
	p := f.plantAt(l, frame*stepsPerFrame)
	if p == nil || p.on < 0 {
		return
	}
	carries := map[int]bool{}
	for i := joints[l.root].parent; i >= 0; i = joints[i].parent {
		carries[i] = true
	}
	for i := p.on; i >= 0 && !carries[i]; i = joints[i].parent {
		for n, s := range f.seriesOf(i) {
			do(n, s.limbEffect(place[i].to(place[l.end]), sight))
		}
	}
}

// limbEffect is by how many degrees one unit of a series that carries a limb turns the limb's joints on each other.
func (s *series) limbEffect(reachCM float64, sight limbSight) float64 {
	switch s.property {
	case moves:
		return math.Max(0.5*sight.bendPerCM, sight.swingPerCM)
	case turns:
		return 1 + 0.5*reachCM/degrees*sight.bendPerCM
	}
	return 0
}

// narrowLimb narrows what puts a solved limb's joints outside their limits at a frame: the series that turn them most,
// down to half as much as the worst of them.
func (c *checker) narrowLimb(l *limb, frame int, ratio float64, values, allowance [][]float64, touched []bool) {
	f := c.figure
	sight := f.sightOf(l, frame)
	most := 0.0
	for _, pass := range []bool{false, true} {
		lookAt := func(n, frame int, perUnit float64) {
			off := f.series[n].offAt(values[n], frame)
			if !pass {
				most = math.Max(most, off*perUnit)
			} else if off > 0 && off*perUnit >= most/2 {
				narrowNear(allowance[n], frame, off, ratio)
				touched[n] = true
			}
		}
		look := func(n int, perUnit float64) { lookAt(n, frame, perUnit) }
		// A planted end is where the goal was as the plant began.
		began := frame
		if p := f.plantAt(l, frame*stepsPerFrame); p != nil {
			began = p.from
		}
		for axis, n := range l.goal {
			along := math.Abs(sight.line[axis])
			lookAt(n, began, math.Max(along*sight.bendPerCM, sight.swingPerCM))
		}
		look(l.swivel, sight.sidePerSwivel)
		for _, n := range l.twist {
			look(n, 1)
		}
		for _, n := range f.at[l.end][turns] {
			look(n, 1)
		}
		f.eachCarrier(l, look, frame, sight)
	}
}

// limbOf is the limb that is solved in the clip to which a joint belongs, nil for none.
func (f *figure) limbOf(joint int) *limb {
	if l := f.chainOf(joint); l != nil && !l.idle {
		return l
	}
	return nil
}

// chainOf is the limb to which a joint belongs that is a chain of the rig, nil for none.
func (f *figure) chainOf(joint int) *limb {
	for n := range f.limbs {
		if l := &f.limbs[n]; joint == l.root || joint == l.middle || joint == l.end {
			return l
		}
	}
	return nil
}

// A solver solves the limbs of a figure at one step after another, and keeps where what carries a planted end stood when
// the plant began.
type solver struct {
	figure *figure
	since  []stand // of each limb, the joint that carries it
}

// pose places a figure's limbs anew after all joints were placed by their own numbers, and gives their own turns.
func (s *solver) pose(step int, values [][]float64, pose []transform, place []vec3, linear []matrix) {
	f := s.figure
	joints := f.skeleton.joints
	at := func(i int) stand { return stand{place[i], linear[i]} }
	for n := range f.limbs {
		l := &f.limbs[n]
		if l.idle {
			continue
		}
		carrier := at(joints[l.root].parent)
		from := step
		p := f.plantAt(l, step)
		if p != nil {
			from = p.from * stepsPerFrame
		}
		var goal vec3
		for axis, s := range l.goal {
			goal[axis] = values[s][from]
		}
		turned := quat{0, 0, 0, 1}
		if p != nil && p.on >= 0 {
			now := at(p.on)
			if step == from {
				s.since[n] = now
			}
			goal = now.apply(s.since[n].undo(goal))
			turned = now.linear.turnOf().after(s.since[n].linear.turnOf().inverse())
		}
		a, b, c := l.solve(carrier, at(l.root), &pose[l.middle], &pose[l.end], goal, values[l.swivel][step])
		c.linear = turned.after(l.restTurn).after(pose[l.end].turn).matrix().columnsScaled(pose[l.end].scale)
		up := carrier
		for k, i := range []int{l.root, l.middle, l.end} {
			is := [3]stand{a, b, c}[k]
			place[i], linear[i] = is.place, is.linear
			pose[i].turn = up.linear.inverse().times(is.linear).turnOf()
			up = is
		}
		for _, i := range l.carried {
			is := stand{place[joints[i].parent], linear[joints[i].parent]}
			is = is.carry(&pose[i])
			place[i], linear[i] = is.place, is.linear
		}
	}
}
