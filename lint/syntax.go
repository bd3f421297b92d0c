package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func syntaxRule() *Rule {
	return &Rule{
		Name: "syntax", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A line that does not parse: what was found there, and what could stand there.",
			Why:     "A line that is not understood moves nothing. It costs only itself: the lines around it are read as usual.",
			Decides: "Each line is held to the one production that its block and its first word call for. A body line that begins in column 1 is read all the same, and only noted.",
			Allow:   "Never: a line that is meant for people is a comment, after #.",
			Mends:   "Writes a number as the language spells it (`2,4` is `2.4`), indents the line, fills a short row, or writes the nearest word. --fix does the first two; the others are guesses.",
			Bad:     "track hips\n  at      side\n  0b      2,4\n",
			Good:    "track hips\n  at      side\n  0b      2.4\n",
		},
		Check: checkSyntax,
	}
}

func checkSyntax(p *Pass) {
	for _, b := range p.Motion.File.Blocks {
		for i := range b.Lines {
			fault := b.Lines[i].Fault
			if fault == nil {
				continue
			}
			finding := p.Report(b.Ref(i, fault.Span), "%s", fault.Message)
			if fault.Note {
				finding.Level = Note
			}
			if len(fault.Edits) > 0 {
				finding.Mends = []motion.Mend{{Title: fault.Title, Edits: lineEdits(b, i, fault.Edits), Safe: isSpelling(fault)}}
			}
		}
	}
}

// isSpelling tells whether a fault's mend only writes the same number or time as the language spells it, or indents the
// line. Another word is a guess, and so is where the cells of a short row belong.
func isSpelling(fault *grammar.Fault) bool {
	if fault.Note {
		return true
	}
	for _, e := range fault.Edits {
		switch grammar.Classify(e.Text) {
		case grammar.Number, grammar.Marked, grammar.TimeAtom, grammar.Percent, grammar.Quantity:
		default:
			return false
		}
	}
	return true
}

func lineEdits(b *grammar.Block, line int, edits []grammar.LineEdit) []motion.Edit {
	out := make([]motion.Edit, len(edits))
	for i, e := range edits {
		out[i] = motion.Edit{At: b.Ref(line, e.Span), Text: e.Text}
	}
	return out
}

// reportProblems reports what resolving found for a rule. A problem in another file is that file's business.
func reportProblems(p *Pass) {
	for i := range p.Motion.Problems {
		problem := &p.Motion.Problems[i]
		if problem.Rule != p.Rule.Name || problem.At.Path() != p.Motion.File.Path {
			continue
		}
		finding := p.Report(problem.At, "%s", problem.Message)
		finding.Related, finding.Mends = problem.Related, problem.Mends
	}
}
