package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func sameTime() *Rule {
	return &Rule{
		Name: "same-time", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "Two keys of one channel, or two rows of the blocking, at one exact time.",
			Why:     "A channel has one value at a time; the key that is written first does nothing.",
			Decides: "Times are compared exactly, in whatever units they are written: at 80 bpm and 24 fps `1b` and `18f` are one moment. The key that is written later counts. A track's key over one of the blocking is no fault: the track's counts.",
			Allow:   "Never.",
			Mends:   "Drops the earlier key, and its row when nothing would be left in it. The motion stays, but which of the two was meant only the animator knows, so --fix leaves it.",
			Bad:     "track hips\n  at      side\n  1b      2\n  18f     3\n",
			Good:    "track hips\n  at      side\n  1b      2\n  27f     3\n",
		},
		Check: checkSameTime,
	}
}

func checkSameTime(p *Pass) {
	reportProblems(p)
	for i := range p.found {
		finding := &p.found[i]
		if len(finding.Related) == 0 {
			continue
		}
		if earlier := finding.Related[0].At; earlier.Block.Kind == grammar.BlockingBlock {
			finding.Mends = []motion.Mend{{Title: "drop the earlier row", Edits: []motion.Edit{dropLine(p.Motion.File, earlier.Block, earlier.Line)}}}
		} else {
			finding.Mends = []motion.Mend{{Title: "drop the earlier key", Edits: dropCells(p.Motion.File, earlier.Block, earlier.Line, []grammar.Span{earlier.Span})}}
		}
	}
}
