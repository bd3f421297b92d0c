package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func noOverlap() *Rule {
	return &Rule{
		Name: "no-overlap", Group: MotionGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 1, Unit: "f"}},
		Doc: Doc{
			Reports: "A head or a hand that does what carries it does, on the same frames.",
			Why:     "A body is not one piece of wood: what hangs at the end of a limb comes a little later than what swings it. Where both move as one, the limb looks like a paddle.",
			Decides: "The keyed turn of the head, or of a hand, about each axis against the keyed turn of the nearest joint of another control that carries it and turns about the same axis, as both stand at rest within 45°, `overlap` included; each must turn by 3° or more. They are locked where their correlation is 0.95 or more (common practice) at a lag under one frame. What turns the other way, as a head that keeps its gaze level, is no fault, and what follows, quivers or breathes is late by itself. Knees, spines and fingers are left out, whose joints bend together, and so is a neck, which shares the head's turns. With necks and props, and whatever the axes, 11 reports came from 16 real baked clips; without, none. With all joints and directions 33 reports came from one real baked idle; like this, none.",
			Allow:   "When the limb is meant as one piece: a salute, a sleeve in plaster.",
			Mends:   "Adds a row of `overlap` that plays the end three frames late.",
			Bad:     "track spine\n  at      lean\n  0b      4\n  2b      -4\n\ntrack head\n  at      nod\n  0b      5\n  2b      -5\n",
			Good:    "track spine\n  at      lean\n  0b      4\n  2b      -4\n\ntrack head\n  at      nod\n  0b      5\n  2b      -5\n\noverlap\n  head      3f\n",
		},
		Check: checkNoOverlap,
	}
}

const (
	lockedAt    = 0.95 // correlation
	leastTurn   = 3    // degrees that a joint must turn to be seen
	overlapLate = 3    // frames
)

func checkNoOverlap(p *Pass) {
	if !p.certain() {
		return
	}
	told := map[string]bool{} // controls
	turns := p.keyedTurns()
	for joint := range p.Motion.Rig.Joints {
		if !endsIn(p.Motion.Rig, joint, motion.PartHead) && !endsIn(p.Motion.Rig, joint, motion.PartHand) {
			continue
		}
		for axis := range 3 {
			for _, end := range turns[joint][axis] {
				if control := p.Motion.Channels[end.channel].Dial.Control; !told[control] {
					told[control] = p.locked(turns, joint, axis, end)
				}
			}
		}
	}
}

// keyedTurns lists the keyed channels that turn each joint about each axis.
func (p *Pass) keyedTurns() [][3][]turnDrive {
	turns := make([][3][]turnDrive, len(p.Motion.Rig.Joints))
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		if len(c.Dial.Drives) == 0 || !keysMove(c) {
			continue
		}
		for _, d := range c.Dial.Drives {
			for axis := range 3 {
				if d.Kind == motion.DrivesTurn && d.Axes[axis] {
					turns[d.Joint][axis] = append(turns[d.Joint][axis], turnDrive{i, d.Joint, axis, d.Gain})
				}
			}
		}
	}
	return turns
}

// locked reports an end that turns with what carries it, and tells whether it did.
func (p *Pass) locked(turns [][3][]turnDrive, joint, axis int, end turnDrive) bool {
	rig := p.Motion.Rig
	own := &p.Motion.Channels[end.channel]
	world := rig.RestWorld()
	for up := rig.Joints[joint].Parent; up >= 0; up = rig.Joints[up].Parent {
		if rig.Joints[joint].Part == motion.PartHead && carriesOnly(rig, up, joint) {
			continue // the neck: it and the head share their turns
		}
		axes := alongside(&world[up], &world[joint], axis)
		if axes == 0 {
			continue
		}
		for _, carrier := range turns[up][axis] {
			other := &p.Motion.Channels[carrier.channel]
			if other.Dial.Control == own.Dial.Control {
				continue
			}
			lag, correlation, seen := p.lagOf(own, end.gain, other, axes*carrier.gain)
			if !seen {
				continue
			}
			if math.Abs(lag) >= p.Limit("f") || correlation < lockedAt {
				return false
			}
			p.reportLocked(own, other, correlation)
			return true
		}
	}
	return false
}

// carriesOnly tells whether nothing but one end hangs on a joint, faces left out.
func carriesOnly(rig *motion.Rig, up, end int) bool {
	for _, last := range rig.EndJoints() {
		through, hangs := false, false
		for i := last; i >= 0; i = rig.Joints[i].Parent {
			through, hangs = through || i == end, hangs || i == up
		}
		if hangs && !through {
			return false
		}
	}
	return true
}

// alongside is 1 where an axis of two joints points the same way at rest, within 45°, −1 the other way, 0 neither.
func alongside(a, b *motion.Transform, axis int) float64 {
	cos := a[3*axis]*b[3*axis] + a[3*axis+1]*b[3*axis+1] + a[3*axis+2]*b[3*axis+2]
	switch {
	case cos > math.Sqrt2/2:
		return 1
	case cos < -math.Sqrt2/2:
		return -1
	}
	return 0
}

// lagOf is how many frames a turn comes after another one, within four, and how alike they are then. It is not seen
// where one of them hardly turns.
func (p *Pass) lagOf(own *motion.Channel, gain float64, other *motion.Channel, otherGain float64) (lag, correlation float64, seen bool) {
	if p.keysGo(other)*math.Abs(otherGain) < leastTurn || p.keysGo(own)*math.Abs(gain) < leastTurn {
		return 0, 0, false
	}
	carrier, end := p.keyedMotion(other, 1, 0), p.keyedMotion(own, 1, 0)
	if carrier.most*math.Abs(otherGain) < leastTurn || end.most*math.Abs(gain) < leastTurn {
		return 0, 0, false
	}
	sameWay := math.Copysign(1, gain*otherGain)
	alike := func(end keyed) float64 {
		return sameWay * product(carrier, end) / math.Sqrt(carrier.square*end.square)
	}
	correlation = alike(end)
	if correlation < lockedAt-0.15 { // no lag under a frame makes up for that
		return 0, correlation, true
	}
	for late := -4.0; late <= 4; late += 0.5 {
		if c := alike(p.keyedMotion(own, 1, late)); c > correlation {
			lag, correlation = late, c
		}
	}
	return lag, correlation, true
}

func (p *Pass) reportLocked(own, other *motion.Channel, correlation float64) {
	at := p.movedBy(own, 0)
	finding := p.Report(at, "%s turns with %s on the same frames (correlation %s), so the two look like one piece; let %s come later by two to four frames", own.Dial.Path, other.Dial.Path, number(rounded(correlation, 2)), own.Dial.Control)
	finding.Related = []motion.Related{{At: p.movedBy(other, 0), Message: "what carries it"}}
	if own.Base == nil || at.Path() != p.Motion.File.Path {
		return
	}
	finding.Mends = []motion.Mend{{
		Title: "play " + own.Dial.Control + " " + number(overlapLate) + " frames later",
		Edits: []motion.Edit{p.overlapRow(at.Block, own.Dial.Control, grammar.Whole(overlapLate))},
	}}
}
