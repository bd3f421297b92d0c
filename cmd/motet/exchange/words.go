package exchange

import (
	"math"
	"slices"
	"strings"
)

// describe gives a channel the name and the words of direction that are certain, and
// turns it round where that makes plus mean left, up or ahead. It tells too whether the
// channel's sign flips in a mirror. What is not certain is named by its axis.
func (f *figure) describe(c *channel) {
	s := &f.series[c.drives[0].series]
	j := &f.skeleton.joints[s.joint]
	var sign float64
	switch s.property {
	case goals:
		c.name, c.positive, sign = f.goalWord(s)
		c.flips = s.axes[0] == f.leftAxis()
	case swivels:
		c.name, c.positive, c.flips, sign = f.swivelWord(s)
	case scales:
		c.name, c.positive = "scale", "larger"
		if len(s.axes) < 3 {
			c.name = "scale-" + axesText(s.axes)
		}
		return
	case moves:
		c.name, c.positive, sign = f.moveWord(s)
		c.flips = f.flips(s)
	default:
		c.name, c.positive, sign = f.turnWord(s)
		c.flips = f.flips(s)
		if f.drivesSeveral(c) {
			c.name = "bend"
			if j.part == "finger" {
				c.name, c.positive = "curl", ""
			}
		} else if len(c.drives) > 1 {
			c.name, c.positive = "turn", ""
		}
	}
	if sign < 0 {
		for i := range c.drives {
			c.drives[i].gain = -c.drives[i].gain
		}
	}
}

func (f *figure) drivesSeveral(c *channel) bool {
	return slices.ContainsFunc(c.drives, func(d drive) bool { return f.series[d.series].joint != f.series[c.drives[0].series].joint })
}

func axesText(axes []int) string {
	text := ""
	for _, axis := range axes {
		text += string("xyz"[axis])
	}
	return text
}

// moveAxis is the direction in the world in which a joint's move goes.
func (f *figure) moveAxis(joint, axis int) vec3 {
	var v vec3
	v[axis] = 1
	if p := f.skeleton.joints[joint].parent; p >= 0 {
		return f.restTurn[p].turn(v)
	}
	return v
}

// turnAxis is the axis in the world, at rest, about which one of a joint's three turns
// goes: each turns the axes of those after it.
func (f *figure) turnAxis(joint, axis int) vec3 {
	j := &f.skeleton.joints[joint]
	var v, before vec3
	v[axis] = 1
	for _, a := range j.order {
		if a == axis {
			break
		}
		before[a] = j.restAngles[a]
	}
	v = j.order.quat(before).turn(v)
	if j.parent >= 0 {
		v = f.restTurn[j.parent].turn(v)
	}
	return v
}

// certain is the cosine from which a direction is called by a word.
const certain = 0.95

// moveWord names a move by the figure's own direction, with plus to the left, up, ahead.
func (f *figure) moveWord(s *series) (name, positive string, sign float64) {
	return f.directionWord(f.moveAxis(s.joint, s.axes[0]), "move-"+axesText(s.axes))
}

// directionWord names a direction in the world by the figure's own; one between them has the other name.
func (f *figure) directionWord(v vec3, other string) (name, positive string, sign float64) {
	for _, w := range []struct {
		direction      vec3
		name, positive string
	}{{f.front.left, "side", "to their left"}, {f.front.up, "up", "up"}, {f.front.ahead, "ahead", "ahead"}} {
		if d := v.dot(w.direction); math.Abs(d) >= certain {
			return w.name, w.positive, d
		}
	}
	return other, "", 1
}

