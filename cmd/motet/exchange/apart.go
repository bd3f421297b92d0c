package exchange

import (
	"math"
	"slices"
)

// takeApart makes the series of all joints and settles where each joint rests. What moves in any clip, or stays elsewhere
// in one than in another, is a series of all.
func (e *ensemble) takeApart() {
	for _, f := range e.figures {
		f.at = make([][3][3]int, len(f.skeleton.joints))
		for i := range f.at {
			for p := range f.at[i] {
				f.at[i][p] = [3]int{-1, -1, -1}
			}
		}
	}
	for i := range e.lead.skeleton.joints {
		e.takeMoves(i)
		e.takeTurns(i)
		e.takeScales(i)
	}
}

// paths are one number of joint i over each clip; nil where the joint is absent.
func (e *ensemble) paths(i int, number func(transform) float64) [][]float64 {
	out := make([][]float64, len(e.figures))
	for k, f := range e.figures {
		j := &f.skeleton.joints[i]
		if j.absent {
			continue
		}
		out[k] = make([]float64, len(j.path))
		for n := range j.path {
			out[k][n] = number(j.path[n])
		}
	}
	return out
}

func (e *ensemble) takeMoves(i int) {
	lead := &e.lead.skeleton.joints[i]
	rest := lead.rest.move
	for axis := range 3 {
		rest[axis] = tidy(rest[axis])
		if lead.stays[moves] {
			continue
		}
		paths := e.paths(i, func(t transform) float64 { return t.move[axis] })
		if still, value := stays(e.still.moveCM, paths...); still {
			rest[axis] = tidy(value)
			continue
		}
		e.add(series{joint: i, property: moves, axes: []int{axis}, rest: restAmong(paths, rest[axis], e.still.moveCM)}, paths, e.still.moveCM)
		rest[axis] = e.lead.series[len(e.lead.series)-1].rest
	}
	for _, f := range e.figures {
		f.skeleton.joints[i].rest.move = rest
	}
}

// takeTurns chooses the joint's turn order, follows its angles through each clip on one
// branch, and makes series of those that move.
func (e *ensemble) takeTurns(i int) {
	lead := &e.lead.skeleton.joints[i]
	if lead.stays[turns] {
		e.setRest(i, orders()[0], orders()[0].angles(lead.rest.turn))
		return
	}
	order := e.orderOf(i)
	angles, rest := e.angles(i, order)
	for axis := range 3 {
		paths := make([][]float64, len(angles))
		for k := range angles {
			for _, a := range angles[k] {
				paths[k] = append(paths[k], a[axis])
			}
		}
		if still, value := stays(e.still.turnDeg, paths...); still {
			rest[axis] = value
			continue
		}
		rest[axis] = restAmong(paths, tidy(rest[axis]), e.still.turnDeg)
		e.add(series{joint: i, property: turns, axes: []int{axis}, rest: rest[axis]}, paths, e.still.turnDeg)
	}
	e.setRest(i, order, rest)
}

// orderOf is the turn order of a joint that keeps farthest from gimbal lock in all clips, on both sides of the body.
func (e *ensemble) orderOf(i int) order {
	var paths [][]transform
	for _, f := range e.present(i) {
		paths = append(paths, f.skeleton.joints[i].path)
	}
	if mate := e.lead.skeleton.joints[i].mate; mate >= 0 {
		for _, f := range e.present(mate) {
			paths = append(paths, f.skeleton.joints[mate].path)
		}
	}
	order, _ := safestOrder(paths...)
	return order
}

// angles are a joint's three angles in each clip, without a jump and beside the angles at rest; none where the joint is
// absent.
func (e *ensemble) angles(i int, order order) (angles [][]vec3, rest vec3) {
	lead := &e.lead.skeleton.joints[i]
	angles = make([][]vec3, len(e.figures))
	first := order.unroll(lead.path)
	rest = order.nearest(lead.rest.turn, meanOf(first))
	lift := vec3{}
	for axis := range 3 {
		lift[axis] = -360 * math.Round(rest[axis]/360)
	}
	rest = rest.plus(lift)
	for k, f := range e.figures {
		switch j := &f.skeleton.joints[i]; {
		case f == e.lead:
			for _, a := range first {
				angles[k] = append(angles[k], a.plus(lift))
			}
		case !j.absent:
			angles[k] = order.beside(order.unroll(j.path), rest)
		}
	}
	return angles, rest
}

