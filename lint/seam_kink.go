package lint

import (
	"cmp"
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func seamKink() *Rule {
	return &Rule{
		Name: "seam-kink", Group: SeamGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 15, Unit: "%"}, {Value: 1, Unit: "cm/s"}, {Value: 3, Unit: "deg/s"}},
		Doc: Doc{
			Reports: "A speed that jumps across a cycle's seam, of a channel in its layer or of an end joint in the world.",
			Why:     "The body does not jump there, but it stutters: once a round it starts, stops or turns within a frame, in a place where nothing in the motion asks for it.",
			Decides: "The slope with which the curve leaves the start less the one with which it arrives at the end, against the curve's own peak speed: 15 % of it, and at least 1 cm or 3° a second (common practice). Not reported: a curve that stays (`=`) into or out of the seam; a corner that one key writes as such (`@-3,1.5`); a corner no sharper than one that the curve makes elsewhere, since then corners are its way of moving; and what goes with a gap that `seam-gap` reports. Corners that are each too small to report may add up along a limb: where an end joint's speed through the world jumps by more than 15 % of its peak and 1 cm/s, that is reported once, at the curve that does the most. Where the speed of five curves or more jumps, and of a tenth of all, one report says so.",
			Allow:   "When something strikes at the very seam: a heel, a mallet.",
			Mends:   "Gives both ends one slope, the way that changes the curve least listed first: smooth, or the slope with which it arrives or leaves. --fix takes the first where that changes the curve by no more than a tenth of its range.",
			Bad:     "track hips\n  at      side\n  0b      2@6\n  1b      5\n  5/2b    -1\n  4b      2@1\n",
			Good:    "track hips\n  at      side\n  0b      2@6\n  1b      5\n  5/2b    -1\n  4b      2\n",
		},
		Check: checkSeamKink,
	}
}

// kink is a curve whose speed jumps at its seam.
type kink struct {
	*Strand
	jump float64 // units a frame
}

func checkSeamKink(p *Pass) {
	if allOver(countGaps(p)) {
		return // the clip is no loop, and that is said once
	}
	var large, small []kink
	for i := range p.Strands() {
		s := withoutGap(&p.Strands()[i])
		jump := s.Curve.SeamCorner()
		if !s.Closed() || onPurpose(s) {
			continue
		}
		if elsewhere, _ := s.Curve.SharpestCorner(); math.Abs(jump) <= elsewhere+1e-9 {
			continue
		}
		switch limit := p.seamLimit(s); {
		case math.Abs(jump) > limit:
			large = append(large, kink{s, jump})
		case math.Abs(jump) > limit/100: // a hundred curves do not move as one
			small = append(small, kink{s, jump})
		}
	}
	switch {
	case allOver(len(large), len(p.Strands())):
		p.kinksAllOver(large)
	default:
		for _, k := range large {
			p.seamKink(k.Strand, k.jump)
		}
	}
	if len(small) > 0 {
		p.worldKinks(small)
	}
}

func countGaps(p *Pass) (count, curves int) {
	gaps, curves := p.gaps()
	return len(gaps), curves
}

// kinksAllOver reports all curves whose speed jumps at once.
func (p *Pass) kinksAllOver(kinks []kink) {
	slices.SortStableFunc(kinks, func(a, b kink) int {
		return cmp.Compare(math.Abs(b.jump)/p.seamLimit(b.Strand), math.Abs(a.jump)/p.seamLimit(a.Strand))
	})
	most := &kinks[0]
	finding := p.Report(p.Motion.Sheet.At("cycle"), "the speed of %d of %d curves jumps across the seam, most of all that of %s, which arrives at %s and leaves at %s; give the ends of each one slope",
		len(kinks), len(p.Strands()), most.Name(), p.speed(most.Strand, most.Curve.Arrive().Slope), p.speed(most.Strand, most.Curve.Leave().Slope))
	finding.faults = len(kinks)
	p.smoothAll(finding, kinks)
}

// withoutGap is the curve as it is once a gap at its seam is mended, since what comes of the gap is not a fault of its
// own.
func withoutGap(s *Strand) *Strand {
	last := len(s.Keys) - 1
	if s.Curve.SeamGap() == 0 || !s.Closes(last) {
		return s
	}
	if s.Keys[0].Time.IsZero() && s.Keys[last].Value == s.Keys[0].Value+s.Curve.Extent().Gain {
		return s // what is left of a gap is rounding
	}
	knots := slices.Clone(s.Curve.Knots())
	knots[last].Value = knots[0].Value + s.Curve.Extent().Gain
	closed := *s.Strand
	closed.Curve = motion.NewCurve(knots, s.Curve.Extent())
	return &Strand{Strand: &closed, Channel: s.Channel, Layer: s.Layer}
}

// onPurpose tells whether the corner is one key's own: two slopes in one mark, and no other key at the seam that has a
// mark of its own.
func onPurpose(s *Strand) bool {
	first, last := &s.Keys[0], &s.Keys[len(s.Keys)-1]
	corner := func(k *motion.Key) bool { return k.Shape == motion.Sloped && k.In != k.Out }
	if !s.Closes(len(s.Keys) - 1) {
		return corner(first)
	}
	same := first.Shape == last.Shape && first.In == last.In && first.Out == last.Out
	return corner(first) && (!last.Marked || same) || corner(last) && !first.Marked
}