// turnWord names a turn of what stands in the middle of the figure by what an animator
// calls it, a turn about a bone twist, and the others by their axis.
func (f *figure) turnWord(s *series) (name, positive string, sign float64) {
	j := &f.skeleton.joints[s.joint]
	joint := s.joint
	if j.side == right {
		joint = j.mate // Both sides go by the left one's bones, so that they share names.
	}
	v := f.turnAxis(joint, s.axes[0])
	if j.side == middle && slices.Contains([]part{"root", "spine", "head"}, j.part) {
		forward := "lean"
		if j.part == "head" {
			forward = "nod"
		}
		for _, w := range []struct {
			axis           vec3
			name, positive string
		}{{f.front.left, forward, "forward"}, {f.front.up, "turn", "to their left"}, {f.front.ahead, "tilt", "left side up"}} {
			if d := v.dot(w.axis); math.Abs(d) >= certain {
				return w.name, w.positive, d
			}
		}
	}
	bone := f.bone(joint)
	if math.Abs(v.dot(bone)) >= certain {
		return "twist", "", 1
	}
	return "turn-" + axesText(s.axes), f.wayOf(f.turnAxis(s.joint, s.axes[0]).cross(f.bone(s.joint))), 1
}

// bone is the direction at rest from a joint to what it carries, or to it from what
// carries it when it is an end.
func (f *figure) bone(joint int) vec3 {
	var sum vec3
	for i := range f.skeleton.joints {
		if f.skeleton.joints[i].parent == joint {
			sum = sum.plus(f.restPlace[i].minus(f.restPlace[joint]))
		}
	}
	if p := f.skeleton.joints[joint].parent; sum.length() < 1e-6 && p >= 0 {
		sum = f.restPlace[joint].minus(f.restPlace[p])
	}
	if sum.length() < 1e-6 {
		return vec3{}
	}
	return sum.times(1 / sum.length())
}

// wayOf is the word for the direction in which the far end of a bone goes.
func (f *figure) wayOf(v vec3) string {
	if v.length() < 0.5 {
		return ""
	}
	v = v.times(1 / v.length())
	for _, w := range []struct {
		direction   vec3
		plus, minus string
	}{{f.front.left, "to their left", "to their right"}, {f.front.up, "up", "down"}, {f.front.ahead, "forward", "back"}} {
		switch d := v.dot(w.direction); {
		case d >= 0.85:
			return w.plus
		case d <= -0.85:
			return w.minus
		}
	}
	return ""
}

// flips tells whether the channel's number changes its sign in the mirror. A move along v
// becomes one along the mirrored v; a turn about v becomes one about the mirrored v, the
// other way round. With a mate, what comes out is held against the mate's own axis.
func (f *figure) flips(s *series) bool {
	joint, other := s.joint, s.joint
	if mate := f.skeleton.joints[joint].mate; mate >= 0 {
		other = mate
	}
	axis := s.axes[0]
	if s.property == moves {
		return mirrored(f.moveAxis(joint, axis), f.front).dot(f.moveAxis(other, axis)) < 0
	}
	return mirrored(f.turnAxis(joint, axis), f.front).dot(f.turnAxis(other, axis)) > 0
}

// nameChannels names the channels of all figures alike.
func (e *ensemble) nameChannels(channels [][]channel) {
	named := e.rigChannels(channels)
	e.lead.nameChannels(named)
	for k := range channels {
		for n := range channels[k] {
			channels[k][n].name = named[n].name
		}
	}
}

// nameChannels makes the names of each control's channels distinct: those that go by one
// word are named by their axes instead where they have one, and numbered where not.
func (f *figure) nameChannels(channels []channel) {
	type path struct {
		control int
		name    string
	}
	uses := map[path]int{}
	for _, c := range channels {
		if !c.dropped {
			uses[path{c.control, c.name}]++
		}
	}
	taken := map[int]map[string]bool{}
	for i := range channels {
		c := &channels[i]
		if c.dropped {
			continue
		}
		s := &f.series[c.drives[0].series]
		if uses[path{c.control, c.name}] > 1 && len(c.drives) == 1 && s.joint == c.control {
			c.name = strings.ReplaceAll(s.drives(), ".", "-")
		}
		if taken[c.control] == nil {
			taken[c.control] = map[string]bool{}
		}
		c.name = unique(c.name, "", taken[c.control])
	}
}
