package exchange

import "math"

// An order is the order of a joint's three turns: xyz means R = Rx·Ry·Rz, each about the
// axes that the ones before it have turned.
type order [3]int

func (o order) String() string {
	return string([]byte{"xyz"[o[0]], "xyz"[o[1]], "xyz"[o[2]]})
}

// orders are all six, the language's default first.
func orders() []order {
	return []order{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}}
}

// parity is 1 for the orders that go round as x y z does, and -1 for the others.
func (o order) parity() float64 {
	if (o[0]+1)%3 == o[1] {
		return 1
	}
	return -1
}

// quat is the turn by the angles x y z in degrees.
func (o order) quat(angles vec3) quat {
	out := quat{0, 0, 0, 1}
	for _, axis := range o {
		half := angles[axis] / 2 / degrees
		var q quat
		q[axis], q[3] = math.Sin(half), math.Cos(half)
		out = out.after(q)
	}
	return out
}

// angles takes a turn apart: x y z in degrees with the middle turn in -90..90. The
// formulas follow from multiplying out R = Ri·Rj·Rk: R[i][k] = p sin b, and so on, with
// p the parity. Where the middle turn reaches 90° the first takes all of the rest.
func (o order) angles(q quat) vec3 {
	m := q.matrix()
	i, j, k := o[0], o[1], o[2]
	p := o.parity()
	var out vec3
	sine := math.Max(-1, math.Min(1, p*m[i][k]))
	out[j] = math.Asin(sine) * degrees
	if math.Abs(sine) > 1-1e-12 {
		out[i] = math.Atan2(p*m[k][j], m[j][j]) * degrees
		return out
	}
	out[i] = math.Atan2(-p*m[j][k], m[k][k]) * degrees
	out[k] = math.Atan2(-p*m[i][j], m[i][i]) * degrees
	return out
}

// other is the second triple of angles of the same turn: the first and last turn half
// round, the middle one mirrored about 90°.
func (o order) other(angles vec3) vec3 {
	angles[o[0]] += 180
	angles[o[1]] = 180 - angles[o[1]]
	angles[o[2]] += 180
	return angles
}

// near moves each angle by whole turns to within half a turn of the one beside it.
func near(angles, to vec3) vec3 {
	for axis := range 3 {
		angles[axis] -= 360 * math.Round((angles[axis]-to[axis])/360)
	}
	return angles
}

// nearest is the triple of the same turn that lies closest to another triple.
func (o order) nearest(q quat, to vec3) vec3 {
	a := o.angles(q)
	b := near(o.other(a), to)
	a = near(a, to)
	if b.to(to) < a.to(to) {
		return b
	}
	return a
}

// unroll turns a path into angles without a jump: at each step the triple closest to
// the one before, so that the whole clip stays on one branch.
func (o order) unroll(path []transform) []vec3 {
	out := make([]vec3, len(path))
	out[0] = o.angles(path[0].turn)
	for k := 1; k < len(path); k++ {
		out[k] = o.nearest(path[k].turn, out[k-1])
	}
	return out
}

// safeMargin is the distance from gimbal lock in degrees from which on an order is as
// good as any: the middle turn stays within 30°, where angles stretch by 15 % at most.
const safeMargin = 60

// margin is how far in degrees the middle turn of the order stays from ±90° on a path.
func (o order) margin(path []transform) float64 {
	least := 90.0
	p := o.parity()
	for k := 0; k < len(path); k += stepsPerFrame {
		sine := math.Abs(p * path[k].turn.matrix()[o[0]][o[2]])
		least = math.Min(least, 90-math.Asin(math.Min(1, sine))*degrees)
	}
	return least
}

// safestOrder is the order that stays farthest from gimbal lock on all of the paths (a
// joint's, or those of a left and a right joint, which share an order so that one
// mirrors the other). Among those that stay safeMargin away, the default comes first.
func safestOrder(paths ...[]transform) (order, float64) {
	best, most := order{}, -1.0
	for _, o := range orders() {
		least := 90.0
		for _, path := range paths {
			least = math.Min(least, o.margin(path))
		}
		if math.Min(least, safeMargin) > most+1e-9 {
			best, most = o, math.Min(least, safeMargin)
		}
	}
	return best, most
}
