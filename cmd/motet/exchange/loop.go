package exchange

import (
	"math"
	"slices"
)

// An Ending says how a clip meets its own start.
type Ending int

// The endings of a clip.
const (
	Closes     Ending = iota // its last frame is its first, but for float noise
	Joined                   // its ends lie less than an ordinary frame's step apart and are drawn together
	LacksFrame               // the frame that would close it is missing and is added
	Open                     // it is no loop
	Forced                   // it is no loop, and a cycle was asked for all the same
)

// A Gap is how far the last frame of a clip is from its first: the worst turn of a joint
// in its parent's frame, the worst place of a joint in the world, and the worst weight of a
// morph target.
type Gap struct {
	TurnDeg   float64
	TurnJoint string
	MoveCM    float64
	MoveJoint string
	// Weight is the worst of a morph target's weight, in per cent.
	Weight     float64
	WeightName string
}

// noise is the gap below which ends are equal but for the rounding of exporters.
const (
	noiseTurnDeg = 0.15
	noiseMoveCM  = 0.15
)

// A loopFinding is what is known of the ends of a clip.
type loopFinding struct {
	ending Ending
	gap    Gap
	// ordinaryTurnDeg and ordinaryMoveCM are the median step from frame to frame of the
	// joints that the gap names.
	ordinaryTurnDeg, ordinaryMoveCM float64
}

// findLoop measures the ends of a sampled clip and decides what they are.
//
// A joint's ordinary step is the median of its steps from frame to frame. A clip closes
// when every joint's gap is within noise. It lacks its closing frame when the gap of the
// whole body is about one ordinary step of it and continues the motion on both sides. It
// is no loop when any joint's gap is larger than its ordinary step.
func findLoop(d *Document, s *skeleton, world [][]vec3) loopFinding {
	last := s.steps - 1
	var found loopFinding
	var gapTurn, gapMove, ordinaryTurn, ordinaryMove []float64
	body, odd := 0.0, 0.0
	for i := range s.joints {
		path := s.joints[i].path
		turn, move := stepMedians(path, world, i)
		ordinaryTurn, ordinaryMove = append(ordinaryTurn, turn), append(ordinaryMove, move)
		gapTurn = append(gapTurn, path[last].turn.angleTo(path[0].turn))
		gapMove = append(gapMove, world[len(world)-1][i].to(world[0][i]))
		body += gapTurn[i] + gapMove[i]
		odd += oddity(path, world, i)
	}
	turn, move := largestOf(gapTurn), largestOf(gapMove)
	found.gap = Gap{
		TurnDeg: gapTurn[turn], TurnJoint: d.label(s.joints[turn].node),
		MoveCM: gapMove[move], MoveJoint: d.label(s.joints[move].node),
	}
	found.ordinaryTurnDeg, found.ordinaryMoveCM = ordinaryTurn[turn], ordinaryMove[move]
	found.ending = Closes
	for i := range s.joints {
		switch {
		case gapTurn[i] > math.Max(noiseTurnDeg, ordinaryTurn[i]), gapMove[i] > math.Max(noiseMoveCM, ordinaryMove[i]):
			found.ending = Open
		case found.ending == Closes && (gapTurn[i] > noiseTurnDeg || gapMove[i] > noiseMoveCM):
			found.ending = Joined
		}
	}
	found.weightsAtEnds(s, &body, &odd)
	if share := body / ordinaryBody(s, world); found.ending != Closes && share > 0.4 && share < 1.6 && odd < body/2 {
		found.ending = LacksFrame
	}
	return found
}

// stepMedians are the median steps of a joint from frame to frame: of its own turn in
// degrees and of its place in the world in centimetres.
func stepMedians(path []transform, world [][]vec3, i int) (turnDeg, moveCM float64) {
	var turn, move []float64
	for f := 1; f < len(world); f++ {
		turn = append(turn, path[(f-1)*stepsPerFrame].turn.angleTo(path[f*stepsPerFrame].turn))
		move = append(move, world[f-1][i].to(world[f][i]))
	}
	return median(turn), median(move)
}

// ordinaryBody is the median step from frame to frame of all joints together, degrees and
// centimetres added up.
func ordinaryBody(s *skeleton, world [][]vec3) float64 {
	sums := make([]float64, len(world)-1)
	for f := range sums {
		for i := range s.joints {
			path := s.joints[i].path
			sums[f] += path[f*stepsPerFrame].turn.angleTo(path[(f+1)*stepsPerFrame].turn) + world[f][i].to(world[f+1][i])
		}
	}
	s.weightSteps(sums)
	return math.Max(median(sums), 1e-9)
}

