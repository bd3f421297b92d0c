package lint

import (
	"cmp"
	"fmt"
	"math"
	"slices"

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
			Decides: "The value with which the curve arrives at the cycle's end, less what `advance` gains, against the value with which it leaves at the start. The limits are a hundredth of a centimetre and a twentieth of a degree or per cent, below what a frame shows (common practice). A curve that stays (`=`) into the seam may step there. When the gap is about one ordinary frame's step, the clip probably lacks its closing frame. A closing row of the blocking is reported once, at the channel with the widest gap; and a clip in which five curves or more do not close, and a tenth of all, once on its `cycle` line.",
			Allow:   "When the engine blends the loop's ends itself.",
			Mends:   "Gives the closing row the first row's value or pose, or the first row the closing one's. --fix does the former: what comes first is what the loop returns to. A whole clip that does not close is left to the animator.",
			Bad:     "track hips\n  at      side\n  0b      2\n  2b      -2\n  4b      3.5\n",
			Good:    "track hips\n  at      side\n  0b      2\n  2b      -2\n  4b      2\n",
		},
		Check: checkSeamGap,
	}
}

func seamGapLimits() []grammar.Limit {
	return []grammar.Limit{{Value: 0.01, Unit: "cm"}, {Value: 0.05, Unit: "deg"}, {Value: 0.05, Unit: "%"}}
}

// gap is a curve that does not end where it starts.
type gap struct {
	channel *motion.Channel
	layer   string
	*motion.Strand
	size float64 // how much higher it ends
}

func checkSeamGap(p *Pass) {
	gaps, curves := p.gaps()
	byRow := map[grammar.Ref][]gap{} // of the blocking, where one row moves many channels
	var rows []grammar.Ref
	var ofTracks []gap
	for _, g := range gaps {
		closing := g.closing()
		if closing.From == motion.FromTrack {
			ofTracks = append(ofTracks, g)
			continue
		}
		if len(byRow[closing.At]) == 0 {
			rows = append(rows, closing.At)
		}
		byRow[closing.At] = append(byRow[closing.At], g)
	}
	for _, row := range rows {
		p.seamGapOfRow(byRow[row])
	}
	if allOver(len(ofTracks), curves) {
		p.noLoop(ofTracks, curves)
		return
	}
	for _, g := range ofTracks {
		p.seamGap(g)
	}
}

// gaps finds the curves that do not end where they start, and counts all that there are.
func (s *subject) gaps() (gaps []gap, curves int) {
	if !s.motion.Whole() || !s.motion.Sheet.Closed {
		return nil, 0
	}
	limits := s.inForce("seam-gap")
	for i := range s.motion.Channels {
		c := &s.motion.Channels[i]
		for layer, strand := range c.Strands() {
			curves++
			if g, ok := gapOf(limits, c, layer, strand); ok {
				gaps = append(gaps, g)
			}
		}
	}
	return gaps, curves
}

func (g *gap) closing() *motion.Key { return &g.Keys[len(g.Keys)-1] }

// noLoop reports a clip whose curves nearly all end elsewhere than they start, once.
func (p *Pass) noLoop(gaps []gap, curves int) {
	slices.SortStableFunc(gaps, func(a, b gap) int { return cmp.Compare(p.overLimit(&b), p.overLimit(&a)) })
	likeAFrame := 0
	for i := range gaps {
		if gaps[i].likeAFrame() {
			likeAFrame++
		}
	}
	s, widest := p.Motion.Sheet, &gaps[0]
	what := "the clip is no loop; make it a `span`, or bring its ends together"
	if widest.likeAFrame() && 2*likeAFrame > len(gaps) {
		what = fmt.Sprintf("in %d of them the gap is about one ordinary frame's step, so the clip probably lacks its closing frame", likeAFrame)
	}
	finding := p.Report(s.At("cycle"), "%d of %d curves do not end where they start, the widest gap %s with %s: %s", len(gaps), curves, widest.channel.Dial.Path+inLayer(widest.layer), value(widest.channel, rounded(math.Abs(widest.size), 3)), what)
	finding.faults = len(gaps)
	mend := motion.Mend{Title: "end each where the cycle starts"}
	const shown = 3
	for i := range gaps {
		g := &gaps[i]
		if i < shown {
			finding.Related = append(finding.Related, motion.Related{At: g.closing().At, Message: fmt.Sprintf("%s jumps %s", g.channel.Dial.Path+inLayer(g.layer), value(g.channel, rounded(math.Abs(g.size), 3)))})
		}
		if p.writable(g.closing()) && g.Curve.Extent().Gain == 0 {
			mend.Edits = append(mend.Edits, copyValue("", *g.closing(), g.Keys[0]).Edits...)
		}
	}
	if len(mend.Edits) == len(gaps) {
		finding.Mends = []motion.Mend{mend}
	}
}

