package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func twin() *Rule {
	return &Rule{
		Name: "twin", Group: MotionGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 1, Unit: "cm"}, {Value: 1, Unit: "f"}},
		Doc: Doc{
			Reports: "A left and a right arm that do the same thing on the same frames, as in a mirror.",
			Why:     "Nobody is symmetrical, and least of all in time. Twinned arms read as a doll's.",
			Decides: "What the keys of the channels of both arms do to their ends, the hands: turns times their lever at rest, moves as they are, all together. They are twins where the correlation with the mirrored other side is 0.98 or more within a frame (common practice), and where both ends travel 1 cm or more, by their own keys and in the world. Followers, quivers, breaths and fingers do not count: what hangs on one trunk hangs alike. Nor do legs, which carry one weight together: whoever jumps or squats does it with both. With them 19 reports came from one real baked idle; like this, none.",
			Allow:   "When both hands do one thing: a clap, a tray, an oar.",
			Bad:     "sheet example\n  rig       rower\n  tempo     80 bpm\n  cycle     4b\n\ntrack arm.left\n  at      swing\n  0b      20\n  2b      -20\n\ntrack arm.right\n  at      swing\n  0b      20\n  2b      -20\n\nrig rower\n  height    100\n\njoints\n  joint           on              x       y       z       part\n  chest           .               0       70      0       root\n  arm.left        chest           12      0       0       arm\n  hand.left       arm.left        0       -45     0       hand\n  arm.right       chest           -12     0       0       arm\n  hand.right      arm.right       0       -45     0       hand\n\nchannels\n  channel                 joint           drives          gain    unit    range       mirror  positive\n  arm.left/swing          .               turn.x          1       deg     -60..60     keep    \"back\"\n  arm.right/swing         .               turn.x          1       deg     -60..60     keep    \"back\"\n",
			Good:    "sheet example\n  rig       rower\n  tempo     80 bpm\n  cycle     4b\n\ntrack arm.left\n  at      swing\n  0b      20\n  2b      -20\n\ntrack arm.right\n  at      swing\n  0b      9\n  1/2b    14\n  5/2b    -18\n\nrig rower\n  height    100\n\njoints\n  joint           on              x       y       z       part\n  chest           .               0       70      0       root\n  arm.left        chest           12      0       0       arm\n  hand.left       arm.left        0       -45     0       hand\n  arm.right       chest           -12     0       0       arm\n  hand.right      arm.right       0       -45     0       hand\n\nchannels\n  channel                 joint           drives          gain    unit    range       mirror  positive\n  arm.left/swing          .               turn.x          1       deg     -60..60     keep    \"back\"\n  arm.right/swing         .               turn.x          1       deg     -60..60     keep    \"back\"\n",
		},
		Check: checkTwin,
	}
}

const twinsAt = 0.98 // correlation

func checkTwin(p *Pass) {
	if !p.certain() {
		return
	}
	rig := p.Motion.Rig
	for _, end := range limbEnds(rig) {
		if other := rig.MirroredJoint(end); other > end {
			p.twins(end, other)
		}
	}
}

// limbEnds are the joints in which arms end: hands, and what ends an arm without one.
func limbEnds(rig *motion.Rig) (ends []int) {
	last := map[int]bool{}
	for _, i := range rig.EndJoints() {
		last[i] = true
	}
	for i := range rig.Joints {
		if rig.Joints[i].Part == motion.PartArm && last[i] || endsIn(rig, i, motion.PartHand) {
			ends = append(ends, i)
		}
	}
	return ends
}

// endsIn tells whether a joint is the first one of a part: a hand, and not what it holds.
func endsIn(rig *motion.Rig, joint int, part string) bool {
	up := rig.Joints[joint].Parent
	return rig.Joints[joint].Part == part && (up < 0 || rig.Joints[up].Part != part)
}

// limbChannel is a channel that moves the end of a limb, its counterpart on the other side, and how far it moves the end
// for each of its units, in cm.
type limbChannel struct {
	left, right *motion.Channel
	lever       float64
}

