package lint

import (
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func bulge() *Rule {
	return &Rule{
		Name: "bulge", Group: MotionGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 5, Unit: "%"}},
		Doc: Doc{
			Reports: "A curve that leaves the span of its two keys.",
			Why:     "The extreme pose is then one that nobody set: the hand goes farther than the drawing at its key, and the next hand on the curve looks for a key that is not there.",
			Decides: "The exact extremes of each cubic between two keys, against the span of the two values. The limit is 5 % of the curve's range (common practice), and never less than 1 cm, 3° or 3 %, below which no eye sees that a pose goes too far. Where the keys themselves lead up to the place and away from it the curve turns there anyway, and only its top has no key: that counts from 25 % of the range on. Only marked slopes (`@`) can bulge, since smooth keys are monotone between neighbours; an `ease` that overshoots is asked for by name, and left out. On 16 real baked clips every extreme beyond 5 % and half a degree was 378 reports, without the small tops 104, and with both exceptions 2.",
			Allow:   "When the slopes are read from elsewhere and must stay as they are.",
			Mends:   "Takes the slopes off both keys, which then are smooth.",
			Bad:     "track head\n  at      nod\n  0b      5@20\n  1b      6@-20\n  5/2b    -6\n",
			Good:    "track head\n  at      nod\n  0b      5\n  1/2b    10\n  1b      6\n  5/2b    -6\n",
		},
		Check: checkBulge,
	}
}

func checkBulge(p *Pass) {
	strands := p.Strands()
	for i := range strands {
		s := &strands[i]
		if s.Curve.HasSlopes() {
			p.bulges(s)
		}
	}
}

// bulges reports the worst bulge of a curve.
func (p *Pass) bulges(s *Strand) {
	least, most := s.Curve.Range()
	limit := max(p.Limit("%")/100*(most-least), seenBulges[s.Channel.Dial.Unit])
	var worst motion.Segment
	far, when, more := 0.0, 0.0, -1
	segments := s.Curve.Segments()
	for i, segment := range segments {
		by, at := segment.Bulge()
		if math.Abs(by) <= limit || isTop(segments, i, by, s.Closed()) && math.Abs(by) <= topShare*(most-least) {
			continue
		}
		more++
		if math.Abs(by) > math.Abs(far) {
			worst, far, when = segment, by, at
		}
	}
	if more < 0 {
		return
	}
	extreme := max(worst.Value0, worst.Value1) + far
	if far < 0 {
		extreme = min(worst.Value0, worst.Value1) + far
	}
	first, second := s.keyAt(worst.Start), s.keyAt(worst.Start+worst.Duration)
	if length := s.Period.Float(); s.Closed() && when >= length {
		when -= length
	}
	finding := p.Report(s.Keys[first].At, "%s goes to %s at %s, %s beyond the keys on both sides (%s and %s); put a key there, or flatten the slopes", s.Name(), value(s.Channel, rounded(extreme, 2)), moment(p.Motion.Sheet, near(when)), value(s.Channel, rounded(math.Abs(far), 2)), value(s.Channel, rounded(worst.Value0, 3)), value(s.Channel, rounded(worst.Value1, 3)))
	if more > 0 {
		finding.Message += " (and " + plural(more, "more such place") + " in this curve)"
		finding.faults = more + 1
	}
	if edits := p.withoutSlopes(s, first, second); len(edits) > 0 {
		finding.Mends = []motion.Mend{{Title: "take the slopes off, so that the curve stays between its keys", Edits: edits}}
	}
}

// seenBulges are the bulges, by unit, below which no eye sees that a pose goes too far: 3° move the hand of an arm of 60 cm by
// 3 cm at the full stretch, and mostly by half of that (tried on real baked clips).
var seenBulges = map[string]float64{"cm": 1, "deg": 3, "%": 3}

// topShare is the share of the curve's range up to which a turn between two keys is a top that was left without a key.
const topShare = 0.25

// isTop tells whether the keys on both sides of a segment lead up to a bulge and away from it: the curve only turns there,
// as it would anyway, and its top has no key. Otherwise it turns twice where the keys go on.
func isTop(segments []motion.Segment, i int, by float64, closed bool) bool {
	before, after := i-1, i+1
	if n := len(segments); closed {
		before, after = (i+n-1)%n, (i+1)%n
	}
	s, up := &segments[i], 1.0
	if by < 0 {
		up = -1
	}
	first, second := up*s.Value0, up*s.Value1
	if second >= first {
		return after < len(segments) && up*segments[after].Value1-up*segments[after].Value0 <= 0
	}
	return before >= 0 && up*segments[before].Value1-up*segments[before].Value0 >= 0
}

// withoutSlopes takes the marked slopes off two keys, where both are the sheet's own.
func (p *Pass) withoutSlopes(s *Strand, keys ...int) (edits []motion.Edit) {
	for _, k := range keys {
		key := &s.Keys[k]
		value, _, sloped := strings.Cut(key.At.Text(), "@")
		if !sloped {
			continue
		}
		if key.At.Path() != p.Motion.File.Path || key.At.Block.Kind != grammar.TrackBlock {
			return nil
		}
		edits = append(edits, writeCell(key.At.Block, key.At.Line, key.At.Span, value))
	}
	return edits
}
