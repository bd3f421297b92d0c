package lint

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func outOfOrder() *Rule {
	return &Rule{
		Name: "out-of-order", Group: TextGroup, Level: Note,
		Doc: Doc{
			Reports: "A table whose rows do not stand in the order of their times.",
			Why:     "A sheet is read from top to bottom as time passes; a row out of place hides what the motion does there. The motion itself is the same.",
			Decides: "Each row's time is held against the row's above it, exactly. Equal times are another matter (`same-time`). One note a table, at the first row that comes too late in the text.",
			Allow:   "When another program writes the file row by row, and nobody reads it.",
			Mends:   "Sorts the rows, each with the comments above it; --fix does so, and so does `motet format`.",
			Bad:     "track hips\n  at      side\n  5/2b    -2\n  0b      2\n",
			Good:    "track hips\n  at      side\n  0b      2\n  5/2b    -2\n",
		},
		Check: checkOutOfOrder,
	}
}

func checkOutOfOrder(p *Pass) {
	s := p.Motion.Sheet
	if s == nil {
		return
	}
	for _, b := range p.Motion.File.Blocks {
		if b.Header < 0 || len(b.Columns) == 0 || b.Columns[0].Kind != grammar.TimeColumn {
			continue
		}
		rows := p.rowsOf(b)
		for i := 1; i < len(rows.rows) && !rows.rise; i++ {
			if above, row := rows.rows[i-1], rows.rows[i]; row.time.Cmp(above.time) < 0 {
				p.outOfOrder(b, row.line, above.line)
				break
			}
		}
	}
}

func (p *Pass) outOfOrder(b *grammar.Block, line, above int) {
	s := p.Motion.Sheet
	at := b.Ref(line, b.Lines[line].Cells[0].Span)
	finding := p.Report(at, "this row is at %s, but stands below one at %s; sort the rows by time", moment(s, rowTime(s, b, line)), moment(s, rowTime(s, b, above)))
	finding.Related = []motion.Related{{At: b.Ref(above, b.Lines[above].Cells[0].Span), Message: "the row above"}}
	if edits, ok := sortRows(s, b); ok {
		finding.Mends = []motion.Mend{{Title: "sort the rows by time", Edits: edits, Safe: true}}
	}
}

// rowGroup is a row with the lines above it that travel with it.
type rowGroup struct {
	time  grammar.Rat
	lines []string
}

// sortRows rewrites the lines of a table's body so that its times rise; rows at one time keep their order. A body with a
// line that does not parse has no known order.
func sortRows(s *motion.Sheet, b *grammar.Block) ([]motion.Edit, bool) {
	var groups []rowGroup
	var open rowGroup
	for i := b.Header + 1; i < len(b.Lines); i++ {
		l := &b.Lines[i]
		open.lines = append(open.lines, l.Text)
		switch l.Kind {
		case grammar.BadLine, grammar.MutedLine:
			return nil, false
		case grammar.RowLine:
			open.time = rowTime(s, b, i)
			groups = append(groups, open)
			open = rowGroup{}
		}
	}
	slices.SortStableFunc(groups, func(x, y rowGroup) int { return x.time.Cmp(y.time) })
	var edits []motion.Edit
	line := b.Header + 1
	for _, g := range groups {
		for _, text := range g.lines {
			if was := b.Lines[line].Text; was != text {
				edits = append(edits, motion.Edit{At: b.Ref(line, grammar.Span{End: len(was)}), Text: text})
			}
			line++
		}
	}
	return edits, true
}
