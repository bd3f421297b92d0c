package exchange

import (
	"math"
)

// A figure is a clip seen as the motion of a rig: joints with names and rests, and the
// numbers of them that move.
type figure struct {
	document *Document
	clip     *Clip
	time     timing
	skeleton *skeleton
	loop     loopFinding
	front    facing
	// closed says that the motion is written as a cycle that closes.
	closed bool
	series []series
	shapes []shape // dials of morph targets
	// controls are the names of those that are no joints, numbered behind the joints.
	controls []string
	// at gives the series of a joint by property and axis, -1 for a number that stays.
	at [][3][3]int
	// restPlace and restTurn are the joints at rest in the world.
	restPlace []vec3
	restTurn  []quat
	// world is the place of every joint at every step of the clip, in centimetres.
	world [][]vec3
	// moving is how many joints move in the clip.
	moving int
	// limbs are those that are solved, in this clip or in another over the same rig.
	limbs []limb
	// unplanted are ends that stand still and are not planted, and why, in lines for a person.
	unplanted []string
	// heldCM says that ends are held which stay that near to a place; 0 where none is.
	heldCM float64
	// keysWithout is how many keys the sheet would have with no limb solved, and bakedWithout how many the clip has for them.
	keysWithout, bakedWithout int
}

// A series is one number of one joint over the clip: a turn in degrees, a move in
// centimetres, a scale in per cent.
type series struct {
	joint    int
	property property
	axes     []int // one axis; a scale may move several alike
	clip     []float64
	// smooth is the curve through the values at whole frames, which tells how far the
	// clip's straight lines between frames are from any smooth motion. A clip that is
	// smooth itself is its own.
	smooth []float64
	rest   float64
	// gain is what a closed series is higher by after a round: whole turns.
	gain    float64
	stepped bool
	// jumps are the frames at which it goes from one value to another at one moment, and moves otherwise.
	jumps []int
	// uneven says that it is the share of a joint's rest that differs by axis, which never moves and has to be exact: the
	// joint carries others.
	uneven bool
	// torn says that the series does not close although the clip does: a joint that
	// passed through gimbal lock on its way round.
	torn bool
	// held says that the series stays in this clip, and is one for what another clip over the same rig does.
	held bool
	// pinned says that its rest may no longer change: goals of solved limbs are counted from it.
	pinned bool
	// made says that it is no number of the clip's own: a solved limb's goal, swivel, or what is left of its turns.
	made bool
	// undriven says that the rig that there is has no dial for it.
	undriven bool
	// idle says that the clip does without it: a limb is solved in it or is not, as in no other clip over the rig.
	idle bool
	// gone says that nothing follows it any more: a turn of a limb that is solved instead.
	gone bool
}

// figureOf is a clip as the motion of a rig of its own.
func figureOf(d *Document, clip *Clip, o Options) (*figure, error) {
	f, err := sampledFigure(d, clip, o, d.bones([]*Clip{clip}))
	if err != nil {
		return nil, err
	}
	return ensembleOf([]*figure{f}, o).lead, nil
}

// sampledFigure samples a clip.
func sampledFigure(d *Document, clip *Clip, o Options, bones []joint) (*figure, error) {
	f := &figure{document: d, clip: clip}
	var err error
	if f.time, err = timingOf(clip, o.Rate); err != nil {
		return nil, err
	}
	f.skeleton, err = d.skeleton(clip, f.time, bones)
	return f, err
}

// joinEnds finds out whether the clip is a loop, and joins its ends if it is.
func (f *figure) joinEnds(o Options, frames [][]vec3) {
	f.loop = findLoop(f.document, f.skeleton, frames)
	switch f.loop.ending {
	case Closes, Joined, LacksFrame:
		f.closed = true
		before := f.skeleton.worldPath(1)
		f.skeleton.close(f.loop.ending, &f.time)
		f.world = f.skeleton.worldPath(1)
		// Ends that lie within the limits are held against the clip itself; what had to
		// be drawn farther than that is said, and held against the joined motion.
		if f.loop.ending != LacksFrame && f.loop.gap.TurnDeg <= o.Within.TurnDeg && f.loop.gap.MoveCM <= o.Within.WorldCM && f.loop.gap.Weight <= o.Within.WeightPercent {
			f.world = before
		} else {
			f.skeleton.forgetClip()
		}
	case Open:
		f.world = f.skeleton.worldPath(1)
		if o.Cycle {
			f.loop.ending = Forced
		}
	}
}

// forgetClip makes the joined paths what the result is held against.
func (s *skeleton) forgetClip() {
	for i := range s.joints {
		s.joints[i].clip = s.joints[i].path
	}
	for i := range s.weights {
		s.weights[i].clip = s.weights[i].path
	}
}

// restPlaces are the places of all joints at rest, in centimetres.
func (f *figure) restPlaces() []vec3 {
	joints := f.skeleton.joints
	place := make([]vec3, len(joints))
	turn := f.restTurns()
	for i := range joints {
		place[i] = joints[i].rest.move
		if p := joints[i].parent; p >= 0 {
			place[i] = place[p].plus(turn[p].turn(place[i]))
		}
	}
	return place
}

// restTurns are the turns of all joints at rest, in the world.
func (f *figure) restTurns() []quat {
	joints := f.skeleton.joints
	turn := make([]quat, len(joints))
	for i := range joints {
		turn[i] = joints[i].rest.turn
		if p := joints[i].parent; p >= 0 {
			turn[i] = turn[p].after(turn[i])
		}
	}
	return turn
}

// setRest gives the joint its rest angles as the rig will write them, and the turn that
// they mean.
func (j *joint) setRest(angles vec3) {
	for axis := range 3 {
		j.restAngles[axis] = tidy(angles[axis])
	}
	j.rest.turn = j.order.quat(j.restAngles)
}

// smoothCurve runs through the values at whole frames with the slope of the neighbours'
// chord, and returns it at every step.
func smoothCurve(path []float64, closed bool, gain float64) []float64 {
	frames := (len(path) - 1) / stepsPerFrame
	value := func(frame int) float64 {
		switch {
		case closed && frame < 0:
			return path[(frame+frames)*stepsPerFrame] - gain
		case closed && frame > frames:
			return path[(frame-frames)*stepsPerFrame] + gain
		}
		return path[max(0, min(frames, frame))*stepsPerFrame]
	}
	slope := func(frame int) float64 {
		if !closed && (frame == 0 || frame == frames) {
			return value(frame+1) - value(frame-1)
		}
		return (value(frame+1) - value(frame-1)) / 2
	}
	out := make([]float64, len(path))
	for k := range out {
		frame, part := k/stepsPerFrame, k%stepsPerFrame
		if part == 0 {
			out[k] = value(frame)
			continue
		}
		b := basis(float64(part)/stepsPerFrame, 1)
		out[k] = b[0]*value(frame) + b[1]*slope(frame) + b[2]*value(frame+1) + b[3]*slope(frame+1)
	}
	return out
}

func meanOf(angles []vec3) vec3 {
	var sum vec3
	for _, a := range angles {
		sum = sum.plus(a)
	}
	return sum.times(1 / float64(len(angles)))
}

// tidy rounds a number of the rig to the three decimals that it is written with.
func tidy(x float64) float64 {
	x = math.Round(x*1000) / 1000
	if x == 0 {
		return 0 // and not minus nothing
	}
	return x
}