func (p *Pass) twins(end, other int) {
	channels := p.limbChannels(end)
	if len(channels) == 0 {
		return
	}
	left, right := make([]keyed, len(channels)), make([]keyed, len(channels))
	for i, c := range channels {
		sign := 1.0
		if c.left.Dial.Flips {
			sign = -1
		}
		left[i], right[i] = p.keyedMotion(c.left, c.lever, 0), p.keyedMotion(c.right, sign*c.lever, 0)
	}
	least := p.Limit("cm")
	correlation := likeness(left, right, 0)
	if correlation < twinsAt-0.1 || pathOf(left) < least || pathOf(right) < least {
		return
	}
	best, lag := correlation, 0
	for late := -4; late <= 4; late++ {
		if c := likeness(left, right, late); c > best {
			best, lag = c, late
		}
	}
	if best < twinsAt || math.Abs(float64(lag)) > p.Limit("f") {
		return
	}
	if sampled := p.Sampled(); sampled == nil || sampled.PathLength(end) < least || sampled.PathLength(other) < least {
		return
	}
	first := channels[strongest(left)]
	finding := p.Report(p.movedBy(first.right, 0), "%s does what %s does on the same frames (correlation %s), mostly by %s; let one of them do it later, smaller or in another way", p.Motion.Rig.Joints[other].Name, p.Motion.Rig.Joints[end].Name, number(rounded(best, 3)), first.right.Dial.Path)
	finding.Related = []motion.Related{{At: p.movedBy(first.left, 0), Message: "its twin"}}
}

// limbChannels are the channels with keys that move a limb between its end and the joint that carries both sides, as far
// as the other side has the same one.
func (p *Pass) limbChannels(end int) (out []limbChannel) {
	rig := p.Motion.Rig
	limb := map[int]bool{}
	for i := end; i >= 0 && rig.MirroredJoint(i) != i && rig.MirroredJoint(i) >= 0; i = rig.Joints[i].Parent {
		limb[i] = true
	}
	world := rig.RestWorld()
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		lever := 0.0
		for _, d := range c.Dial.Drives {
			switch {
			case d.Kind == motion.DrivesTurn && limb[d.Joint]:
				lever += math.Abs(d.Gain) * math.Pi / 180 * apart(world[d.Joint].Position(), world[end].Position())
			case d.Kind == motion.DrivesMove && limb[d.Joint]:
				lever += math.Abs(d.Gain)
			case d.Kind == motion.DrivesGoal && rig.Chains[rig.ChainIndex(d.Goal)].End == end:
				lever += math.Abs(d.Gain)
			}
		}
		other := p.Motion.Channel(rig.Mirrored(c.Dial.Control) + "/" + c.Dial.Name)
		if lever > 0 && other != nil && other != c && (keysMove(c) || keysMove(other)) {
			out = append(out, limbChannel{c, other, lever})
		}
	}
	return out
}

// likeness is the correlation of two limbs' channels all together, the second played some frames earlier.
func likeness(a, b []keyed, late int) float64 {
	sum, squareA, squareB := 0.0, 0.0, 0.0
	for i := range a {
		n := len(a[i].values)
		for k, v := range a[i].values {
			sum += v * b[i].values[((k+late)%n+n)%n]
		}
		squareA, squareB = squareA+a[i].square, squareB+b[i].square
	}
	if squareA == 0 || squareB == 0 {
		return 0
	}
	return sum / math.Sqrt(squareA*squareB)
}

// pathOf is how far channels together move a limb's end, step by step, in cm.
func pathOf(limb []keyed) (path float64) {
	for k := 1; k < len(limb[0].values); k++ {
		square := 0.0
		for i := range limb {
			step := limb[i].values[k] - limb[i].values[k-1]
			square += step * step
		}
		path += math.Sqrt(square)
	}
	return path
}

// strongest is the index of the channel that moves the most.
func strongest(limb []keyed) (index int) {
	for i := range limb {
		if limb[i].square > limb[index].square {
			index = i
		}
	}
	return index
}
