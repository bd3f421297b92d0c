package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func outsideCycle() *Rule {
	return &Rule{
		Name: "outside-cycle", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A key or a pose before the start or behind the end, a hold that ends outside its row, and a time that is too long to be exact.",
			Why:     "What lies outside is never played.",
			Decides: "Times are held exactly against 0 and the sheet's length, or the period of an `every`. A row at exactly the end of a cycle is its closing row.",
			Allow:   "Never.",
			Mends:   "Puts a row that repeats the first one at the end of the cycle; puts a row to the same place of the round inside it, where no other row stands; or makes the cycle so long. --fix does none of them, since nobody else knows which is meant.",
			Bad:     "track hips\n  at      side\n  1b      2\n  5b      3\n",
			Good:    "track hips\n  at      side\n  1b      2\n  3b      3\n",
		},
		Check: checkOutsideCycle,
	}
}

// checkOutsideCycle turns the new time that resolving offers into a row that stands in its place.
func checkOutsideCycle(p *Pass) {
	reportProblems(p)
	for i := range p.found {
		finding := &p.found[i]
		offered := finding.Mends
		finding.Mends = nil
		for _, mend := range offered {
			to, ok := grammar.ParseTime(mend.Edits[0].Text)
			if !ok {
				continue
			}
			at := finding.At
			if mend.Edits[0].At.Block != at.Block {
				finding.Mends = append(finding.Mends, mend) // a longer cycle
				continue
			}
			frames := to.In(p.Motion.Sheet.Rate, p.Motion.Sheet.Beat)
			if frames == p.Motion.Sheet.Length && mend.Edits[0].At == at && p.Motion.Sheet.Closed && finding.Mends == nil {
				if closesLike(at.Block, at.Line) {
					finding.Mends = append(finding.Mends, mend)
				}
				continue
			}
			if edits, ok := p.moveRow(at.Block, at.Line, frames); ok {
				finding.Mends = append(finding.Mends, motion.Mend{Title: mend.Title, Edits: edits})
			}
		}
	}
}

// closesLike tells whether a row has the cells of its table's first row, as a closing row has.
func closesLike(b *grammar.Block, line int) bool {
	for first := range b.Rows() {
		one, other := &b.Lines[first], &b.Lines[line]
		if first == line || one.CellText(0) == other.CellText(0) || len(one.Cells) != len(other.Cells) {
			return false
		}
		for i := 1; i < len(one.Cells); i++ {
			if one.CellText(i) != other.CellText(i) {
				return false
			}
		}
		return true
	}
	return false
}
