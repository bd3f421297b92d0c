package lint

import (
	"fmt"
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func seamGap() *Rule {
	return &Rule{
		Name: "seam-gap", Group: SeamGroup, Level: Error,
		Limits: seamGapLimits(),
		Doc: Doc{
			Reports: "A channel of a cycle whose value at the end is not its value at the start.",
			Why:     "Played in a loop, the body jumps there once a round, and an eye that has seen the jump once waits for it.",
			Decides: "The value with which the curve arrives at the cycle's end, less what `advance` gains, against the value with which it leaves at the start. The limits are a hundredth of a centimetre and a twentieth of a degree or per cent, below what a frame shows (common practice). A curve that stays (`=`) into the seam may step there. When the gap is about one ordinary frame's step, the clip probably lacks its closing frame.",
			Allow:   "When the engine blends the loop's ends itself.",
			Bad:     "track hips\n  at      side\n  0b      2\n  2b      -2\n  4b      3.5\n",
			Good:    "track hips\n  at      side\n  0b      2\n  2b      -2\n  4b      2\n",
		},
		Check: checkSeamGap,
	}
}

func seamGapLimits() []grammar.Limit {
	return []grammar.Limit{{Value: 0.01, Unit: "cm"}, {Value: 0.05, Unit: "deg"}, {Value: 0.05, Unit: "%"}}
}

func checkSeamGap(p *Pass) {
	if !p.Motion.Whole() || !p.Motion.Sheet.Closed {
		return
	}
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		for layer, strand := range c.Strands() {
			p.seamGap(c, layer, strand)
		}
	}
}

func (p *Pass) seamGap(c *motion.Channel, layer string, s *motion.Strand) {
	last := len(s.Keys) - 1
	if last < 1 || !s.Closes(last) || !s.Keys[0].Time.IsZero() || s.Keys[last-1].Shape == motion.Stay {
		return
	}
	gap := s.Keys[last].Value - s.Keys[0].Value - s.Curve.Extent().Gain
	if !(math.Abs(gap) > p.Limit(c.Dial.Unit)) {
		return
	}
	first, closing := s.Keys[0], s.Keys[last]
	finding := p.Report(closing.At, "%s%s is %s at the end, but %s at the start: it jumps %s%s once a round", c.Dial.Path, inLayer(layer), value(c, closing.Value), value(c, first.Value), value(c, math.Abs(gap)), toward(c, -gap))
	finding.Related = []motion.Related{{At: first.At, Message: "the first key"}}
	if step := ordinaryStep(s); math.Abs(gap) > step/2 && math.Abs(gap) < step*2 {
		finding.Message += fmt.Sprintf("; that is about one ordinary frame's step (%s), so the clip probably lacks its closing frame", value(c, step))
	}
	if s.Curve.Extent().Gain == 0 && closing.From == motion.FromTrack {
		finding.Mends = append(finding.Mends, copyValue("end where the cycle starts", closing, first))
	}
	if s.Curve.Extent().Gain == 0 && first.From == motion.FromTrack {
		finding.Mends = append(finding.Mends, copyValue("start where the cycle ends", first, closing))
	}
}

// ordinaryStep is the mean of how far the curve goes in a frame just before the seam and just after it.
func ordinaryStep(s *motion.Strand) float64 {
	end := s.Period.Float()
	before := math.Abs(s.Keys[len(s.Keys)-1].Value - s.Curve.At(end-1))
	after := math.Abs(s.Curve.At(1) - s.Keys[0].Value)
	return (before + after) / 2
}