// beside brings a path of angles, without a jump, as near as it can be to the angles at rest in the mean.
func (o order) beside(path []vec3, rest vec3) []vec3 {
	middle := meanOf(path)
	plain, other := near(middle, rest), near(o.other(middle), rest)
	out := make([]vec3, len(path))
	for k, a := range path {
		if other.to(rest) < plain.to(rest) {
			out[k] = o.other(a).plus(other.minus(o.other(middle)))
		} else {
			out[k] = a.plus(plain.minus(middle))
		}
	}
	return out
}

// setRest gives joint i of all figures its turn at rest.
func (e *ensemble) setRest(i int, order order, angles vec3) {
	for _, f := range e.figures {
		j := &f.skeleton.joints[i]
		j.order = order
		j.setRest(angles)
	}
}

// unevenLimit is from how many per cent on a scale at rest that differs by axis is written: a hundredth of a millimetre in
// a metre.
const unevenLimit = 1e-3

func (e *ensemble) takeScales(i int) {
	lead := &e.lead.skeleton.joints[i]
	least := 200 * e.still.scale
	if lead.stays[scales] {
		least = unevenLimit
	}
	type several struct {
		axes  []int
		paths [][]float64
	}
	var kept []several
	for axis := range 3 {
		paths := e.paths(i, func(t transform) float64 { return 100 * t.scale[axis] })
		if still, _ := stays(100*e.still.scale, paths...); still && math.Abs(firstOf(paths)-100) <= least {
			continue
		}
		alike := false
		for n := range kept {
			if !alike && sameSeries(kept[n].paths, paths, least/2) {
				kept[n].axes, alike = append(kept[n].axes, axis), true
			}
		}
		if !alike {
			kept = append(kept, several{[]int{axis}, paths})
		}
	}
	for _, s := range kept {
		e.add(series{joint: i, property: scales, axes: s.axes, rest: 100, uneven: lead.stays[scales]}, s.paths, 100*e.still.scale)
	}
}

// add takes a series in, with its path in each clip, and works out its smooth curve.
func (e *ensemble) add(s series, paths [][]float64, reach float64) {
	for k, f := range e.figures {
		s := s
		s.clip = paths[k]
		at := f.takeIn(s, reach, len(e.figures) > 1)
		for _, axis := range s.axes {
			f.at[s.joint][s.property][axis] = at
		}
	}
}

// takeIn takes in a series that is a number of the clip, at rest where its clip is nil, and gives its number. several says
// that there are other clips over the rig.
func (f *figure) takeIn(s series, reach float64, several bool) int {
	j := &f.skeleton.joints[s.joint]
	if s.clip == nil {
		s.clip = slices.Repeat([]float64{s.rest}, f.skeleton.steps)
	}
	if several {
		s.held, _ = stays(reach, s.clip)
	}
	s.stepped = j.stepped[s.property] && !s.held
	if s.property == turns && f.closed {
		last := len(s.clip) - 1
		s.gain = 360 * math.Round((s.clip[last]-s.clip[0])/360)
		s.torn = math.Abs(s.clip[last]-s.clip[0]-s.gain) > 1e-3
	}
	if s.gain == 0 && !s.torn && !s.held && !s.stepped {
		s.jumps = jumpsOf(s.clip, j.jumps[s.property], f.closed, reach)
	}
	switch s.smooth = s.clip; {
	case j.curved[s.property]:
	case len(s.jumps) > 0:
		s.smooth = smoothPieces(s.clip, f.closed, s.jumps)
	default:
		s.smooth = smoothCurve(s.clip, f.closed && !s.torn, s.gain)
	}
	f.series = append(f.series, s)
	return len(f.series) - 1
}

// restAmong is where a number rests that moves in some clips: where it stays in most of those in which it stays, so that
// their sheets need say nothing of it, or else at the node's own.
func restAmong(paths [][]float64, own, reach float64) float64 {
	var held []float64
	for _, path := range paths {
		if path == nil {
			continue
		}
		if still, value := stays(reach, path); still {
			held = append(held, value)
		}
	}
	best, most := own, 0
	for _, value := range append([]float64{own}, held...) {
		n := 0
		for _, other := range held {
			if math.Abs(other-value) <= reach {
				n++
			}
		}
		if n > most {
			best, most = value, n
		}
	}
	return tidy(best)
}

func firstOf(paths [][]float64) float64 {
	for _, path := range paths {
		if path != nil {
			return path[0]
		}
	}
	return 0
}

func sameSeries(a, b [][]float64, reach float64) bool {
	for n := range a {
		for k := range a[n] {
			if math.Abs(a[n][k]-b[n][k]) > reach {
				return false
			}
		}
	}
	return true
}