// seamLimit is the jump of a curve's speed that is still let pass, in units a frame.
func (p *Pass) seamLimit(s *Strand) float64 {
	least := p.Limit("deg/s")
	if s.Channel.Dial.Unit == "cm" {
		least = p.Limit("cm/s")
	}
	return max(p.Limit("%")/100*s.Curve.PeakSpeed(), least/p.Motion.Sheet.Rate.Float())
}

func (p *Pass) seamKink(s *Strand, jump float64) {
	arrives, leaves := s.Curve.Arrive().Slope, s.Curve.Leave().Slope
	finding := p.Report(s.Keys[len(s.Keys)-1].At, "%s arrives at the seam at %s and leaves it at %s: its speed jumps by %s of its peak once a round; give both ends one slope",
		s.Name(), p.speed(s, arrives), p.speed(s, leaves), share(jump, s.Curve.PeakSpeed()))
	if !s.Closes(len(s.Keys) - 1) {
		finding.At = s.Keys[0].At
	} else {
		finding.Related = []motion.Related{{At: s.Keys[0].At, Message: "the first key"}}
	}
	finding.Mends = p.oneSlope(s, p.seamLimit(s))
}

// speed writes a speed of units a frame in units a second.
func (p *Pass) speed(s *Strand, perFrame float64) string {
	return value(s.Channel, rounded(perFrame*p.Motion.Sheet.Rate.Float(), 1)) + "/s"
}

func share(part, whole float64) string { return number(math.Round(100*math.Abs(part)/whole)) + "%" }

// worldKinks looks for end joints whose speed through the world jumps by what several small kinks add up to. Kinks at one
// moment are taken together, and reported once.
func (p *Pass) worldKinks(small []kink) {
	peaks := p.Motion.PeakJointSpeeds()
	for len(small) > 0 {
		at := small[0].seamTime()
		var here, later []kink
		for _, k := range small {
			if k.seamTime() == at {
				here = append(here, k)
			} else {
				later = append(later, k)
			}
		}
		p.worldKink(at, here, peaks)
		small = later
	}
}

// seamTime is when the curve's seam is played: its `overlap` later than written.
func (k *kink) seamTime() grammar.Rat {
	if k.Layer != "" {
		return grammar.Rat{}
	}
	return k.Channel.Late.Mod(k.Period)
}

// worldJump is what the kink does to its channel, all layers put together.
func (k *kink) worldJump() float64 {
	strength := 1.0
	for i := range k.Channel.Layers {
		switch l := k.Channel.Layers[i].Layer; {
		case l.Name == k.Layer:
			strength = l.Strength
		case l.Replaces:
			strength *= 1 - l.Strength
		}
	}
	return k.jump * strength
}

// worldKink reports the end joint whose speed jumps most against what is let pass, if any jumps by more.
func (p *Pass) worldKink(at grammar.Rat, kinks []kink, peaks []float64) {
	jumps := p.jointJumps(at, kinks)
	worst, by := -1, 1.0
	for _, joint := range p.Motion.Rig.EndJoints() {
		limit := max(p.Limit("cm/s")/p.Motion.Sheet.Rate.Float(), p.Limit("%")/100*peaks[joint])
		if over := norm(jumps[joint]) / limit; over > by {
			worst, by = joint, over
		}
	}
	if worst < 0 {
		return
	}
	slices.SortStableFunc(kinks, func(a, b kink) int {
		return cmp.Compare(norm(p.jointJumps(at, []kink{b})[worst]), norm(p.jointJumps(at, []kink{a})[worst]))
	})
	jump, most := norm(jumps[worst]), kinks[0].Strand
	cause := "through the kink of " + most.Name()
	if len(kinks) > 1 {
		cause = "since the kinks of " + plural(len(kinks), "curve") + " add up, most of all that of " + most.Name()
	}
	finding := p.Report(most.Keys[len(most.Keys)-1].At, "the speed of the joint `%s` jumps by %s cm/s at the seam, %s of its peak, %s, which arrives at %s and leaves at %s; give both ends one slope",
		p.Motion.Rig.Joints[worst].Name, number(rounded(jump*p.Motion.Sheet.Rate.Float(), 1)), share(jump, peaks[worst]), cause, p.speed(most, most.Curve.Arrive().Slope), p.speed(most, most.Curve.Leave().Slope))
	p.smoothAll(finding, kinks)
}

// smoothAll lets a finding point at all the curves that take part, and offers to give each of them one slope.
func (p *Pass) smoothAll(finding *Finding, kinks []kink) {
	mend := motion.Mend{Title: "give " + plural(len(kinks), "curve") + " one slope each at the seam", Safe: true}
	const shown = 3
	for i, k := range kinks {
		if i > 0 && i < shown {
			finding.Related = append(finding.Related, motion.Related{At: k.Keys[len(k.Keys)-1].At, Message: k.Name() + " has a kink there too"})
		}
		if mends := p.oneSlope(k.Strand, math.Abs(k.jump)/10); len(mends) > 0 {
			mend.Edits = append(mend.Edits, mends[0].Edits...)
			mend.Safe = mend.Safe && mends[0].Safe
		}
	}
	if len(mend.Edits) > 0 {
		finding.Mends = []motion.Mend{mend}
	}
}

// jointJumps is by how much each joint's speed through the world jumps by some kinks at once, in cm a frame.
func (p *Pass) jointJumps(at grammar.Rat, kinks []kink) [][3]float64 {
	speeds := make([]float64, len(p.Motion.Channels))
	for i := range kinks {
		speeds[kinks[i].Channel.Index] += kinks[i].worldJump()
	}
	return p.Motion.JointSpeeds(at.Float(), speeds)
}

func norm(v [3]float64) float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }
