package exchange

import (
	"iter"
	"math"
)

// A worst is the largest of some errors, and where it is.
type worst struct {
	error float64
	joint int
	step  int
}

func (w *worst) see(error float64, joint, step int) {
	if error > w.error {
		*w = worst{error, joint, step}
	}
}

// An errorReport is how far a sheet is from its clip: at frames, and between them beyond
// what any smooth motion through the frames is off.
type errorReport struct {
	turnDeg, moveCM, scalePercent, worldCM worst
	// betweenDeg and betweenCM are the plain largest errors between frames, where the
	// clip runs in straight lines.
	betweenDeg, betweenCM worst
	// weightPercent is the largest error of a dial of morph targets, and weightName that dial.
	weightPercent float64
	weightName    string
	// ratio is the largest error as a share of what is allowed.
	ratio float64
}

func (r errorReport) inside() bool { return r.ratio <= 1 }

// A checker holds the motion of a rig's series against the clip, joint by joint: turns as
// the angle between quaternions, places in the world by forward kinematics, where the
// clip's side is evaluated from the file's own nodes and not from the series.
type checker struct {
	figure *figure
	within Within
	// slack is what a smooth curve through the frames is off between them, by step and
	// joint.
	slack [][]offs
	// ratio of error to limit of the last comparison, by joint and frame: of its place in
	// the world, and of its own turn, move and scale.
	place, own [][]float64
}

func newChecker(f *figure, within Within) *checker {
	c := &checker{figure: f, within: within}
	smooth := make([][]float64, len(f.series))
	for n := range smooth {
		smooth[n] = f.series[n].smooth
	}
	joints := f.skeleton.joints
	c.slack = make([][]offs, f.skeleton.steps)
	f.eachPose(smooth, func(step int, pose []transform, place []vec3) {
		c.slack[step] = make([]offs, len(joints))
		if step%stepsPerFrame != 0 {
			for i := range joints {
				c.slack[step][i] = offsOf(pose[i], joints[i].clip[step], place[i], f.world[step][i])
			}
		}
	})
	return c
}

// offs are the errors of one joint at one step.
type offs struct{ turnDeg, moveCM, scalePercent, worldCM float64 }

func offsOf(pose, clip transform, place, world vec3) offs {
	return offs{
		turnDeg:      pose.turn.angleTo(clip.turn),
		moveCM:       pose.move.to(clip.move),
		scalePercent: 100 * maxAbs(pose.scale.minus(clip.scale)),
		worldCM:      place.to(world),
	}
}

// shares are the errors as shares of what is allowed with some slack: of the joint's own
// transform, and of its place in the world.
func (o offs) shares(within Within, slack offs) (own, place float64) {
	own = math.Max(o.turnDeg/(within.TurnDeg+slack.turnDeg), o.moveCM/(within.MoveCM+slack.moveCM))
	own = math.Max(own, o.scalePercent/(within.ScalePercent+slack.scalePercent))
	return own, o.worldCM / (within.WorldCM + slack.worldCM)
}

// compare measures the errors of the series' values at every step.
func (c *checker) compare(values [][]float64) errorReport {
	f := c.figure
	joints := f.skeleton.joints
	c.place, c.own = grid(len(joints), f.time.frames+1), grid(len(joints), f.time.frames+1)
	var r errorReport
	f.eachPose(values, func(step int, pose []transform, place []vec3) {
		frame := (step + stepsPerFrame/2) / stepsPerFrame
		for i := range joints {
			if joints[i].absent {
				continue
			}
			o := offsOf(pose[i], joints[i].clip[step], place[i], f.world[step][i])
			own, place := o.shares(c.within, c.slack[step][i])
			c.own[i][frame] = math.Max(c.own[i][frame], own)
			c.place[i][frame] = math.Max(c.place[i][frame], place)
			r.ratio = math.Max(r.ratio, math.Max(own, place))
			if step%stepsPerFrame != 0 {
				r.betweenDeg.see(o.turnDeg, i, step)
				r.betweenCM.see(o.worldCM, i, step)
				continue
			}
			r.turnDeg.see(o.turnDeg, i, step)
			r.moveCM.see(o.moveCM, i, step)
			r.scalePercent.see(o.scalePercent, i, step)
			r.worldCM.see(o.worldCM, i, step)
		}
	})
	return r
}

// narrow takes allowance from the series that put a joint outside its limits, at the
// frames where they do, in proportion to their errors there. It tells which it touched.
func (c *checker) narrow(values [][]float64, allowance [][]float64) []bool {
	f := c.figure
	touched := make([]bool, len(f.series))
	for x := range f.skeleton.joints {
		for frame := range f.time.frames + 1 {
			if ratio := max(c.own[x][frame], c.place[x][frame]); ratio > 1 {
				if l := f.limbOf(x); l != nil {
					c.narrowLimb(l, frame, ratio, values, allowance, touched)
					continue
				}
			}
			if ratio := c.own[x][frame]; ratio > 1 {
				for n, s := range f.seriesOf(x) {
					limit := [...]float64{c.within.MoveCM, c.within.TurnDeg, c.within.ScalePercent}[s.property]
					if off := s.offAt(values[n], frame); off > 0.15*limit {
						narrowNear(allowance[n], frame, off, ratio)
						touched[n] = true
					}
				}
			}
			if ratio := c.place[x][frame]; ratio > 1 {
				c.narrowCarriers(x, frame, ratio, values, allowance, touched)
			}
		}
	}
	return touched
}

