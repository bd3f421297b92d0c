package lint

import (
	"fmt"

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
			Mends:   "Writes a number as the language spells it (`2,4` is `2.4`), begins a comment with #, indents the line, fills a short row, or writes the nearest word. --fix does the first three; the others are guesses.",
			Bad:     "track hips\n  at      side\n  0b      2,4\n",
			Good:    "track hips\n  at      side\n  0b      2.4\n",
		},
		Check: checkSyntax,
	}
}

func checkSyntax(p *Pass) {
	for _, b := range p.Motion.File.Blocks {
		for i := 0; i < len(b.Lines) && !b.Plain; i++ {
			fault := b.Lines[i].Fault
			if fault == nil {
				continue
			}
			finding := p.Report(b.Ref(i, fault.Span), "%s", fault.Message)
			if fault.Note {
				finding.Level = Note
			}
			safe := fault.Sure()
			if dial := dialAt(p.Motion, b, i, fault); dial != nil && fault.Unit != "" {
				safe = dial.Unit == fault.Unit
				if !safe {
					finding.Message = fmt.Sprintf("`%s` is in %s, but `%s` is in %s; write the number of %[4]s alone", b.Ref(i, fault.Span).Text(), unitNames[fault.Unit], dial.Path, unitNames[dial.Unit])
				}
			}
			if len(fault.Edits) > 0 {
				finding.Mends = []motion.Mend{{Title: fault.Title, Edits: lineEdits(b, i, fault.Edits), Safe: safe}}
			}
			for _, other := range fault.Others {
				finding.Mends = append(finding.Mends, motion.Mend{Title: other.Title, Edits: lineEdits(b, i, other.Edits)})
			}
		}
	}
}

// unitNames are the units that values may have, as a sentence names them.
var unitNames = map[string]string{
	"cm": "centimetres", "deg": "degrees", "%": "per cent", "": "a plain number", "f": "frames", "b": "beats", "s": "seconds",
	"Hz": "Hz", "bpm": "beats a minute", "fps": "frames a second", "cm/s": "centimetres a second", "deg/s": "degrees a second",
}

// dialAt is the channel that a cell with a fault is about; nil where it is about none or the rig has no such channel.
func dialAt(m *motion.Motion, b *grammar.Block, line int, fault *grammar.Fault) *motion.Dial {
	path := ""
	switch opener := b.Opener.(type) {
	case *grammar.PoseLine:
		path = b.Lines[line].FirstWord()
	case *grammar.TrackLine:
		path = opener.Control.Key() + "/" + columnAt(b, line, fault.Span.Start)
	case *grammar.AmendLine:
		path = opener.Control.Key() + "/" + columnAt(b, line, fault.Span.Start)
	}
	if m.Rig == nil || path == "" {
		return nil
	}
	if i := m.Rig.DialIndex(grammar.NameKey(path)); i >= 0 {
		return &m.Rig.Channels[i]
	}
	return nil
}

// columnAt names the column of the cell that begins at a byte of a line.
func columnAt(b *grammar.Block, line, at int) string {
	column := 0
	for _, t := range grammar.Tokens(b.Lines[line].Text) {
		switch {
		case t.Span.Start == at && column < len(b.Columns):
			return b.Columns[column].Name
		case t.Class != grammar.Space:
			column++
		}
	}
	return ""
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
