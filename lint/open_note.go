package lint

import (
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func openNote() *Rule {
	return &Rule{
		Name: "open-note", Group: CastGroup, Level: Note,
		Doc: Doc{
			Reports: "A review note that is still open.",
			Why:     "A sheet that goes out with an open note goes out unfinished, and nobody reads notes that nobody is shown.",
			Decides: "Every row of `notes` whose status is `open`.",
			Allow:   "While the note is being worked on.",
			Mends:   "Marks the note done.",
			Bad:     "track hips\n  at      tilt\n  0b      2\n  2b      -2\n\nnotes\n  at      status  note\n  2b      open    \"the weight arrives a touch late\"\n",
			Good:    "track hips\n  at      tilt\n  0b      2\n  2b      -2\n\nnotes\n  at      status  note\n  2b      done    \"the weight arrives a touch late\"\n",
		},
		Check: checkOpenNote,
	}
}

func checkOpenNote(p *Pass) {
	for _, b := range p.Motion.File.Blocks {
		status, note := b.ColumnIndex("status"), b.ColumnIndex("note")
		if b.Kind != grammar.NotesBlock || status < 0 || note < 0 {
			continue
		}
		for i := range b.Rows() {
			l := &b.Lines[i]
			if status >= len(l.Cells) || note >= len(l.Cells) || l.CellText(status) != "open" {
				continue
			}
			finding := p.Report(b.RefLine(i), "the note is still open: %s", strings.Trim(l.CellText(note), `"`))
			finding.Mends = []motion.Mend{{Title: "mark the note done", Edits: []motion.Edit{writeCell(b, i, l.Cells[status].Span, "done")}}}
		}
	}
}
