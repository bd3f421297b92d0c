package exchange

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// A stilled limb is one whose end an import holds where a capture lets it jitter.
type stilledLimb struct {
	end    int
	plants []plant
	// turns are those of root, middle and end by step: the clip's own but while the end is held, and a moment before and
	// after.
	joints [3]int
	turns  [3][]quat
	// moved is the farthest that the end was from where it is held, and turned the most that holding it turns a joint, with
	// that joint and the frame.
	movedCM, turnedDeg float64
	worst, frame       int
}

// stillFadeFrames is over how many frames an end that was held goes over to where the clip has it, or comes from there: in
// that time a foot that leaves the ground has gone farther than it was held back.
const stillFadeFrames = 4

// stilled finds those of some limbs whose ends stay within so many centimetres of a place for long enough, but those that are named,
// and holds them there.
func (f *figure) stilled(limbs []limb, stillCM float64, but map[int]bool) (out []stilledLimb) {
	stands := f.standsAt(stepsPerFrame, nil)
	if f.closed {
		stands = stands[:len(stands)-1]
	}
	var all [][]stand
	for _, l := range limbs {
		if l.why != "" || but[l.end] {
			continue
		}
		l.plants = f.findPlants(&l, stands, steadiness{2 * stillCM, math.Inf(1)})
		l.plants = slices.DeleteFunc(l.plants, func(p plant) bool { return f.strayed(&l, &p, stands) > stillCM })
		if float64(plantedFrames(l.plants)) < standShare*float64(f.time.frames) {
			continue
		}
		if all == nil {
			all = f.standsAt(1, nil)
		}
		out = append(out, f.keepStill(&l, all))
	}
	return out
}

// strayed is how far a limb's end gets from where a plant has it.
func (f *figure) strayed(l *limb, p *plant, stands [][]stand) (far float64) {
	for k := p.from; k <= p.to; k++ {
		at := stands[k%len(stands)]
		far = math.Max(far, placeOn(l.end, p.on, at).to(p.anchor))
	}
	return far
}

// keepStill turns a limb so that its end stands while it is planted, its axes as in the clip.
func (f *figure) keepStill(l *limb, stands [][]stand) stilledLimb {
	joints := f.skeleton.joints
	out := stilledLimb{end: l.end, plants: l.plants, joints: [3]int{l.root, l.middle, l.end}}
	for n, i := range out.joints {
		out.turns[n] = make([]quat, len(stands))
		for step := range stands {
			out.turns[n][step] = joints[i].path[step].turn
		}
	}
	carrier := joints[l.root].parent
	offs := f.heldBack(l, stands)
	usual := l.usualSide(carrier, stands)
	for step, off := range offs {
		if off.length() < 1e-9 {
			continue
		}
		at := stands[step]
		goal := at[l.end].place.plus(off)
		line := at[l.end].place.minus(at[l.root].place)
		line = line.times(1 / math.Max(line.length(), 1e-9))
		upper := at[l.middle].place.minus(at[l.root].place)
		knee := upper.minus(line.times(upper.dot(line)))
		// Where the limb is as good as straight, its middle goes where it mostly is.
		if bias := plainBend*upper.length() - knee.length(); bias > 0 {
			knee = knee.plus(at[carrier].linear.apply(usual).times(bias))
		}
		line = goal.minus(at[l.root].place)
		side := across(knee, line.times(1/math.Max(line.length(), 1e-9)))
		a, b, c := l.solveBeside(at[l.root], &joints[l.middle].path[step], &joints[l.end].path[step], goal, side)
		c.linear = at[l.end].linear
		up := at[carrier]
		for n, is := range [3]stand{a, b, c} {
			turn := up.linear.inverse().times(is.linear).turnOf()
			was := joints[out.joints[n]].path[step].turn
			if turn.dot(was) < 0 {
				turn = turn.times(-1)
			}
			out.turns[n][step] = turn
			if off := turn.angleTo(was); step%stepsPerFrame == 0 && off > out.turnedDeg {
				out.turnedDeg, out.worst, out.frame = off, out.joints[n], step/stepsPerFrame
			}
			up = is
		}
		if step%stepsPerFrame == 0 {
			out.movedCM = math.Max(out.movedCM, off.length())
		}
	}
	return out
}

// plainBend is how far the middle of a limb is beside the line from root to end, as a share of the upper bone, from which
// on it tells alone which way the limb bends.
const plainBend = 0.04

// usualSide is the direction toward which a limb mostly bends, seen from what carries it.
func (l *limb) usualSide(carrier int, stands [][]stand) vec3 {
	var sum vec3
	for _, at := range stands {
		line := at[l.end].place.minus(at[l.root].place)
		line = line.times(1 / math.Max(line.length(), 1e-9))
		upper := at[l.middle].place.minus(at[l.root].place)
		sum = sum.plus(at[carrier].linear.inverse().apply(upper.minus(line.times(upper.dot(line)))))
	}
	return sum.times(1 / math.Max(sum.length(), 1e-9))
}

// heldBack is by how much a limb's end is moved in the world at each step for it to stand while it is planted.
func (f *figure) heldBack(l *limb, stands [][]stand) []vec3 {
	n := f.time.frames * stepsPerFrame
	offAt := func(p *plant, step int) vec3 {
		at := stands[step%max(1, n)]
		if !f.closed {
			at = stands[min(step, n)]
		}
		there := p.anchor
		if p.on >= 0 {
			there = at[p.on].apply(there)
		}
		return there.minus(at[l.end].place)
	}
	out := make([]vec3, len(stands))
	// near is the plant whose end or beginning is nearest before or after a step, and how many steps away.
	near := func(step, way int) (found *plant, steps int) {
		for i := range l.plants {
			p := &l.plants[i]
			for _, round := range []int{-n, 0, n, 2 * n} {
				if round != 0 && !f.closed {
					continue
				}
				away := step - (p.to*stepsPerFrame + round)
				if way > 0 {
					away = p.from*stepsPerFrame + round - step
				}
				if away > 0 && (found == nil || away < steps) {
					found, steps = p, away
				}
			}
		}
		return found, steps
	}
	for step := range out {
		if p := f.plantAt(l, step); p != nil {
			out[step] = offAt(p, step)
			continue
		}
		before, since := near(step, -1)
		after, until := near(step, 1)
		fade := stillFadeFrames * stepsPerFrame
		if before != nil && after != nil {
			fade = min(fade, (since+until)/2)
		}
		if before != nil && since < fade {
			out[step] = out[step].plus(offAt(before, before.to*stepsPerFrame).times(eased(since, fade)))
		}
		if after != nil && until < fade {
			out[step] = out[step].plus(offAt(after, after.from*stepsPerFrame).times(eased(until, fade)))
		}
	}
	return out
}

// eased goes from 1 to 0, level at both ends.
func eased(k, of int) float64 {
	u := float64(k) / float64(of)
	return 1 - u*u*(3-2*u)
}

// still makes a sampled figure one whose ends are held.
func (f *figure) still(limbs []stilledLimb) {
	for i := range limbs {
		for n, joint := range limbs[i].joints {
			j := &f.skeleton.joints[joint]
			j.path = slices.Clone(j.path)
			for step := range j.path {
				turn := limbs[i].turns[n][min(step, len(limbs[i].turns[n])-1)]
				if step > 0 && turn.dot(j.path[step-1].turn) < 0 {
					turn = turn.times(-1)
				}
				j.path[step].turn = turn
			}
			j.clip = j.path
		}
	}
}

// against measures how far values of the series are from another figure's clip, of the same joints.
func (f *figure) against(clip *figure, values [][]float64, within Within) errorReport {
	g, skeleton := *f, *f.skeleton
	skeleton.joints = slices.Clone(skeleton.joints)
	for i := range skeleton.joints {
		skeleton.joints[i].clip = clip.skeleton.joints[i].clip
	}
	g.skeleton, g.world = &skeleton, clip.world
	c := &checker{figure: &g, within: within, slack: make([][]offs, skeleton.steps)}
	for step := range c.slack {
		c.slack[step] = make([]offs, len(skeleton.joints))
	}
	return c.compare(values)
}

// stillLines say what was held still, and what that alone costs.
func (f *figure) stillLines(stillCM float64, limbs []stilledLimb) (lines []string) {
	joints := f.skeleton.joints
	for i := range limbs {
		l := &limbs[i]
		var when []string
		for _, p := range l.plants {
			when = append(when, fmt.Sprintf("%df..%df", p.from, p.to))
		}
		lines = append(lines, fmt.Sprintf("held still where it stays within %s cm: %s %s; it was up to %s cm from there, and holding it turns %s by up to %s° (frame %d)",
			number(stillCM, 3), joints[l.end].name, strings.Join(when, ", "), roundUp(l.movedCM, 3), joints[l.worst].name, roundUp(l.turnedDeg, 2), l.frame))
	}
	return lines
}