// narrowCarriers narrows what moves joint x through the world at a frame: the series that
// put it off most, down to half as much as the worst of them. The others hardly matter,
// and to ask them for less would cost keys for nothing.
func (c *checker) narrowCarriers(x, frame int, ratio float64, values, allowance [][]float64, touched []bool) {
	f := c.figure
	place := f.world[frame*stepsPerFrame]
	most := 0.0
	for _, pass := range []bool{false, true} {
		for up := x; up >= 0; up = f.skeleton.joints[up].parent {
			if l := f.limbOf(up); l != nil {
				// What hangs on a solved limb is where the limb's end is.
				for _, n := range append(l.goal[:], f.at[l.end][turns][:]...) {
					s := &f.series[n]
					off := s.offAt(values[n], frame)
					off, moved := off, off*s.lever(place[x].to(place[l.end]))
					if !pass {
						most = math.Max(most, moved)
					} else if off > 0 && moved >= most/2 {
						narrowNear(allowance[n], frame, off, ratio)
						touched[n] = true
					}
				}
				break
			}
			for n, s := range f.seriesOf(up) {
				if up == x && s.property != moves {
					continue
				}
				off := s.offAt(values[n], frame)
				off, moved := off, off*s.lever(place[x].to(place[up]))
				if !pass {
					most = math.Max(most, moved)
				} else if moved >= most/2 {
					narrowNear(allowance[n], frame, off, ratio)
					touched[n] = true
				}
			}
		}
	}
}

// seriesOf goes through the series of a joint with their numbers.
func (f *figure) seriesOf(joint int) iter.Seq2[int, *series] {
	return func(yield func(int, *series) bool) {
		for _, axes := range f.at[joint] {
			for axis, n := range axes {
				if n >= 0 && f.series[n].axes[0] == axis && !yield(n, &f.series[n]) {
					return
				}
			}
		}
	}
}

// offAt is the largest error of a series within half a frame of a frame, against the
// smooth motion through the frames.
func (s *series) offAt(values []float64, frame int) float64 {
	off := 0.0
	for k := max(0, frame*stepsPerFrame-2); k <= min(len(values)-1, frame*stepsPerFrame+2); k++ {
		off = math.Max(off, math.Abs(values[k]-s.smooth[k]))
	}
	return off
}

// narrowNear lowers what is allowed at a frame and beside it to less than the error there.
func narrowNear(allowance []float64, frame int, off, ratio float64) {
	allowed := math.Max(leastAllowance, math.Min(allowance[frame], off)*math.Max(0.4, 0.85/ratio))
	for near := max(0, frame-1); near <= min(len(allowance)-1, frame+1); near++ {
		allowance[near] = math.Min(allowance[near], allowed)
	}
}

// eachPose hands every step's local transforms and world places to do, for series that
// have these values and joints that otherwise rest. The slices are used again.
func (f *figure) eachPose(values [][]float64, do func(step int, pose []transform, place []vec3)) {
	joints := f.skeleton.joints
	pose, place, linear := make([]transform, len(joints)), make([]vec3, len(joints)), make([]matrix, len(joints))
	solver := solver{f, make([]stand, len(f.limbs))}
	for step := range f.skeleton.steps {
		for i := range joints {
			pose[i] = f.poseOf(i, step, values)
			place[i], linear[i] = pose[i].move, pose[i].turn.matrix().columnsScaled(pose[i].scale)
			if p := joints[i].parent; p >= 0 {
				place[i] = place[p].plus(linear[p].apply(place[i]))
				linear[i] = linear[p].times(linear[i])
			}
		}
		solver.pose(step, values, pose, place, linear)
		do(step, pose, place)
	}
}

// poseOf is the local transform that the rig gives joint i: rest and channels added up.
func (f *figure) poseOf(i, step int, values [][]float64) transform {
	j := &f.skeleton.joints[i]
	out := j.rest
	angles, turned := j.restAngles, false
	for axis := range 3 {
		if n := f.at[i][moves][axis]; n >= 0 {
			out.move[axis] = values[n][step]
		}
		if n := f.at[i][turns][axis]; n >= 0 {
			angles[axis], turned = values[n][step], true
		}
		if n := f.at[i][scales][axis]; n >= 0 {
			out.scale[axis] = values[n][step] / 100
		}
	}
	if turned {
		out.turn = j.order.quat(angles)
	}
	return out
}

func grid(rows, columns int) [][]float64 {
	all := make([]float64, rows*columns)
	out := make([][]float64, rows)
	for i := range out {
		out[i] = all[i*columns : (i+1)*columns]
	}
	return out
}

func maxAbs(v vec3) float64 {
	return math.Max(math.Abs(v[0]), math.Max(math.Abs(v[1]), math.Abs(v[2])))
}
