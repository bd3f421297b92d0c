package exchange

import (
	"math"

	"github.com/qmuntal/gltf"
)

// A stillness is how far a number of a joint may depart from where it starts and still
// count as not moving: exporters move bones by the noise of their arithmetic.
type stillness struct{ turnDeg, moveCM, scale, weight float64 }

// stillnessWithin is the stillness for the limits of an import, small enough that all that
// is taken for still, seen from the far end of a figure of this size, hardly counts.
func stillnessWithin(w Within, sizeCM float64) stillness {
	return stillness{
		turnDeg: math.Min(0.08*w.TurnDeg, 0.1*w.WorldCM/math.Max(sizeCM, 1e-3)*degrees),
		moveCM:  math.Min(0.1*w.MoveCM, 0.1*w.WorldCM),
		scale:   math.Min(0.002*w.ScalePercent, 0.1*w.WorldCM/math.Max(sizeCM, 1e-3)),
		weight:  0.1 * w.WeightPercent,
	}
}

// sizeOf is the diagonal of the box round a figure.
func sizeOf(places []vec3) float64 {
	if len(places) == 0 {
		return 0
	}
	low, high := places[0], places[0]
	for _, p := range places {
		for axis := range 3 {
			low[axis], high[axis] = math.Min(low[axis], p[axis]), math.Max(high[axis], p[axis])
		}
	}
	return low.to(high)
}

// settle finds out for all joints which properties stay, and where each joint rests: at
// what stays, and for the rest at the node's own transform. Moves are measured in
// centimetres, through the scales of all that carries the joint.
func (s *skeleton) settle(d *Document, still stillness) {
	for i := range s.joints {
		j := &s.joints[i]
		own, first := d.nodes[j.node].own, j.path[0]
		j.stays = [3]bool{true, true, true}
		for _, at := range j.path {
			j.stays[moves] = j.stays[moves] && at.move.to(first.move) <= still.moveCM
			j.stays[turns] = j.stays[turns] && at.turn.angleTo(first.turn) <= still.turnDeg
			j.stays[scales] = j.stays[scales] && at.scale.to(first.scale) <= still.scale
		}
		for p := range j.stays {
			t := s.tracked[[2]int{j.node, p}]
			j.stepped[p] = t != nil && t.kind == gltf.InterpolationStep && !j.stays[p]
		}
		j.rest = transform{move: own.move.scaled(j.fold), turn: own.turn, scale: vec3{1, 1, 1}}
		if j.stays[moves] {
			j.rest.move = first.move
		}
		if j.stays[turns] {
			j.rest.turn = first.turn
		}
	}
}

// stays tells whether paths keep within reach of the middle of their range together, and where
// that is.
func stays(reach float64, paths ...[]float64) (bool, float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, path := range paths {
		for _, v := range path {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	return high-low <= 2*reach, (low + high) / 2
}

// leastJump is how many seconds lie between two keys at least that are not one moment to the eye: less than a hundredth of
// a frame.
const leastJump = 1e-4
