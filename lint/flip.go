package lint

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func flip() *Rule {
	return &Rule{
		Name: "flip", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 5, Unit: "deg"}},
		Doc: Doc{
			Reports: "A joint whose middle turn comes near a right angle while it turns about its other two axes too.",
			Why:     "There the first and the third axis are one line, so that their two dials do the same thing and a small change of pose needs a large one of both: the joint swings wide between keys, and flips when turns are read back.",
			Decides: "Three turns in the joint's order, on every frame: the middle one against 90° and 270°, with the turn at rest. The limit is 5° (common practice): there the other two dials are 11 times as fast as the joint (1 ÷ sin 5°). A joint that does not turn by a degree about both other axes has nothing to flip, and the joints of a solved limb are turned by its goal.",
			Allow:   "When it has been looked at and goes through cleanly.",
			Bad:     "sheet example\n  rig       ball\n  rate      24 fps\n  tempo     80 bpm\n  cycle     4b\n\ntrack ball\n  at      roll    yaw     tilt\n  0b      5       40      2\n  2b      -5      88      -2\n\nrig ball\n  height    100\n\njoints\n  joint           on              x       y       z       part\n  ball            .               0       50      0       root\n\nchannels\n  channel                 joint           drives          gain    unit    range       mirror  positive\n  ball/roll               .               turn.x          1       deg     -180..180   keep    \"forward\"\n  ball/yaw                .               turn.y          1       deg     -180..180   keep    \"to the left\"\n  ball/tilt               .               turn.z          1       deg     -180..180   keep    \"left side up\"\n",
			Good:    "sheet example\n  rig       ball\n  rate      24 fps\n  tempo     80 bpm\n  cycle     4b\n\ntrack ball\n  at      roll    yaw     tilt\n  0b      5       40      2\n  2b      -5      88      -2\n\nrig ball\n  height    100\n\njoints\n  joint           on              x       y       z       part    order\n  ball            .               0       50      0       root    yxz\n\nchannels\n  channel                 joint           drives          gain    unit    range       mirror  positive\n  ball/roll               .               turn.x          1       deg     -180..180   keep    \"forward\"\n  ball/yaw                .               turn.y          1       deg     -180..180   keep    \"to the left\"\n  ball/tilt               .               turn.z          1       deg     -180..180   keep    \"left side up\"\n",
		},
		Check: checkFlip,
	}
}

// turnDrive is a channel that turns a joint about one axis.
type turnDrive struct {
	channel, joint, axis int
	gain                 float64
}

func checkFlip(p *Pass) {
	if !p.certain() {
		return
	}
	byJoint := make([][]turnDrive, len(p.Motion.Rig.Joints))
	for i := range p.Motion.Channels {
		for _, d := range p.Motion.Channels[i].Dial.Drives {
			for axis := range 3 {
				if d.Kind == motion.DrivesTurn && d.Axes[axis] {
					byJoint[d.Joint] = append(byJoint[d.Joint], turnDrive{i, d.Joint, axis, d.Gain})
				}
			}
		}
	}
	for joint, drives := range byJoint {
		if len(drives) >= 3 && !p.solvedJoint(joint) && p.mayFlip(joint, drives) {
			p.flips(joint, drives)
		}
	}
}

// solvedJoint tells whether a joint is turned by a planted limb's goal.
func (p *Pass) solvedJoint(joint int) bool {
	return slices.ContainsFunc(p.Motion.Plants, func(plant motion.Plant) bool {
		if plant.Chain < 0 {
			return false
		}
		c := &p.Motion.Rig.Chains[plant.Chain]
		return c.Root == joint || c.Middle == joint
	})
}

// mayFlip tells whether the keys of the channels that turn a joint's middle axis, and what may come on top of them, get
// anywhere near a right angle, and whether the other axes are in use.
func (p *Pass) mayFlip(joint int, drives []turnDrive) bool {
	middle := int(p.Motion.Rig.Joints[joint].Order[1] - 'x')
	var used [3]bool
	reach := math.Abs(p.Motion.Rig.Joints[joint].RestTurn[middle])
	for _, d := range drives {
		c := &p.Motion.Channels[d.channel]
		if !c.Moves() {
			continue
		}
		used[d.axis] = true
		if d.axis != middle {
			continue
		}
		if c.Base == nil || len(c.Follows)+len(c.Layers) > 0 {
			return true
		}
		least, most := c.Base.Curve.Range()
		reach += math.Abs(d.gain) * max(math.Abs(least-c.Dial.Rest), math.Abs(most-c.Dial.Rest))
	}
	const onTop = 5 // degrees of quivers and breaths
	return used == [3]bool{true, true, true} && reach > 90-p.Limit("deg")-onTop
}

func (p *Pass) flips(joint int, drives []turnDrive) {
	j := &p.Motion.Rig.Joints[joint]
	order := [3]int{int(j.Order[0] - 'x'), int(j.Order[1] - 'x'), int(j.Order[2] - 'x')}
	least := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	most := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	nearest, when := math.Inf(1), 0.0
	length := p.Motion.Sheet.Length.Float()
	for frame := 0.0; frame < length+1; frame++ {
		turns := p.turnsAt(joint, drives, min(frame, length))
		for axis, turn := range turns {
			least[axis], most[axis] = min(least[axis], turn), max(most[axis], turn)
		}
		if off := math.Abs(math.Remainder(turns[order[1]]-90, 180)); off < nearest {
			nearest, when = off, min(frame, length)
		}
	}
	const turning = 1 // degree
	if nearest >= p.Limit("deg") || most[order[0]]-least[order[0]] < turning || most[order[2]]-least[order[2]] < turning {
		return
	}
	at := p.Motion.Sheet.Block.RefLine(p.Motion.Sheet.Block.Open)
	for _, d := range drives {
		if c := &p.Motion.Channels[d.channel]; d.axis == order[1] && c.Base != nil {
			at = nearestKey(c, when).At
			break
		}
	}
	p.Report(at, "%s turns about its middle axis, %c, to within %s° of a right angle at %s, while it turns about the other two as well, so it can flip there; give the joint another `order`, with the axis in the middle that turns least (%s)", j.Name, j.Order[1], number(rounded(nearest, 1)), moment(p.Motion.Sheet, near(when)), calmOrder(least, most))
}

// turnsAt are a joint's three turns at a time in frames, in degrees.
func (p *Pass) turnsAt(joint int, drives []turnDrive, frames float64) [3]float64 {
	turns := p.Motion.Rig.Joints[joint].RestTurn
	for _, d := range drives {
		c := &p.Motion.Channels[d.channel]
		turns[d.axis] += d.gain * (c.At(frames) - c.Dial.Rest)
	}
	return turns
}

// calmOrder is an order of turns with that axis in the middle which stays farthest from a right angle.
func calmOrder(least, most [3]float64) string {
	calm, far := 0, math.Inf(1)
	for axis := range 3 {
		if reach := max(math.Abs(least[axis]), math.Abs(most[axis])); reach < far {
			calm, far = axis, reach
		}
	}
	return [3]string{"yxz", "xyz", "xzy"}[calm]
}