// overLimit is how many times the limit a gap is.
func (p *Pass) overLimit(g *gap) float64 { return math.Abs(g.size) / p.Limit(g.channel.Dial.Unit) }

// likeAFrame tells whether the gap is about as wide as the curve ordinarily goes in a frame there.
func (g *gap) likeAFrame() bool {
	step := ordinaryStep(g.Strand)
	return math.Abs(g.size) > step/2 && math.Abs(g.size) < step*2
}

func gapOf(limits *Rule, c *motion.Channel, layer string, s *motion.Strand) (gap, bool) {
	last := len(s.Keys) - 1
	if last < 1 || !s.Closes(last) || !s.Keys[0].Time.IsZero() || s.Keys[last-1].Shape == motion.Stay {
		return gap{}, false
	}
	size := s.Keys[last].Value - s.Keys[0].Value - s.Curve.Extent().Gain
	return gap{c, layer, s, size}, math.Abs(size) > limits.limit(c.Dial.Unit)
}

// seamGapOfRow reports a closing row of the blocking once for all the channels that it leaves apart, at the one with the
// widest gap.
func (p *Pass) seamGapOfRow(gaps []gap) {
	widest := slices.MaxFunc(gaps, func(a, b gap) int {
		return cmp.Compare(p.overLimit(&a), p.overLimit(&b))
	})
	finding := p.seamGap(widest)
	finding.faults = len(gaps)
	if len(gaps) > 1 {
		finding.Message += fmt.Sprintf(" (and %s more with it)", plural(len(gaps)-1, "channel"))
	}
	first, closing := widest.Keys[0], widest.Keys[len(widest.Keys)-1]
	if first.From != motion.FromBlocking || first.At.Block != closing.At.Block {
		return
	}
	finding.Mends = nil
	if p.standsElsewhere(closing.At.Text()) {
		end := writeCell(closing.At.Block, closing.At.Line, closing.At.Span, first.At.Text())
		finding.Mends = append(finding.Mends, motion.Mend{Title: "end in the pose `" + first.At.Text() + "`", Edits: []motion.Edit{end}, Safe: true})
	}
	if p.standsElsewhere(first.At.Text()) {
		start := writeCell(first.At.Block, first.At.Line, first.At.Span, closing.At.Text())
		finding.Mends = append(finding.Mends, motion.Mend{Title: "start in the pose `" + closing.At.Text() + "`", Edits: []motion.Edit{start}})
	}
}

// standsElsewhere tells whether another row of the blocking has a pose too, so that one row can give it up.
func (p *Pass) standsElsewhere(pose string) bool {
	rows := 0
	for _, a := range p.Motion.Plain {
		if a.Pose == grammar.NameKey(pose) {
			rows++
		}
	}
	return rows > 1
}

func (p *Pass) seamGap(g gap) *Finding {
	first, closing := g.Keys[0], g.Keys[len(g.Keys)-1]
	size := math.Abs(g.size)
	finding := p.Report(closing.At, "%s%s is %s at the end, but %s at the start: it jumps %s%s once a round", g.channel.Dial.Path, inLayer(g.layer), value(g.channel, closing.Value), value(g.channel, first.Value), value(g.channel, size), toward(g.channel, -g.size))
	finding.Related = []motion.Related{{At: first.At, Message: "the first key"}}
	if g.likeAFrame() {
		finding.Message += fmt.Sprintf("; that is about one ordinary frame's step (%s), so the clip probably lacks its closing frame", value(g.channel, ordinaryStep(g.Strand)))
	}
	if g.Curve.Extent().Gain == 0 && p.writable(&closing) {
		finding.Mends = append(finding.Mends, copyValue("end where the cycle starts", closing, first))
	}
	if g.Curve.Extent().Gain == 0 && p.writable(&first) {
		finding.Mends = append(finding.Mends, copyValue("start where the cycle ends", first, closing))
	}
	for i := range finding.Mends {
		finding.Mends[i].Safe = i == 0 // a gap can only be a fault, and what comes first is what the loop returns to
	}
	return finding
}

// ordinaryStep is the mean of how far the curve goes in a frame just before the seam and just after it.
func ordinaryStep(s *motion.Strand) float64 {
	end := s.Period.Float()
	before := math.Abs(s.Keys[len(s.Keys)-1].Value - s.Curve.At(end-1))
	after := math.Abs(s.Curve.At(1) - s.Keys[0].Value)
	return (before + after) / 2
}
