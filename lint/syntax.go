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
				finding.Mends = []motion.Mend{{Title: fault.Title, Edits: lineEdits(b, i, fault.Edits)}}
			}
		}
	}
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
