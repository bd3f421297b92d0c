package exchange

import (
	"fmt"
	"math"
	"slices"
)

// A limb is two bones between three joints that hang on one another: what a chain of the rig can be. The root turns where
// what carries it holds it, the middle bends, and the end is put somewhere.
type limb struct {
	root, middle, end int
	leg               bool
	// bends is the axis of what carries the limb toward which the middle bends in the clip, and way its sign.
	bends int
	way   float64
	// twists are the axes about which root and middle turn along their bones, and twistWay 1 where the axis points to the
	// bone's far end and -1 where from it.
	twists   [2]int
	twistWay [2]float64
	plants   []plant
	// called is what the rig calls its goal; empty for the name of the end.
	called string
	// keyed says that the limb is solved though nothing may be planted: the rig has no dials for its turns.
	keyed bool
	// idle says that the limb is not solved in this clip, but in another over the same rig.
	idle bool
	// along and least are, by axis of what carries the limb, how far the middle bends that way in the clip, and how far the
	// axis is from pointing along the limb at least: for choosing bends.
	along, least [3]float64
	// why says why no chain can be what the limb is; empty where one can.
	why string
	// goal, swivel and twist are the series of the solved limb: where its end is by axis, the turn of its plane, and what
	// root and middle turn about their own bones.
	goal   [3]int
	swivel int
	twist  [2]int
	// restEnd is where the end is with every joint at rest, and restHand how the middle is turned then: from there the
	// sheet counts the end's own turn.
	restEnd  vec3
	restTurn quat
	// carried are the joints below the root, parents first, without the middle and the end.
	carried []int
}

// A plant is a stretch of frames in which a limb's end stays where it is, in the world or on a joint.
type plant struct {
	stretch
	on     int  // the joint that carries it, -1 for the world
	anchor vec3 // in centimetres, in the frame of that joint
}

// A stand is where a joint is in the world: its place in centimetres, and its axes with their scales as columns.
type stand struct {
	place  vec3
	linear matrix
}

func (s *stand) apply(v vec3) vec3 { return s.place.plus(s.linear.apply(v)) }

// undo takes a point of the world into the frame of the joint.
func (s *stand) undo(p vec3) vec3 { return s.linear.inverse().apply(p.minus(s.place)) }

// on is where a joint is that has a transform of its own on this one.
func (s *stand) carry(own *transform) stand {
	return stand{s.apply(own.move), s.linear.times(own.turn.matrix().columnsScaled(own.scale))}
}

// turnOf is the turn in a joint's axes without their lengths.
func (m matrix) turnOf() quat {
	var lengths vec3
	for axis := range 3 {
		lengths[axis] = 1 / math.Max(m.column(axis).length(), 1e-12)
	}
	return m.columnsScaled(lengths).quat()
}

// shortestTurn is the turn that takes one direction to another the shortest way.
func shortestTurn(from, to vec3) quat {
	from, to = from.times(1/math.Max(from.length(), 1e-12)), to.times(1/math.Max(to.length(), 1e-12))
	axis, cosine := from.cross(to), from.dot(to)
	if cosine < -1+1e-12 {
		side := from.cross(vec3{1, 0, 0})
		if math.Abs(from[0]) > 0.9 {
			side = from.cross(vec3{0, 1, 0})
		}
		side = side.times(1 / side.length())
		return quat{side[0], side[1], side[2], 0}
	}
	return quat{axis[0], axis[1], axis[2], 1 + cosine}.normal()
}

// about is the turn about an axis of length 1.
func about(axis vec3, turnDeg float64) quat {
	sine, cosine := math.Sincos(turnDeg / 2 / degrees)
	return quat{axis[0] * sine, axis[1] * sine, axis[2] * sine, cosine}
}

// solve turns root and middle so that the end sits on the goal and the middle bends toward the limb's direction, turned by
// the swivel, as lint/motion solves a chain. root is where the limb's root stands by its own channels, and middle and end
// are the joints' own transforms. It answers where the three are; the end's axes are still those that it has on the
// middle.
func (l *limb) solve(carrier, root stand, middle, end *transform, goal vec3, swivelDeg float64) (a, b, c stand) {
	toward := goal.minus(root.place)
	if distance := toward.length(); distance >= 1e-9 {
		line := toward.times(1 / distance)
		return l.solveBeside(root, middle, end, goal, about(line, swivelDeg).turn(across(l.bendsIn(carrier), line)))
	}
	a, b = root, root.carry(middle)
	return a, b, b.carry(end)
}

// solveBeside is solve with the direction, at right angles to the line from root to goal, toward which the middle bends.
func (l *limb) solveBeside(root stand, middle, end *transform, goal, side vec3) (a, b, c stand) {
	a, b = root, root.carry(middle)
	c = b.carry(end)
	upper, lower := a.place.to(b.place), b.place.to(c.place)
	toward := goal.minus(a.place)
	distance := toward.length()
	if upper <= 0 || lower <= 0 || distance < 1e-9 {
		return a, b, c
	}
	reach := min(max(distance, math.Abs(upper-lower)), upper+lower)
	line := toward.times(1 / distance)
	cosine := min(max((upper*upper+reach*reach-lower*lower)/(2*upper*reach), -1), 1)
	knee := a.place.plus(line.times(upper * cosine)).plus(side.times(upper * math.Sqrt(1-cosine*cosine)))
	foot := a.place.plus(line.times(reach))

	a.linear = shortestTurn(b.place.minus(a.place), knee.minus(a.place)).matrix().times(a.linear)
	b = a.carry(middle)
	c = b.carry(end)
	b.linear = shortestTurn(c.place.minus(b.place), foot.minus(b.place)).matrix().times(b.linear)
	c = b.carry(end)
	c.place = foot
	return a, b, c
}

