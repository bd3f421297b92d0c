package lint

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func spareKey() *Rule {
	return &Rule{
		Name: "spare-key", Group: EconomyGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 0.05, Unit: "cm"}, {Value: 0.1, Unit: "deg"}, {Value: 0.1, Unit: "%"}},
		Doc: Doc{
			Reports: "A key whose removal changes the curve nowhere by more than the limit; a row whose keys are all spare is reported once.",
			Why:     "It costs whoever edits the curve a decision and moves nothing. The fewer keys, the easier the next change.",
			Decides: "The curve without the key, its neighbours' slopes taken anew, against the curve as it is, exactly between keys too. Keys are let go one by one, those that change the least first, as long as the curve without all of them stays within 0.05 cm, 0.1° or 0.1 % of what it is: half of what an importer may be off (common practice). Never a key of the blocking or one that stands over such a key, never the first or the last of a span, or the first row of a cycle or its closing row. More than 20 spare keys are one report at the top.",
			Allow:   "When the key marks a moment for whoever reads the sheet.",
			Mends:   "Empties the cell, or drops the row when nothing would be left in it; a comment stays. The motion stays within the limit, so --fix does so.",
			Bad:     "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack head\n  at      nod\n  0b      5\n  1b      5\n  2b      5\n  3b      0\n",
			Good:    "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack head\n  at      nod\n  0b      5\n  2b      5\n  3b      0\n",
		},
		Check: checkSpareKey,
	}
}

// spareOf gives the indices of a curve's spare keys, rising; worked out once a check.
func (s *subject) spareOf(strand *Strand) []int {
	if strand.spare == nil {
		spare := s.spareKeys(strand, s.spareLimit(strand))
		strand.spare = &spare
	}
	return *strand.spare
}

// spareLimit is by how much the curve may change without its spare keys.
func (s *subject) spareLimit(strand *Strand) float64 {
	if s.spareLimits == nil {
		s.spareLimits = s.inForce("spare-key")
	}
	return s.spareLimits.limit(strand.Channel.Dial.Unit)
}

func (s *subject) spareKeys(strand *Strand, limit float64) []int {
	return recall(s, &s.ofCurve(strand).spare, limit, func() []int {
		return strand.Curve.Spare(limit, strand.mayGo(s.motion.File))
	})
}

