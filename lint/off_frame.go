package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func offFrame() *Rule {
	return &Rule{
		Name: "off-frame", Group: TimingGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 0.05, Unit: "f"}},
		Doc: Doc{
			Reports: "A key, a pose or the end of a hold between two frames.",
			Why:     "No frame ever shows it: the pose that it gives is always a little before or behind what is seen.",
			Decides: "The time in frames against the nearest whole frame; a twentieth of a frame is let pass, since seconds seldom come out even. Where the beat itself is no whole number of frames, a time in beats that would be on a frame if it were is not reported: `uneven-beat` says so once.",
			Allow:   "When the motion is played at more than one rate, or smoothly between frames, as an engine does.",
			Mends:   "Moves the row to the nearest frame, or to that of the grid line that it is on but for rounding. Where a third of a beat was meant, that is the animator's choice, so --fix leaves it.",
			Bad:     "track hips\n  at      side\n  0f      2\n  44.5f   -2\n",
			Good:    "track hips\n  at      side\n  0f      2\n  44f     -2\n",
		},
		Check: checkOffFrame,
	}
}

func checkOffFrame(p *Pass) {
	if len(p.Strands()) == 0 {
		return
	}
	s, f := p.Motion.Sheet, p.Motion.File
	terms := offFrameTerms{
		p.Rule.Limits[0], p.Rule.Level, rowsTerms{s.Rate, s.Beat}, s.Grid, s.Length, s.Closed, p.inForce("off-beat").limit("f"), lineEnd(f), false,
	}
	for i, b := range f.Blocks {
		if b.Kind != grammar.TrackBlock && b.Kind != grammar.BlockingBlock && b.Kind != grammar.AmendBlock {
			continue
		}
		terms.last = i == len(f.Blocks)-1
		reportAgain(p, &p.blockFacts(b).offFrame, terms, func() { p.offFrames(b) })
	}
}

// offFrameTerms are what a block's findings go by.
type offFrameTerms struct {
	rule         grammar.Limit
	level        Level
	rows         rowsTerms
	grid, length grammar.Rat
	closed       bool
	rounding     float64
	lineEnd      string
	last         bool // the block ends the file, perhaps without a line end
}

// offFrames reports the rows of one block.
func (p *Pass) offFrames(b *grammar.Block) {
	until := b.ColumnIndex("until")
	for line := range b.Rows() {
		cells := b.Lines[line].Cells
		if t, off := p.offFrame(cells[0].Time); off {
			p.reportOffFrame(b, line, 0, t)
		}
		if b.Kind == grammar.BlockingBlock && until >= 0 && until < len(cells) && cells[until].Time != nil {
			if t, off := p.offFrame(cells[until].Time); off {
				p.reportOffFrame(b, line, until, t)
			}
		}
	}
}

// offFrame gives a time in frames, and tells whether it lies between two for a reason of its own.
func (p *Pass) offFrame(written *grammar.Time) (t grammar.Rat, off bool) {
	s := p.Motion.Sheet
	between := func(t grammar.Rat) bool {
		return math.Abs(t.Sub(grammar.Whole(t.Round())).Float()) > p.Limit("f")
	}
	t = written.In(s.Rate, s.Beat)
	if !t.OK() || !between(t) {
		return t, false
	}
	if s.Beat.IsWhole() || written.Beats.IsZero() {
		return t, true
	}
	even := grammar.Whole(s.Beat.Floor())
	return t, between(written.In(s.Rate, even)) && between(written.In(s.Rate, even.Add(grammar.Whole(1))))
}

func (p *Pass) reportOffFrame(b *grammar.Block, line, column int, t grammar.Rat) {
	what := "the row"
	if column > 0 {
		what = "the end of the hold"
	}
	s := p.Motion.Sheet
	finding := p.Report(b.Ref(line, b.Lines[line].Cells[column].Span), "%s stands at frame %s, between %d and %d; move it onto one of them", what, frameNumber(t), t.Floor(), t.Floor()+1)
	nearest := p.nearestFrame(t)
	text := timeText(s, b.Lines[line].CellText(column), nearest)
	if column == 0 {
		if edits, ok := p.moveRow(b, line, nearest); ok && !p.holdBetween(&accent{block: b, time: t}, nearest) {
			finding.Mends = []motion.Mend{{Title: "move the row to " + text, Edits: edits}}
		}
		return
	}
	if nearest.Cmp(rowTime(s, b, line)) > 0 && nearest.Cmp(p.nextRow(b, line)) < 0 {
		finding.Mends = []motion.Mend{{Title: "end the hold at " + text, Edits: []motion.Edit{writeCell(b, line, b.Lines[line].Cells[column].Span, text)}}}
	}
}

// nearestFrame is the frame that a time is to be moved to: the one nearest to its grid line where it is on the grid but for
// rounding, so that it stays there, or else the one nearest to the time.
func (p *Pass) nearestFrame(t grammar.Rat) grammar.Rat {
	grid := p.Motion.Sheet.Grid
	if grid.Sign() > 0 {
		line := grid.Mul(grammar.Whole(t.Div(grid).Round()))
		if math.Abs(t.Sub(line).Float()) <= p.inForce("off-beat").limit("f") {
			return grammar.Whole(line.Round())
		}
	}
	return grammar.Whole(t.Round())
}

// nextRow is the time of the row behind another one, round the seam in a cycle.
func (p *Pass) nextRow(b *grammar.Block, line int) grammar.Rat {
	s := p.Motion.Sheet
	t := rowTime(s, b, line)
	round := s.RoundOf(b)
	next := round
	first := round
	for i := range b.Rows() {
		other := rowTime(s, b, i)
		if other.Cmp(t) > 0 && other.Cmp(next) < 0 {
			next = other
		}
		if other.Cmp(first) < 0 {
			first = other
		}
	}
	if next == round && s.Closed {
		return round.Add(first)
	}
	return next
}
