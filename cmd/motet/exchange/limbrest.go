package exchange

import (
	"math"
	"slices"
)

// restLimb puts a limb at rest as it mostly is in the clips that hold it, so that its twists are small and the way from rest
// to where its bones point is short.
func (e *ensemble) restLimb(n int) {
	for k := range 2 {
		l := &e.lead.limbs[n]
		i := []int{l.root, l.middle}[k]
		var held []transform
		var free [][]transform
		for _, f := range e.figures {
			switch j := &f.skeleton.joints[i]; {
			case !f.limbs[n].idle:
				held = append(held, j.path...)
			case !j.absent:
				free = append(free, j.path)
			}
		}
		twist := l.twists[k]
		o := order{(twist + 1) % 3, (twist + 2) % 3, twist}
		slices.Sort(o[:2])
		if other := (order{o[1], o[0], twist}); other.leastMargin(free) > o.leastMargin(free)+1e-9 {
			o = other
		}
		angles := o.angles(meanTurn(held))
		for _, f := range e.figures {
			j := &f.skeleton.joints[i]
			j.order = o
			j.setRest(angles)
		}
	}
}

// leastMargin is how far an order keeps from gimbal lock on all of the paths, as far as that matters.
func (o order) leastMargin(paths [][]transform) float64 {
	least := float64(safeMargin)
	for _, path := range paths {
		least = math.Min(least, o.margin(path))
	}
	return least
}

// bendLimbs gathers toward where the middles of a figure's limbs bend, seen from what carries them. was is the figure
// before anything was replaced.
func (f *figure) bendLimbs(was *figure, wanted []bool) {
	if !slices.ContainsFunc(f.limbs, func(l limb) bool { return !l.idle }) {
		return
	}
	stands := was.standsAt(1, wanted)
	joints := f.skeleton.joints
	for n := range f.limbs {
		l := &f.limbs[n]
		if l.idle {
			continue
		}
		for axis := range 3 {
			l.along[axis], l.least[axis] = l.bentAlong(axis, joints[l.root].parent, stands)
		}
	}
}

// bentAlong is how far a limb's middle bends along an axis of what carries it, added up over moments, and how far the axis is
// from pointing along the limb at least.
func (l *limb) bentAlong(axis, carrier int, stands [][]stand) (along, least float64) {
	least = 1
	for _, at := range stands {
		side := at[carrier].linear.column(axis)
		line := at[l.end].place.minus(at[l.root].place)
		line = line.times(1 / math.Max(line.length(), 1e-9))
		knee := at[l.middle].place.minus(at[l.root].place)
		along += side.dot(knee.minus(line.times(knee.dot(line))))
		least = math.Min(least, math.Sqrt(math.Max(0, 1-line.dot(side)*line.dot(side))))
	}
	return along, least
}

// agreeOnBends chooses toward which axis each limb bends in all figures.
func (e *ensemble) agreeOnBends() {
	for n := range e.lead.limbs {
		best, bends, way := 0.0, 0, 1.0
		for axis := range 3 {
			along, least := 0.0, 1.0
			for _, f := range e.figures {
				if l := &f.limbs[n]; !l.idle {
					along, least = along+l.along[axis], math.Min(least, l.least[axis])
				}
			}
			if worth := math.Abs(along) * least; worth > best {
				best, bends, way = worth, axis, math.Copysign(1, along)
			}
		}
		for _, f := range e.figures {
			f.limbs[n].bends, f.limbs[n].way = bends, way
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
