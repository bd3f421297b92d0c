package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func spareKey() *Rule {
	return &Rule{
		Name: "spare-key", Group: EconomyGroup, Level: Note,
		Limits: spareLimits(),
		Doc: Doc{
			Reports: "A key whose removal changes the curve nowhere by more than the limit; a row whose keys are all spare is reported once.",
			Why:     "It costs whoever edits the curve a decision and moves nothing. The fewer keys, the easier the next change.",
			Decides: "The curve without the key, its neighbours' slopes taken anew, against the curve as it is, exactly between keys too. Keys are let go one by one, those that change the least first, as long as the curve without all of them stays within 0.05 cm, 0.1° or 0.1 % of what it is: half of what an importer may be off (common practice). Never a key of the blocking or one that stands over such a key, never the first or the last of a span, or the first row of a cycle or its closing row.",
			Allow:   "When the key marks a moment for whoever reads the sheet.",
			Mends:   "Empties the cell, or drops the row when nothing would be left in it; a comment stays. The motion stays within the limit, so --fix does so.",
			Bad:     "track head\n  at      nod\n  0b      5\n  1b      5\n  2b      5\n  3b      0\n",
			Good:    "track head\n  at      nod\n  0b      5\n  2b      5\n  3b      0\n",
		},
		Check: checkSpareKey,
	}
}

func spareLimits() []grammar.Limit {
	return []grammar.Limit{{Value: 0.05, Unit: "cm"}, {Value: 0.1, Unit: "deg"}, {Value: 0.1, Unit: "%"}}
}

// spareOf gives the indices of a curve's spare keys, rising; worked out once a check.
func (s *subject) spareOf(strand *Strand) []int {
	if s.spare == nil {
		s.spare = map[*motion.Strand][]int{}
	}
	spare, known := s.spare[strand.Strand]
	if !known {
		limit := (&Rule{Limits: spareLimits()}).limit(strand.Channel.Dial.Unit)
		spare = strand.Curve.Spare(limit, strand.mayGo(s.motion.File))
		s.spare[strand.Strand] = spare
	}
	return spare
}

// mayGo tells which keys of a curve could be left out of the text at all.
func (s *Strand) mayGo(f *grammar.File) func(i int) bool {
	once := map[grammar.Ref]int{} // a cell that an `every` repeats beside others gives several keys
	for i := range s.Keys {
		once[s.Keys[i].At]++
	}
	last := len(s.Keys) - 1
	return func(i int) bool {
		k := &s.Keys[i]
		switch {
		case k.From != motion.FromTrack || k.Over || once[k.At] > 1:
			return false
		case k.At.Path() != f.Path || k.At.Block.Kind != grammar.TrackBlock:
			return false
		case s.Closed():
			return !k.Time.IsZero() && !s.Closes(i)
		}
		return i > 0 && i < last
	}
}

// spareKeyAt is a spare key by its place in the text.
type spareKeyAt struct {
	strand *Strand
	index  int
}

func checkSpareKey(p *Pass) {
	byCell := map[grammar.Ref]spareKeyAt{}
	for i := range p.Strands() {
		s := &p.Strands()[i]
		for _, k := range p.spareOf(s) {
			byCell[s.Keys[k].At] = spareKeyAt{s, k}
		}
	}
	if len(byCell) == 0 {
		return
	}
	for _, b := range p.Motion.File.Blocks {
		if b.Kind == grammar.TrackBlock {
			p.spareRows(b, byCell)
		}
	}
}

// spareRows reports a track's spare keys, a whole row at once where nothing of it is needed.
func (p *Pass) spareRows(b *grammar.Block, byCell map[grammar.Ref]spareKeyAt) {
	for line := range b.Rows() {
		var spare []spareKeyAt
		needed := 0
		for i, cell := range b.Lines[line].Cells {
			if cell.Class == grammar.Dot || b.Columns[i].Kind != grammar.ValueColumn {
				continue
			}
			if k, ok := byCell[b.Ref(line, cell.Span)]; ok {
				spare = append(spare, k)
			} else {
				needed++
			}
		}
		if needed == 0 && len(spare) > 1 {
			finding := p.Report(b.Ref(line, b.Lines[line].Cells[0].Span), "none of this row's %d keys is needed: %s; drop the row", len(spare), p.withoutAll(spare[0].strand))
			finding.Mends = []motion.Mend{{Title: "drop the row", Edits: []motion.Edit{dropLine(p.Motion.File, b, line)}, Safe: true}}
			continue
		}
		for _, k := range spare {
			p.spareKey(k)
		}
	}
}

func (p *Pass) spareKey(k spareKeyAt) {
	at := k.strand.Keys[k.index].At
	finding := p.Report(at, "%s does not need this key: %s; drop it", k.strand.Name(), p.withoutAll(k.strand))
	finding.Unused = true
	finding.Mends = []motion.Mend{{Title: "drop the key", Edits: dropCells(p.Motion.File, at.Block, at.Line, []grammar.Span{at.Span}), Safe: true}}
}

// withoutAll says what a curve loses without all its spare keys.
func (p *Pass) withoutAll(s *Strand) string {
	spare := p.spareOf(s)
	knots := s.Curve.Knots()
	var left []motion.Knot
	next := 0
	for i := range knots {
		if next < len(spare) && spare[next] == i {
			next++
			continue
		}
		left = append(left, knots[i])
	}
	change, _ := motion.MaxDifference(s.Curve, motion.NewCurve(left, s.Curve.Extent()))
	without := "without it"
	if len(spare) > 1 {
		without = "without its " + plural(len(spare), "spare key")
	}
	if change = rounded(change, 3); change == 0 {
		return without + " the curve stays as it is"
	}
	return without + " the curve changes by no more than " + value(s.Channel, change)
}
