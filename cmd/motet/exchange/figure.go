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
	still    stillness
	loop     loopFinding
	front    facing
	// closed says that the motion is written as a cycle that closes.
	closed bool
	series []series
	// at gives the series of a joint by property and axis, -1 for a number that stays.
	at [][3][3]int
	// restPlace and restTurn are the joints at rest in the world.
	restPlace []vec3
	restTurn  []quat
	// world is the place of every joint at every step of the clip, in centimetres.
	world [][]vec3
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
	// uneven says that it is the share of a joint's rest that differs by axis, which never moves and has to be exact: the
	// joint carries others.
	uneven bool
	// torn says that the series does not close although the clip does: a joint that
	// passed through gimbal lock on its way round.
	torn bool
}

// figureOf samples a clip, joins its ends if it is a loop, names the joints and takes the
// motion apart into series.
func figureOf(d *Document, clip *Clip, o Options) (*figure, error) {
	f := &figure{document: d, clip: clip}
	var err error
	if f.time, err = timingOf(clip, o.Rate); err != nil {
		return nil, err
	}
	if f.skeleton, err = skeletonOf(d, clip, f.time); err != nil {
		return nil, err
	}
	frames := f.skeleton.worldPath(stepsPerFrame)
	f.still = stillnessWithin(o.Within, sizeOf(frames[0]))
	f.skeleton.settle(d, f.still)
	f.loop = findLoop(d, f.skeleton, frames)
	switch f.loop.ending {
	case Closes, Joined, LacksFrame:
		f.closed = true
		before := f.skeleton.worldPath(1)
		f.skeleton.close(f.loop.ending, &f.time)
		f.world = f.skeleton.worldPath(1)
		// Ends that lie within the limits are held against the clip itself; what had to
		// be drawn farther than that is said, and held against the joined motion.
		if f.loop.ending != LacksFrame && f.loop.gap.TurnDeg <= o.Within.TurnDeg && f.loop.gap.MoveCM <= o.Within.WorldCM {
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
	f.front = f.nameJoints()
	f.takeApart()
	f.restPlace, f.restTurn = f.restPlaces(), f.restTurns()
	return f, nil
}

// forgetClip makes the joined paths what the result is held against.
func (s *skeleton) forgetClip() {
	for i := range s.joints {
		s.joints[i].clip = s.joints[i].path
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

// takeApart makes the series of all joints and settles where each joint rests.
func (f *figure) takeApart() {
	joints := f.skeleton.joints
	f.at = make([][3][3]int, len(joints))
	for i := range joints {
		for p := range f.at[i] {
			f.at[i][p] = [3]int{-1, -1, -1}
		}
		f.takeMoves(i)
		f.takeTurns(i)
		f.takeScales(i)
	}
}

func (f *figure) takeMoves(i int) {
	j := &f.skeleton.joints[i]
	for axis := range 3 {
		j.rest.move[axis] = tidy(j.rest.move[axis])
	}
	if j.stays[moves] {
		return
	}
	for axis := range 3 {
		path := make([]float64, len(j.path))
		for k := range path {
			path[k] = j.path[k].move[axis]
		}
		if still, value := stays(path, f.still.moveCM); still {
			j.rest.move[axis] = tidy(value)
			continue
		}
		f.add(series{joint: i, property: moves, axes: []int{axis}, clip: path, rest: j.rest.move[axis], stepped: j.stepped[moves]})
	}
}

// takeTurns chooses the joint's turn order, follows its angles through the clip on one
// branch, and makes series of those that move.
func (f *figure) takeTurns(i int) {
	j := &f.skeleton.joints[i]
	if j.stays[turns] {
		j.order = orders()[0]
		j.setRest(j.order.angles(j.rest.turn))
		return
	}
	paths := [][]transform{j.path}
	if j.mate >= 0 {
		paths = append(paths, f.skeleton.joints[j.mate].path)
	}
	j.order, _ = safestOrder(paths...)
	angles := j.order.unroll(j.path)
	rest, lift := j.order.nearest(j.rest.turn, meanOf(angles)), vec3{}
	for axis := range 3 {
		lift[axis] = -360 * math.Round(rest[axis]/360)
	}
	rest = rest.plus(lift)
	for axis := range 3 {
		path := make([]float64, len(angles))
		for k := range path {
			path[k] = angles[k][axis] + lift[axis]
		}
		if still, value := stays(path, f.still.turnDeg); still {
			rest[axis] = value
			continue
		}
		rest[axis] = tidy(rest[axis])
		s := series{joint: i, property: turns, axes: []int{axis}, clip: path, rest: rest[axis], stepped: j.stepped[turns]}
		if f.closed {
			last := len(path) - 1
			s.gain = 360 * math.Round((path[last]-path[0])/360)
			s.torn = math.Abs(path[last]-path[0]-s.gain) > 1e-3
		}
		f.add(s)
	}
	j.setRest(rest)
}

// setRest gives the joint its rest angles as the rig will write them, and the turn that
// they mean.
func (j *joint) setRest(angles vec3) {
	for axis := range 3 {
		j.restAngles[axis] = tidy(angles[axis])
	}
	j.rest.turn = j.order.quat(j.restAngles)
}

// unevenLimit is from how many per cent on a scale at rest that differs by axis is written: a hundredth of a millimetre in
// a metre.
const unevenLimit = 1e-3

func (f *figure) takeScales(i int) {
	j := &f.skeleton.joints[i]
	least := 200 * f.still.scale
	if j.stays[scales] {
		least = unevenLimit
	}
	var kept []series
	for axis := range 3 {
		path := make([]float64, len(j.path))
		for k := range path {
			path[k] = 100 * j.path[k].scale[axis]
		}
		if still, _ := stays(path, 100*f.still.scale); still && math.Abs(path[0]-100) <= least {
			continue
		}
		alike := false
		for n := range kept {
			if !alike && sameSeries(kept[n].clip, path, least/2) {
				kept[n].axes, alike = append(kept[n].axes, axis), true
			}
		}
		if !alike {
			kept = append(kept, series{joint: i, property: scales, axes: []int{axis}, clip: path, rest: 100, stepped: j.stepped[scales], uneven: j.stays[scales]})
		}
	}
	for _, s := range kept {
		f.add(s)
	}
}

// add takes in a series and works out its smooth curve.
func (f *figure) add(s series) {
	closed := f.closed && !s.torn
	s.smooth = s.clip
	if !f.skeleton.joints[s.joint].curved[s.property] {
		s.smooth = smoothCurve(s.clip, closed, s.gain)
	}
	for _, axis := range s.axes {
		f.at[s.joint][s.property][axis] = len(f.series)
	}
	f.series = append(f.series, s)
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

func sameSeries(a, b []float64, reach float64) bool {
	for k := range a {
		if math.Abs(a[k]-b[k]) > reach {
			return false
		}
	}
	return true
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
