package lint

import (
	"github.com/motet-sheet/motet/grammar"
)

func notYet() *Rule {
	return &Rule{
		Name: "not-yet", Group: TextGroup, Level: Note,
		Doc: Doc{
			Reports: "A block that is read and tidied, but that nothing acts on yet.",
			Why:     "Whoever writes it expects something to come of it.",
			Decides: "One note a block: the settings of a `house` wait for a later release. So does whatever else resolving says that it cannot compute yet.",
			Allow:   "When the block is written ahead of that release.",
			Bad:     "track hips\n  at      tilt\n  0b      2\n  2b      -2\n\nhouse\n  rule            level   limit\n  crowded         note    8\n",
			Good:    "track hips\n  at      tilt\n  0b      2\n  2b      -2\n",
		},
		Check: checkNotYet,
	}
}

func checkNotYet(p *Pass) {
	for _, b := range p.Motion.File.Blocks {
		switch b.Kind {
		case grammar.HouseBlock:
			p.Report(b.RefLine(b.Open), "this house is read and tidied, but its levels and limits do not count yet")
		}
	}
	for _, at := range p.Motion.Deferred {
		if at.Path() == p.Motion.File.Path {
			p.Report(at, "`%s` is read and tidied, but what it moves is not computed yet", at.Text())
		}
	}
}
