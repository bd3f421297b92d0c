package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func metronome() *Rule {
	return &Rule{
		Name: "metronome", Group: MotionGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 0.98}, {Value: 1.5, Unit: "cm"}},
		Doc: Doc{
			Reports: "A sway of the root whose second half mirrors its first.",
			Why:     "A weight that goes over and comes back in the same time on the same curve is a pendulum's. People stay longer on the leg they like, and come back another way.",
			Decides: "The root's place in the world, to the side and ahead, each taken apart into harmonics; its main one gives the sway's own period T. Then −Σ x(t)·x(t + T/2) ÷ Σ x², about the mean: 1 where each half is the one before it turned over. Over 0.98 is reported, of sways of 1.5 cm or more from end to end (common practice). Left alone: spans; figures that walk or run, whose feet make them sway, which is told from an `advance` or from a foot that travels by more than a twentieth of the height (a real walk in place gives 0.99).",
			Allow:   "When it is meant to be even: a lullaby, a rower, a man on watch aboard ship.",
			Bad:     "track hips\n  at      side\n  0b      3\n  2b      -3\n",
			Good:    "track hips\n  at      side\n  0b      3\n  5/2b    -3\n",
		},
		Check: checkMetronome,
	}
}

func checkMetronome(p *Pass) {
	s := p.Sampled()
	if s == nil || !s.Closed || p.steps(s) {
		return
	}
	for joint := range p.Motion.Rig.Joints {
		if p.Motion.Rig.Joints[joint].Part != motion.PartRoot {
			continue
		}
		for axis, way := range [3]string{0: "from side to side", 2: "forward and back"} {
			if way == "" {
				continue
			}
			if sway := p.swayOf(s, joint, axis, p.Limit("cm")); sway.rounds > 0 && sway.mirrors > p.Limit("") {
				p.metronome(joint, axis, sway.rounds, way, sway.way, sway.mirrors)
			}
		}
	}
}

// sway is how a joint's place sways on one axis.
type sway struct {
	way     float64 // cm
	rounds  int     // of its strongest harmonic in a cycle; 0 where it does not sway by as much as was asked for
	mirrors float64 // see [motion.Spectrum.SecondHalfMirrors]
}

func measureSway(s *motion.Sampled, joint, axis int, leastCm float64) (w sway) {
	place := s.Place(joint, axis)
	least, most := place.Range()
	if w.way = most - least; w.way < leastCm {
		return w
	}
	correlator := motion.LendCorrelator(s.Count)
	defer correlator.Return()
	spectrum := correlator.Spectrum(place)
	if w.rounds = spectrum.Main(0).Number; w.rounds > 0 {
		w.mirrors = spectrum.SecondHalfMirrors(float64(s.Count) / float64(w.rounds))
	}
	return w
}

func (p *Pass) metronome(joint, axis, rounds int, way string, sway, mirrors float64) {
	sheet := p.Motion.Sheet
	period := sheet.Length.Div(grammar.Whole(int64(rounds)))
	p.Report(p.swayPlace(joint, axis), "`%s` sways %s like a pendulum: %s cm, every %s, and its second half mirrors the first (to %s of 1); let it stay longer on one side, or come back another way",
		p.Motion.Rig.Joints[joint].Name, way, number(rounded(sway, 1)), duration(sheet, period), number(rounded(mirrors, 3)))
}

// swayPlace is the first key of the channel that moves a joint along an axis, or the cycle's line.
func (p *Pass) swayPlace(joint, axis int) grammar.Ref {
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		for _, d := range c.Dial.Drives {
			if d.Joint == joint && d.Kind == motion.DrivesMove && d.Axes[axis] && c.Base != nil {
				return c.Base.Keys[0].At
			}
		}
	}
	return p.Motion.Sheet.At("cycle")
}
