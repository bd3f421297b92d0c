package exchange

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// mostTwistTiltDeg is how far from a bone the axis may point about which a rig's dial twists it, as its joint rests.
const mostTwistTiltDeg = 12

// limbsOver are the chains of a rig as limbs. One is solved without a plant too where a clip turns its joints as no dial of
// the rig does, by series, and the rig has dials for all of its goal.
func (f *figure) limbsOver(rig *motion.Rig, undriven []bool) (limbs []limb) {
	joints := f.skeleton.joints
	height := heightOf(f.restPlace)
	taken := map[int]bool{}
	for i := range rig.Chains {
		c := &rig.Chains[i]
		l := limb{root: c.Root, middle: c.Middle, end: c.End, leg: joints[c.End].part == "foot", called: c.Goal}
		for axis := range 3 {
			if c.Bends[axis] != 0 {
				l.bends, l.way = axis, math.Copysign(1, c.Bends[axis])
			}
		}
		above := false
		for up := l.root; up >= 0; up = joints[up].parent {
			above = above || taken[up]
		}
		switch {
		case above || taken[l.middle] || taken[l.end]:
			l.why = "it hangs on another chain"
		case joints[l.root].parent < 0:
			l.why = "nothing carries it"
		default:
			if l.why = f.whyNoChain(&l, height); l.why == "" {
				l.why = f.whyNoTwist(&l)
			}
		}
		taken[l.root], taken[l.middle], taken[l.end] = true, true, true
		f.hang(&l)
		l.keyed = f.turnsUndriven(&l, undriven) && goalIsDriven(rig, c.Goal)
		limbs = append(limbs, l)
	}
	return limbs
}

// whyNoTwist says why a joint of a limb can't be twisted by one of its three turns as it rests.
func (f *figure) whyNoTwist(l *limb) string {
	for k, i := range []int{l.root, l.middle} {
		j := &f.skeleton.joints[i]
		var after, axis vec3
		at := slices.Index(j.order[:], l.twists[k])
		for _, later := range j.order[at+1:] {
			after[later] = j.restAngles[later]
		}
		axis[l.twists[k]] = 1
		if j.order.quat(after).inverse().turn(axis).angleTo(axis) > mostTwistTiltDeg {
			return "no turn of " + j.name + " as the rig has it at rest twists its bone"
		}
	}
	return ""
}

// turnsUndriven tells whether the clip turns a limb's root or middle as no dial does.
func (f *figure) turnsUndriven(l *limb, undriven []bool) bool {
	for _, i := range []int{l.root, l.middle} {
		for _, n := range f.at[i][turns] {
			if n >= 0 && undriven[n] {
				return true
			}
		}
	}
	return false
}

// goalIsDriven tells whether a rig has dials for all that a chain's goal can do.
func goalIsDriven(rig *motion.Rig, goal string) bool {
	var axes [3]bool
	for i := range rig.Channels {
		if mixesGoals(&rig.Channels[i]) != "" {
			continue
		}
		for _, d := range rig.Channels[i].Drives {
			for axis := range 3 {
				axes[axis] = axes[axis] || d.Kind == motion.DrivesGoal && d.Goal == goal && d.Axes[axis] && d.Gain != 0
			}
		}
	}
	return axes == [3]bool{true, true, true}
}

// undriven tells of each series whether a sheet says something of a dial of its own for it, which the rig does not have.
func (e *settled) undriven(k int) []bool {
	out := make([]bool, len(e.lead.series))
	for i := range e.channels[k] {
		c := &e.channels[k][i]
		for _, d := range c.drives {
			out[d.series] = out[d.series] || !c.known && !c.dropped
		}
	}
	return out
}