// oddity is how much a joint's step from the last frame to the first departs from the
// mean of the steps before and after it, degrees and centimetres added up.
func oddity(path []transform, world [][]vec3, i int) float64 {
	last, frames := len(path)-1, len(world)-1
	gap := turnVector(path[last].turn, path[0].turn)
	before := turnVector(path[last-stepsPerFrame].turn, path[last].turn)
	after := turnVector(path[0].turn, path[stepsPerFrame].turn)
	turn := gap.minus(before.plus(after).times(0.5)).length()
	gap = world[0][i].minus(world[frames][i])
	before = world[frames][i].minus(world[frames-1][i])
	after = world[1][i].minus(world[0][i])
	return turn + gap.minus(before.plus(after).times(0.5)).length()
}

// turnVector is the turn that leads from q to p as an axis times its angle in degrees.
func turnVector(q, p quat) vec3 {
	d := q.inverse().after(p)
	if d[3] < 0 {
		d = d.times(-1)
	}
	sine := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	if sine < 1e-12 {
		return vec3{}
	}
	scale := 2 * math.Atan2(sine, d[3]) * degrees / sine
	return vec3{d[0] * scale, d[1] * scale, d[2] * scale}
}

// close makes the last point of every path equal to its first: by adding the frame that
// lacks, or by drawing both ends over to the middle between them, over so many frames that
// nothing jerks and by half the gap at most.
func (s *skeleton) close(ending Ending, time *timing) {
	if ending == LacksFrame {
		time.frames++
		s.steps += stepsPerFrame
	}
	s.closeWeights(ending, time.frames)
	for i := range s.joints {
		j := &s.joints[i]
		if ending == LacksFrame {
			j.path = addFrame(j.path)
			j.clip = j.path
			continue
		}
		j.path = slices.Clone(j.path)
		drawn := drawnSteps(time.frames)
		last := len(j.path) - 1
		first, end := j.path[0], j.path[last]
		turn := end.turn.inverse().after(first.turn)
		if turn[3] < 0 {
			turn = turn.times(-1)
		}
		for k := 0; k <= drawn && 2*drawn <= last; k++ {
			share := drawnShare(k, drawn)
			draw(&j.path[last-k], first.move.minus(end.move), first.scale.minus(end.scale), turn, share)
			draw(&j.path[k], end.move.minus(first.move), end.scale.minus(first.scale), turn.inverse(), share)
		}
		sign := math.Copysign(1, j.path[0].turn.dot(j.path[last].turn))
		j.path[last] = j.path[0]
		j.path[last].turn = j.path[0].turn.times(sign)
	}
}

// drawnSteps is over how many steps each end is drawn.
func drawnSteps(frames int) int { return max(1, min(frames/6, 12)) * stepsPerFrame }

// drawnShare is which share of the gap a step that many steps from the end is drawn.
func drawnShare(k, drawn int) float64 {
	u := float64(k) / float64(drawn)
	return (1 - u*u*(3-2*u)) / 2
}

// draw moves one point of a path a share of the way.
func draw(at *transform, move, scale vec3, turn quat, share float64) {
	at.move = at.move.plus(move.times(share))
	at.scale = at.scale.plus(scale.times(share))
	at.turn = at.turn.after(slerp(quat{0, 0, 0, 1}, turn, share))
}

func addFrame(path []transform) []transform {
	first, off := path[0], path[len(path)-1]
	for k := 1; k <= stepsPerFrame; k++ {
		u := float64(k) / stepsPerFrame
		at := transform{
			move:  off.move.plus(first.move.minus(off.move).times(u)),
			scale: off.scale.plus(first.scale.minus(off.scale).times(u)),
			turn:  slerp(off.turn, first.turn, u),
		}
		if before := path[len(path)-1].turn; at.turn.dot(before) < 0 {
			at.turn = at.turn.times(-1)
		}
		path = append(path, at)
	}
	return path
}

func median(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	slices.Sort(values)
	return values[len(values)/2]
}

func largestOf(values []float64) int {
	at := 0
	for i, v := range values {
		if v > values[at] {
			at = i
		}
	}
	return at
}
