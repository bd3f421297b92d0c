package motion

import "math"

// Figure is where every joint is at one moment.
type Figure struct {
	World []Transform
	// Short is how many cm each chain's end stays short of its goal, 0 where it reaches it or is not solved.
	Short []float64
	// Bend is the angle in degrees by which each chain's middle joint is bent, 0 for straight; NaN where it is not solved.
	Bend []float64
}

// Figure works out where every joint is at a time in frames: the channels' values, then the chains whose goal is keyed
// or planted, one after the other in the rig's order.
func (m *Motion) Figure(frames float64) *Figure { return m.Player().Figure(frames) }

// World gives every joint's place in the world at a time in frames.
func (m *Motion) World(frames float64) []Transform { return m.Figure(frames).World }

func (m *Motion) figure(frames float64, values []float64) *Figure {
	return m.Player().at(frames, values)
}

// freeGoal is a goal that nothing keeps: at the rest place of the chain's end, moved by its goal channels, of which value
// gives each.
func (m *Motion) freeGoal(c *Chain, value func(channel int) float64) Transform {
	goal := m.restEnds[c.End]
	for i := range m.Rig.Channels {
		dial := &m.Rig.Channels[i]
		for _, d := range dial.Drives {
			if d.Kind != DrivesGoal || d.Goal != c.Goal {
				continue
			}
			for axis := range 3 {
				if d.Axes[axis] {
					goal[9+axis] += d.Gain * (value(i) - dial.Rest)
				}
			}
		}
	}
	return goal
}

// swivel is the turn of a chain's plane about the line from its root to its goal, in degrees.
func (m *Motion) swivel(chain int, values []float64) float64 {
	var turn float64
	for i := range m.Rig.Channels {
		dial := &m.Rig.Channels[i]
		for _, d := range dial.Drives {
			if d.Kind == DrivesSwivel && d.Goal == m.Rig.Chains[chain].Goal {
				turn += d.Gain * (values[i] - dial.Rest)
			}
		}
	}
	return turn
}

// solveChain turns a chain's root and middle joints so that its end sits on the goal, and gives the end joint the goal's
// turn and its own. The middle bends toward the chain's direction, seen from what carries the chain, turned by the swivel
// about the line to the goal. A goal out of reach is approached along a straight line: nothing stretches. It answers by
// how much the end stays short, in cm, and the angle by which the middle is bent, in degrees (the law of cosines).
func (p *Player) solveChain(chain int, goal Transform, swivelDeg float64) (short, bendDeg float64) {
	rig, world := p.motion.Rig, p.figure.World
	c := &rig.Chains[chain]
	parent := identity
	if up := rig.Joints[c.Root].Parent; up >= 0 {
		parent = world[up]
	}
	root, middle, end := world[c.Root].Position(), world[c.Middle].Position(), world[c.End].Position()
	upper, lower := length(minus(middle, root)), length(minus(end, middle))
	if upper <= 0 || lower <= 0 {
		return 0, math.NaN()
	}
	toward := minus(goal.Position(), root)
	distance := length(toward)
	if distance < 1e-12 {
		toward, distance = [3]float64{0, -1e-12, 0}, 1e-12
	}
	reach := min(max(distance, math.Abs(upper-lower)), upper+lower)
	short = math.Abs(distance - reach)
	line := times(toward, 1/distance)
	bends := rotateAbout(parent.direction(c.Bends), line, swivelDeg)
	bends = unit(minus(bends, times(line, dot(bends, line))), line)
	// The law of cosines: the angle at the root, between the line to the goal and the upper limb.
	cosine := (upper*upper + reach*reach - lower*lower) / (2 * upper * reach)
	cosine = min(max(cosine, -1), 1)
	sine := math.Sqrt(max(0, 1-cosine*cosine))
	knee := plus(root, plus(times(line, upper*cosine), times(bends, upper*sine)))
	foot := plus(root, times(line, reach))

	aim(&world[c.Root], middle, knee)
	world[c.Middle] = world[c.Root].times(&p.locals[c.Middle])
	world[c.End] = world[c.Middle].times(&p.locals[c.End])
	aim(&world[c.Middle], world[c.End].Position(), foot)
	world[c.End] = rig.endAt(goal, foot, c.End, &p.pose[c.End])
	p.carryOn(c)
	return short, 180 - angleBetween(minus(root, knee), minus(foot, knee))
}