// bendsIn is the direction in the world toward which the limb bends, without a swivel.
func (l *limb) bendsIn(carrier stand) vec3 { return carrier.linear.column(l.bends).times(l.way) }

// across is the part of v at right angles to a line, at length 1.
func across(v, line vec3) vec3 {
	out := v.minus(line.times(v.dot(line)))
	if length := out.length(); length > 1e-12 {
		return out.times(1 / length)
	}
	return line
}

// solved tells whether a limb is worth being solved in its clip.
func (l *limb) solved() bool { return l.keyed || len(l.plants) > 0 }

// goalName is what a limb's goal is called.
func (f *figure) goalName(l *limb) string {
	if l.called != "" {
		return l.called
	}
	return f.skeleton.joints[l.end].name
}

// leastBendDeg is by how many degrees the middle of a limb bends somewhere in the clip, at least: one that is straight
// throughout says nothing of where its middle points.
const leastBendDeg = 2

// mostGiven is how much a bone's length or a joint's size may change in the clip, as a share: exporters and captures
// stretch bones a little, which moves of the joint keep.
const mostGiven = 0.02

// findLimbs are the legs and then the arms of a figure: two bones, of which the parts of the body tell.
func (f *figure) findLimbs() (limbs []limb) {
	joints := f.skeleton.joints
	height := heightOf(f.restPlace)
	carriers := map[part]part{"hand": "arm", "foot": "leg"}
	for _, of := range []part{"foot", "hand"} {
		for c := range joints {
			b := joints[c].parent
			if joints[c].part != of || b < 0 || joints[b].part != carriers[of] {
				continue
			}
			a := joints[b].parent
			if a < 0 || joints[a].part != carriers[of] || joints[a].parent < 0 {
				continue // a single bone, as of a puppet
			}
			l := limb{root: a, middle: b, end: c, leg: of == "foot"}
			l.why = f.whyNoChain(&l, height)
			f.hang(&l)
			limbs = append(limbs, l)
		}
	}
	return limbs
}

// hang notes what hangs on a limb.
func (f *figure) hang(l *limb) {
	joints := f.skeleton.joints
	for i := l.root + 1; i < len(joints); i++ {
		if up := joints[i].parent; i != l.middle && i != l.end && (up == l.root || up == l.middle || up == l.end || slices.Contains(l.carried, up)) {
			l.carried = append(l.carried, i)
		}
	}
}

// whyNoChain says why a chain can't be what a limb is, or nothing. It finds the axes of its twists too.
func (f *figure) whyNoChain(l *limb, height float64) string {
	joints := f.skeleton.joints
	bones := [2]vec3{joints[l.middle].rest.move, joints[l.end].rest.move}
	upper, lower := bones[0].length(), bones[1].length()
	if short := math.Min(upper, lower); short < 0.04*height || short < 0.3*math.Max(upper, lower) {
		return "its bones are too short, or too different"
	}
	for i := l.end; i >= 0; i = joints[i].parent {
		for n, s := range f.seriesOf(i) {
			far := mostGiven * math.Min(upper, lower)
			if s.property == scales {
				far = 100 * mostGiven
			}
			switch {
			case s.stepped:
				return fmt.Sprintf("%s stays and jumps", joints[i].name)
			case s.property == scales && (rangeOf(s.clip) > far || math.Abs(s.clip[0]-100) > far):
				return fmt.Sprintf("%s changes its size", joints[i].name)
			case s.property == moves && (i == l.middle || i == l.end) && rangeOf(f.series[n].clip) > far:
				return fmt.Sprintf("the bone to %s changes its length", joints[i].name)
			}
		}
	}
	for k, bone := range bones {
		for axis := range 3 {
			if math.Abs(bone[axis]) > math.Abs(bone[l.twists[k]]) {
				l.twists[k] = axis
			}
		}
		along := bone[l.twists[k]] / bone.length()
		if math.Abs(along) < 0.9 {
			return fmt.Sprintf("no axis of %s lies along its bone", joints[[]int{l.root, l.middle}[k]].name)
		}
		l.twistWay[k] = math.Copysign(1, along)
	}
	bend := 0.0
	for _, place := range f.world {
		bend = math.Max(bend, place[l.middle].minus(place[l.root]).angleTo(place[l.end].minus(place[l.middle])))
	}
	if bend < leastBendDeg {
		return fmt.Sprintf("%s never bends", joints[l.middle].name)
	}
	return ""
}

// angleTo is the angle between two directions, in degrees.
func (a vec3) angleTo(b vec3) float64 { return math.Atan2(a.cross(b).length(), a.dot(b)) * degrees }
