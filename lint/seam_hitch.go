package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func seamHitch() *Rule {
	return &Rule{
		Name: "seam-hitch", Group: SeamGroup, Level: Note, Asked: true,
		Limits: []grammar.Limit{{Value: 25, Unit: "%"}, {Value: 20, Unit: "cm/s"}, {Value: 60, Unit: "deg/s"}},
		Doc: Doc{
			Reports: "An acceleration that jumps across a cycle's seam.",
			Why:     "Place and speed meet, and still there is a hitch: as if a hand gave the figure a small push once a round. On a slow and heavy figure it shows.",
			Decides: "The acceleration with which the curve leaves the start less the one with which it arrives at the end: 25 % of its greatest, and at least 20 cm or 60° a second within a second, a jump that bends the way by half a centimetre or a degree within a quarter second (common practice; s = ½·a·t²). Not reported: a jump no greater than the curve makes at another key, since a curve of few keys bends at each of them and its seam is no worse; a seam whose speed jumps, which `seam-kink` reports; one that does not close, or where the curve stays (`=`). It is off unless a house asks for it: what it finds is at the edge of what can be seen.",
			Allow:   "When a push is meant there: a step on the deck, a wave against the hull.",
			Bad:     "track hips\n  at      side    drop\n  0b      4^      -1\n  1b      -4@-7.4 .\n  2b      -4.5@4.1 .\n  5/2b    .       -4\n  4b      4^      .\n\nhouse\n  rule            level   limit\n  seam-hitch      note\n",
			Good:    "track hips\n  at      side    drop\n  0b      4^      -1\n  5/2b    -4^     -4\n  4b      4^      .\n\nhouse\n  rule            level   limit\n  seam-hitch      note\n",
		},
		Check: checkSeamHitch,
	}
}

func checkSeamHitch(p *Pass) {
	kinkRule := p.inForce("seam-kink")
	kinks := &Pass{Motion: p.Motion, Rule: kinkRule, subject: p.subject}
	for i := range p.Strands() {
		s := &p.Strands()[i]
		jump := s.Curve.SeamBend()
		if !s.Closed() || math.Abs(s.Curve.SeamGap()) > 1e-6 || math.Abs(s.Curve.SeamCorner()) > kinks.seamLimit(s) {
			continue
		}
		if math.Abs(jump) <= p.hitchLimit(s) || math.Abs(jump) <= s.Curve.SharpestBend()+1e-9 {
			continue
		}
		p.seamHitch(s, jump)
	}
}

// hitchLimit is the jump of a curve's acceleration that is still let pass, in units a frame, a frame.
func (p *Pass) hitchLimit(s *Strand) float64 {
	least := p.Limit("deg/s")
	if s.Channel.Dial.Unit == "cm" {
		least = p.Limit("cm/s")
	}
	rate := p.Motion.Sheet.Rate.Float()
	return max(p.Limit("%")/100*s.Curve.PeakAcceleration(), least/(rate*rate))
}

func (p *Pass) seamHitch(s *Strand, jump float64) {
	last := len(s.Keys) - 1
	finding := p.Report(s.Keys[0].At, "the acceleration of %s jumps across the seam by %s of its greatest, more than at any other key; let the keys on both sides of the seam bend the curve alike",
		s.Name(), share(jump, s.Curve.PeakAcceleration()))
	if s.Closes(last) && last > 0 {
		finding.At = s.Keys[last].At
		finding.Related = []motion.Related{{At: s.Keys[0].At, Message: "the first key"}}
	}
}
