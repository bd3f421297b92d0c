package lint

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func leadOrder() *Rule {
	return &Rule{
		Name: "lead-order", Group: TimingGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 2, Unit: "f"}, {Value: 0.25, Unit: "s"}, {Value: 0.95}, {Value: 1, Unit: "cm"}, {Value: 2, Unit: "deg"}},
		Doc: Doc{
			Reports: "A control that moves before the weight that carries it.",
			Why:     "The weight leads: the hips go, the spine comes after, then shoulders and arms. A spine that goes before the hips looks pulled on a string.",
			Decides: "In a cycle, each channel of the spine, the arms and the hands that has keys and moves by 1 cm or 2° or more, against each such channel of the root: the lag at which the two, or the one and the other's opposite, are most alike (circular cross-correlation of the motion as it plays), within a sixth of the root's main period, so that the sides cannot be taken for each other, and within a quarter second, which is as far as carried parts drag (common practice): what is farther off is a movement of its own, like a breath that happens to keep the sway's time. Only a likeness of 0.95 or more counts, so that it is one movement. If the control is then more than 2 frames early against every channel of the root that it is like, and so are all channels of the control that move, it is reported. Head and neck are left alone, since a look leads the body; so are figures that walk or run, whose feet drive their arms. Without these exceptions it spoke of five controls in 4 of the 16 real clips that were read in and of two heads among the quay folk, all wrongly; with them of none. Limits are common practice.",
			Allow:   "When the movement begins out there: a reach, a pull, a push from somebody else.",
			Mends:   "Plays the control just behind the weight by an `overlap` row. How late is the animator's choice, so --fix leaves it.",
			Bad:     "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack spine\n  at      lean\n  0b      8\n  5/2b    -8\n\noverlap\n  hips      4f\n",
			Good:    "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack spine\n  at      lean\n  0b      8\n  5/2b    -8\n\noverlap\n  spine     2f\n",
		},
		Check: checkLeadOrder,
	}
}

// mover is a channel that moves enough to be seen, taken apart into harmonics.
type mover struct {
	*motion.Channel
	as *motion.Spectrum
}

// lead is by how much a control moves before a channel of the root.
type lead struct {
	channel, weight *motion.Channel
	frames, like    float64
}

func checkLeadOrder(p *Pass) {
	s := p.Sampled()
	if s == nil || !s.Closed || p.steps(s) {
		return
	}
	root := slices.IndexFunc(p.Motion.Channels, func(c motion.Channel) bool {
		return p.Motion.Rig.PartOf(c.Dial) == motion.PartRoot && p.isSeen(s, &c)
	})
	carried := slices.IndexFunc(p.Motion.Channels, func(c motion.Channel) bool { return p.isCarried(&c) && p.isSeen(s, &c) })
	if root < 0 || carried < 0 {
		return
	}
	correlator := motion.LendCorrelator(s.Count)
	defer correlator.Return()
	var weight []mover
	for i := range p.Motion.Channels {
		if c := &p.Motion.Channels[i]; p.Motion.Rig.PartOf(c.Dial) == motion.PartRoot && p.isSeen(s, c) {
			weight = append(weight, mover{Channel: c, as: p.spectrum(s, correlator, c)})
		}
	}
	for _, control := range p.Motion.Rig.Controls() {
		if first, ok := p.leads(s, correlator, control, weight); ok {
			p.leadOrder(control, first)
		}
	}
}

// leads tells whether all channels of a control that are seen to move do so before the root, and gives the one that is the
// least early.
func (p *Pass) leads(s *motion.Sampled, correlator *motion.Correlator, control string, weight []mover) (first lead, ok bool) {
	for _, i := range p.Motion.Rig.ControlChannels(control) {
		c := &p.Motion.Channels[i]
		if !p.isCarried(c) || !p.isSeen(s, c) {
			continue
		}
		best, match := p.leadAgain(s, correlator, c, weight)
		if !match || best.frames <= p.Limit("f")+1e-9 {
			return first, false
		}
		if !ok || best.frames < first.frames {
			first, ok = best, true
		}
	}
	return first, ok
}

// leadOf is how early a channel is against the channel of the root that it leads by the least, of those that it is like; or
// against the first one found that it does not lead.
func (p *Pass) leadOf(s *motion.Sampled, correlator *motion.Correlator, c *motion.Channel, weight []mover) (best lead, ok bool) {
	as := p.spectrum(s, correlator, c)
	for _, w := range weight {
		if ok && best.frames <= p.Limit("f") {
			break // one that it does not lead is enough
		}
		farthest := float64(s.Count) / float64(max(w.as.Main(0).Number, 1)) / 6
		farthest = min(farthest, p.Limit("s")*p.Motion.Sheet.Rate.Float()/s.Step)
		alike, opposite := correlator.BestLagWithin(w.as, as, farthest, p.Limit(""))
		for _, m := range [2]motion.Match{alike, opposite} {
			if early := -m.Lag * s.Step; m.Correlation > 0 && (!ok || early < best.frames-1e-6) { // of two that move as one, the first
				best, ok = lead{c, w.Channel, early, m.Correlation}, true
			}
		}
	}
	return best, ok
}

// isCarried tells whether a channel with keys moves what the weight carries: spine, arms and hands, and not what carries
// the head.
func (p *Pass) isCarried(c *motion.Channel) bool {
	rig := p.Motion.Rig
	switch rig.PartOf(c.Dial) {
	case motion.PartSpine, motion.PartArm, motion.PartHand:
	default:
		return false
	}
	neck := slices.ContainsFunc(c.Dial.Drives, func(d motion.Drive) bool { return d.Joint >= 0 && p.isNeck(d.Joint) })
	return c.Base != nil && !neck
}

// isNeck tells whether a joint carries a head, and no arms.
func (p *Pass) isNeck(joint int) bool {
	carries := func(part string) bool {
		return slices.ContainsFunc(p.Motion.Rig.Joints, func(j motion.Joint) bool { return j.Parent == joint && j.Part == part })
	}
	return carries(motion.PartHead) && !carries(motion.PartArm)
}

// isSeen tells whether a channel moves by as much as an eye notices.
func (p *Pass) isSeen(s *motion.Sampled, c *motion.Channel) bool {
	least, most := s.Range(c.Index)
	return p.Limit(c.Dial.Unit) > 0 && most-least >= p.Limit(c.Dial.Unit)
}

func (p *Pass) leadOrder(control string, first lead) {
	early := math.Round(first.frames)
	c := first.channel
	at := c.Base.Keys[0].At
	finding := p.Report(at, "%s moves %s before %s, which carries it (alike to %s); play it behind the weight by an `overlap` row",
		c.Dial.Path, p.lasting(hold{frames: rounded(first.frames, 1)}), first.weight.Dial.Path, number(rounded(first.like, 2)))
	if at.Path() != p.Motion.File.Path || at.Block.Kind != grammar.TrackBlock {
		return
	}
	late := c.Late.Add(grammar.Whole(int64(early) + 2))
	finding.Mends = []motion.Mend{{Title: "play " + control + " " + grammar.Time{Frames: late}.String() + " late", Edits: []motion.Edit{p.overlapRow(at.Block, control, grammar.Whole(int64(early)+2))}}}
}