// endAt is a chain's end joint at a place: turned as its goal is, and then in its own frame by as much as its channels
// turn and scale it from rest, so that a wrist moves on a planted hand too.
func (r *Rig) endAt(goal Transform, at [3]float64, end int, pose *JointPose) Transform {
	j := &r.Joints[end]
	rest := JointPose{Turn: j.RestTurn, Scale: [3]float64{1, 1, 1}}
	if own := (JointPose{Turn: pose.Turn, Scale: pose.Scale}); own != rest {
		restLocal, ownLocal := rest.Local(j.Order), own.Local(j.Order)
		back := restLocal.inverse()
		fromRest := back.times(&ownLocal)
		goal = goal.times(&fromRest)
	}
	copy(goal[9:], at[:])
	return goal
}

// aim turns a joint in the world about its own pivot, so that a point carried by it comes to lie in the direction of
// another.
func aim(joint *Transform, from, to [3]float64) {
	pivot := joint.Position()
	turn := shortestTurn(minus(from, pivot), minus(to, pivot))
	for column := range 3 {
		v := turn.direction([3]float64{joint[column*3], joint[column*3+1], joint[column*3+2]})
		copy(joint[column*3:], v[:])
	}
}

// direction takes a direction from the joint's frame into the world; lengths change with its scale.
func (t *Transform) direction(v [3]float64) (out [3]float64) {
	for row := range 3 {
		out[row] = t[row]*v[0] + t[3+row]*v[1] + t[6+row]*v[2]
	}
	return out
}

// Undo takes a point from the world into the joint's frame.
func (t *Transform) Undo(p [3]float64) [3]float64 {
	back := t.inverse()
	return back.Apply(p)
}

// inverse is the transform that undoes t, by the adjugate of its 3×3 part.
func (t *Transform) inverse() (out Transform) {
	x, y, z := [3]float64{t[0], t[1], t[2]}, [3]float64{t[3], t[4], t[5]}, [3]float64{t[6], t[7], t[8]}
	volume := dot(x, cross(y, z))
	if volume == 0 {
		return identity
	}
	rows := [3][3]float64{times(cross(y, z), 1/volume), times(cross(z, x), 1/volume), times(cross(x, y), 1/volume)}
	for row := range 3 {
		for column := range 3 {
			out[column*3+row] = rows[row][column]
		}
		out[9+row] = -dot(rows[row], t.Position())
	}
	return out
}

// shortestTurn is the rotation that takes one direction to another the shortest way (Rodrigues' formula).
func shortestTurn(from, to [3]float64) Transform {
	from, to = unit(from, [3]float64{0, 1, 0}), unit(to, [3]float64{0, 1, 0})
	axis := cross(from, to)
	sine, cosine := length(axis), dot(from, to)
	if sine < 1e-15 {
		if cosine > 0 {
			return identity
		}
		axis = perpendicular(from)
	}
	return rotation(unit(axis, perpendicular(from)), sine, cosine)
}

// rotateAbout turns v about a unit axis by degrees.
func rotateAbout(v, axis [3]float64, degrees float64) [3]float64 {
	sine, cosine := sinCos(degrees)
	turn := rotation(axis, sine, cosine)
	return turn.direction(v)
}

func rotation(axis [3]float64, sine, cosine float64) Transform {
	x, y, z := axis[0], axis[1], axis[2]
	k := 1 - cosine
	return Transform{
		cosine + k*x*x, k*x*y + sine*z, k*x*z - sine*y,
		k*x*y - sine*z, cosine + k*y*y, k*y*z + sine*x,
		k*x*z + sine*y, k*y*z - sine*x, cosine + k*z*z,
		0, 0, 0,
	}
}

func perpendicular(v [3]float64) [3]float64 {
	other := [3]float64{1, 0, 0}
	if math.Abs(v[0]) > math.Abs(v[1]) {
		other = [3]float64{0, 1, 0}
	}
	return unit(cross(v, other), [3]float64{0, 0, 1})
}

func plus(a, b [3]float64) [3]float64  { return [3]float64{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func minus(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func times(a [3]float64, f float64) [3]float64 {
	return [3]float64{a[0] * f, a[1] * f, a[2] * f}
}
func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func length(a [3]float64) float64 { return math.Sqrt(dot(a, a)) }
func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// unit is v at length 1, or otherwise where v has no length.
func unit(v, otherwise [3]float64) [3]float64 {
	if l := length(v); l > 1e-12 {
		return times(v, 1/l)
	}
	return otherwise
}

func angleBetween(a, b [3]float64) float64 {
	return math.Atan2(length(cross(a, b)), dot(a, b)) * 180 / math.Pi
}
