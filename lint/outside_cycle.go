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
			Mends:   "Puts the row to the same place of the round inside the cycle, where no other row stands. --fix leaves it, since as often the length is what is wrong.",
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
			if edits, ok := p.moveRow(at.Block, at.Line, to.In(p.Motion.Sheet.Rate, p.Motion.Sheet.Beat)); ok {
				finding.Mends = append(finding.Mends, motion.Mend{Title: mend.Title, Edits: edits})
			}
		}
	}
}
