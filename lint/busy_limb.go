package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func busyLimb() *Rule {
	return &Rule{
		Name: "busy-limb", Group: EconomyGroup, Level: Note, Asked: true,
		Limits: []grammar.Limit{{Value: 6, Unit: "x"}, {Value: 10, Unit: "%"}},
		Doc: Doc{
			Reports: "The end of a limb that travels much farther than the trunk that carries it.",
			Why:     "In an idle the hands go where the body takes them. A hand that is busy by itself draws the eye from the face.",
			Decides: "How far the end of each limb travels through the world in one round, over how far the joint of the trunk travels on which the limb hangs: the chest for an arm, the hips for a leg. More than 6 times is busy (common practice), as long as the end moves by more than 10 % of the figure's height a second. Of several ends of one limb, such as fingers, the farthest counts. It is off unless a house asks for it, since a gesture is busy by nature: of the 16 real clips that were read in it speaks of 7, which clap, wave, throw or point.",
			Allow:   "When the hand has something to do: a wave, a knot, a net.",
			Bad:     "track hips\n  at      side\n  0b      1\n  5/2b    -1\n\ntrack arm.left\n  at      swing\n  0b      0\n  1b      40\n  2b      -10\n  3b      30\n\nhouse\n  rule            level   limit\n  busy-limb       note\n",
			Good:    "track hips\n  at      side\n  0b      1\n  5/2b    -1\n\ntrack arm.left\n  at      swing\n  1/2b    3\n  3b      -3\n\nhouse\n  rule            level   limit\n  busy-limb       note\n",
		},
		Check: checkBusyLimb,
	}
}

// limb is what hangs on a joint of the trunk, with its end that travels farthest.
type limb struct {
	root, carrier, end int // joints
	way                float64
}

func checkBusyLimb(p *Pass) {
	s := p.Sampled()
	if s == nil {
		return
	}
	seconds := p.Motion.Sheet.Seconds(p.Motion.Sheet.Length).Float()
	for _, l := range limbs(s) {
		carried := s.PathLength(l.carrier)
		if l.way <= p.Limit("x")*carried || l.way <= p.Limit("%")/100*p.Motion.Rig.Height*seconds {
			continue
		}
		joints := p.Motion.Rig.Joints
		much := "which stands still"
		if carried > 0.05 {
			much = number(rounded(l.way/carried, 1)) + " times as far as `" + joints[l.carrier].Name + "`, which carries it"
		}
		p.Report(p.limbPlace(l), "`%s` travels %s cm, %s; let the body do more of it, or the limb less", joints[l.end].Name, number(rounded(l.way, 0)), much)
	}
}

// limbs are the arms and legs of a figure, in the order of their ends.
func limbs(s *motion.Sampled) []limb {
	rig := s.Motion.Rig
	var out []limb
	known := map[int]int{} // index into out by the limb's root
	for _, end := range rig.EndJoints() {
		root := -1
		joint := end
		for joint >= 0 && isLimb(rig.Joints[joint].Part) {
			root, joint = joint, rig.Joints[joint].Parent
		}
		if root < 0 || joint < 0 {
			continue
		}
		way := s.PathLength(end)
		if i, ok := known[root]; ok {
			if way > out[i].way {
				out[i].end, out[i].way = end, way
			}
			continue
		}
		known[root] = len(out)
		out = append(out, limb{root, joint, end, way})
	}
	return out
}

func isLimb(part string) bool {
	switch part {
	case motion.PartArm, motion.PartHand, motion.PartFinger, motion.PartLeg, motion.PartFoot:
		return true
	}
	return false
}

// limbPlace is the first key of a channel that moves the limb, or the sheet's own line.
func (p *Pass) limbPlace(l limb) grammar.Ref {
	rig := p.Motion.Rig
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		for _, d := range c.Dial.Drives {
			joint := d.Joint
			if chain := rig.ChainIndex(d.Goal); d.Goal != "" && chain >= 0 {
				joint = rig.Chains[chain].End
			}
			for joint >= 0 && joint != l.root {
				joint = rig.Joints[joint].Parent
			}
			if joint == l.root && c.Base != nil && c.Base.Keys[0].At.Path() == p.Motion.File.Path {
				return c.Base.Keys[0].At
			}
		}
	}
	return p.Motion.Sheet.At("from")
}