// mayGo tells which keys of a curve could be left out of the text at all.
func (s *Strand) mayGo(f *grammar.File) func(i int) bool {
	var once map[grammar.Ref]int // a cell that an `every` repeats beside others gives several keys
	if !s.RowsRise() {
		once = map[grammar.Ref]int{}
		for i := range s.Keys {
			once[s.Keys[i].At]++
		}
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
	count := 0
	for i := range p.Strands() {
		count += len(p.spareOf(&p.Strands()[i]))
	}
	const many = 20 // that is a clip that was read in, and one fact
	if count > many {
		p.spareAllOver(count)
		return
	}
	if count == 0 {
		return
	}
	byCell := map[grammar.Ref]spareKeyAt{}
	for i := range p.Strands() {
		s := &p.Strands()[i]
		for _, k := range p.spareOf(s) {
			byCell[s.Keys[k].At] = spareKeyAt{s, k}
		}
	}
	for _, b := range p.Motion.File.Blocks {
		if b.Kind != grammar.TrackBlock || len(byCell) == 0 {
			continue
		}
		rows := spareRows(b, byCell)
		for i := range rows {
			p.spareRow(&rows[i])
		}
	}
}

// spareRow is the spare keys of one row of a track.
type spareRow struct {
	block  *grammar.Block
	line   int
	keys   []spareKeyAt
	needed int // keys of the row that are not spare
}

// spareRows finds the rows of a track that have spare keys.
func spareRows(b *grammar.Block, byCell map[grammar.Ref]spareKeyAt) []spareRow {
	var rows []spareRow
	for line := range b.Rows() {
		row := spareRow{block: b, line: line}
		for i, cell := range b.Lines[line].Cells {
			if cell.Class == grammar.Dot || b.Columns[i].Kind != grammar.ValueColumn {
				continue
			}
			if k, ok := byCell[b.Ref(line, cell.Span)]; ok {
				row.keys = append(row.keys, k)
			} else {
				row.needed++
			}
		}
		if len(row.keys) > 0 {
			rows = append(rows, row)
		}
	}
	return rows
}

// spareRow reports a row's spare keys, all at once where nothing of it is needed.
func (p *Pass) spareRow(row *spareRow) {
	if row.needed == 0 && len(row.keys) > 1 {
		at := row.block.Ref(row.line, row.block.Lines[row.line].Cells[0].Span)
		finding := p.Report(at, "none of this row's %d keys is needed: %s; drop the row", len(row.keys), p.withoutAll(row.keys[0].strand))
		finding.Mends = []motion.Mend{{Title: "drop the row", Edits: row.dropped(p.Motion.File), Safe: true}}
		return
	}
	for _, k := range row.keys {
		at := k.strand.Keys[k.index].At
		finding := p.Report(at, "%s does not need this key: %s; drop it", k.strand.Name(), p.withoutAll(k.strand))
		finding.Unused = true
		finding.Mends = []motion.Mend{{Title: "drop the key", Edits: dropCells(p.Motion.File, at.Block, at.Line, []grammar.Span{at.Span}), Safe: true}}
	}
}

// dropped takes the row's spare keys out.
func (r *spareRow) dropped(f *grammar.File) []motion.Edit {
	spans := make([]grammar.Span, len(r.keys))
	for i, k := range r.keys {
		spans[i] = k.strand.Keys[k.index].At.Span
	}
	return dropCells(f, r.block, r.line, spans)
}

// spareAllOver reports all spare keys of a sheet at once.
func (p *Pass) spareAllOver(count int) {
	keys := 0
	spare := map[*grammar.Block][]sparing{}
	for i := range p.Strands() {
		s := &p.Strands()[i]
		keys += s.distinct()
		for _, b := range p.spareBlocks(s) {
			spare[b] = append(spare[b], sparing{s.Strand, p.spareLimit(s)})
		}
	}
	s := p.Motion.Sheet
	finding := p.Report(s.Block.RefLine(s.Block.Open), "%d of %d keys are spare: without them no curve changes by more than %s; drop them", count, keys, limitsText(p.Rule.Limits))
	finding.faults = count
	mend := motion.Mend{Title: fmt.Sprintf("drop the %d spare keys", count), Safe: true}
	const shown = 3
	for _, b := range p.Motion.File.Blocks {
		if spare[b] == nil {
			continue
		}
		drops := p.spareDrops(b, spare[b])
		mend.Edits = append(mend.Edits, drops.edits...)
		for _, at := range drops.first[:min(len(drops.first), shown-len(finding.Related))] {
			finding.Related = append(finding.Related, motion.Related{At: at, Message: p.strandAt(at).Name() + " does not need this key"})
		}
	}
	finding.Mends = []motion.Mend{mend}
	finding.set = true
}

// sparing is one curve with spare keys in a block.
type sparing struct {
	strand *motion.Strand
	limit  float64
}

// spareDrops is what to do about the spare keys of a block.
type spareDrops struct {
	edits []motion.Edit // that take them out, their columns kept
	first []grammar.Ref // the first spare key of each of the first rows that have one
}

func (p *Pass) spareDrops(b *grammar.Block, spare []sparing) spareDrops {
	return recallBy(p.subject, &p.blockFacts(b).drops, spare, slices.Equal[[]sparing], func() spareDrops {
		byCell := map[grammar.Ref]spareKeyAt{}
		for _, of := range spare {
			strand := &Strand{Strand: of.strand}
			for _, k := range p.spareKeys(strand, of.limit) {
				byCell[strand.Keys[k].At] = spareKeyAt{strand, k}
			}
		}
		rows := spareRows(b, byCell)
		var drops spareDrops
		for i := range rows {
			drops.edits = append(drops.edits, rows[i].dropped(p.Motion.File)...)
			k := rows[i].keys[0]
			drops.first = append(drops.first, k.strand.Keys[k.index].At)
		}
		const shown = 3
		drops.first = slices.Clone(drops.first[:min(len(drops.first), shown)])
		drops.edits = inColumns(drops.edits)
		return drops
	})
}

// spareBlocks gives the blocks in which a curve has spare keys.
func (s *subject) spareBlocks(strand *Strand) []*grammar.Block {
	return recall(s, &s.ofStrand(strand).spare, s.spareLimit(strand), func() (blocks []*grammar.Block) {
		for _, k := range s.spareOf(strand) {
			if b := strand.Keys[k].At.Block; !slices.Contains(blocks, b) {
				blocks = append(blocks, b)
			}
		}
		return blocks
	})
}

// strandAt is the curve that has a key at a place.
func (s *subject) strandAt(at grammar.Ref) *Strand {
	for i := range s.Strands() {
		strand := &s.Strands()[i]
		if slices.ContainsFunc(strand.Keys, func(k motion.Key) bool { return k.At == at }) {
			return strand
		}
	}
	return nil
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
