package lint

import (
	"slices"
	"sort"
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// How mends change lines: each changes only the cells that it must, keeps comments, and leaves rows in time order.

// wholeLine is a line with its line end, so that writing nothing there takes the line out.
func wholeLine(f *grammar.File, b *grammar.Block, line int) grammar.Ref {
	ref := b.Ref(line, grammar.Span{})
	n, _ := f.LineNumber(ref)
	ref.Span.End = f.LineStart(n+1) - f.LineStart(n)
	return ref
}

// lineEnd is how the file ends its lines.
func lineEnd(f *grammar.File) string {
	if strings.Contains(f.Text, "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// dropLine takes a line out. Its comment stays, on a line of its own.
func dropLine(f *grammar.File, b *grammar.Block, line int) motion.Edit {
	l := &b.Lines[line]
	if l.Comment == (grammar.Span{}) {
		return motion.Edit{At: wholeLine(f, b, line)}
	}
	return motion.Edit{At: b.Ref(line, grammar.Span{Start: l.Content().Start, End: l.Comment.Start})}
}

// dropBlock takes out a block with the comments that stand right above it, and one of the gaps round it.
func dropBlock(f *grammar.File, b *grammar.Block) []motion.Edit {
	var edits []motion.Edit
	for i := range b.Lines {
		edits = append(edits, motion.Edit{At: wholeLine(f, b, i)})
	}
	if n := len(f.Blocks); n > 1 && f.Blocks[n-1] == b {
		above := f.Blocks[n-2]
		for i := len(above.Lines) - 1; i > 0 && above.Lines[i].Kind == grammar.BlankLine; i-- {
			edits = append(edits, motion.Edit{At: wholeLine(f, above, i)})
		}
	}
	return edits
}

// dropCells takes the keys of some cells of a row out, and the row itself when nothing would be left in it.
func dropCells(f *grammar.File, b *grammar.Block, line int, cells []grammar.Span) []motion.Edit {
	left := 0
	for i, cell := range b.Lines[line].Cells {
		if i > 0 && cell.Class != grammar.Dot && i < len(b.Columns) && b.Columns[i].Kind == grammar.ValueColumn {
			left++
		}
	}
	if left <= len(cells) {
		return []motion.Edit{dropLine(f, b, line)}
	}
	var edits []motion.Edit
	for _, span := range cells {
		edits = append(edits, writeCell(b, line, span, "."))
	}
	return edits
}

// writeCell writes a cell, or a word of a line. What stands behind it is set in its place by [keepColumns], once for all
// edits of a mend.
func writeCell(b *grammar.Block, line int, cell grammar.Span, text string) motion.Edit {
	return motion.Edit{At: b.Ref(line, cell), Text: text}
}

// keepColumns lets every mend that writes cells leave those behind them where they belong.
func keepColumns(found []Finding) {
	for i := range found {
		if found[i].set {
			continue
		}
		found[i].set = true
		for k := range found[i].Mends {
			mend := &found[i].Mends[k]
			mend.Edits = inColumns(mend.Edits)
		}
	}
}

// inColumns joins the edits of one row to one, and pads those of other lines.
func inColumns(edits []motion.Edit) []motion.Edit {
	rows := map[grammar.Ref][]motion.Edit{} // by block and line
	var out []motion.Edit
	var order []grammar.Ref
	for _, e := range edits {
		row := grammar.Ref{Block: e.At.Block, Line: e.At.Line}
		switch l := &e.At.Block.Lines[e.At.Line]; {
		case e.Text == "" || strings.Contains(e.Text, "\n"):
			out = append(out, e)
		case slices.ContainsFunc(l.Cells, func(c grammar.Cell) bool { return c.Span == e.At.Span }):
			if len(rows[row]) == 0 {
				order = append(order, row)
			}
			rows[row] = append(rows[row], e)
		case l.Kind == grammar.EntryLine && e.At.Span.Len() > 0 && e.At.Span.End <= len(l.Text):
			out = append(out, padded(e))
		default:
			out = append(out, e)
		}
	}
	for _, row := range order {
		from, to, text := setCells(row.Block, row.Line, rows[row])
		out = append(out, motion.Edit{At: row.Block.Ref(row.Line, grammar.Span{Start: from, End: to}), Text: text})
	}
	return out
}

// padded lets what stands behind a word stay where it stands, as far as the white space there allows.
func padded(e motion.Edit) motion.Edit {
	text := e.At.Block.Lines[e.At.Line].Text
	rest := text[e.At.Span.End:]
	gap := len(rest) - len(strings.TrimLeft(rest, " "))
	if gap == 0 || gap == len(rest) {
		return e
	}
	e.Text += spaces(runes(e.At.Text()) + gap - runes(e.Text))
	e.At.Span.End += gap
	return e
}

// setCells writes some cells of a row, and sets those behind each at the stops of their columns where they stood there,
// or else where they stand as far as that goes. It gives the stretch of the line that changes, and its new text.
func setCells(b *grammar.Block, line int, edits []motion.Edit) (from, to int, text string) {
	l := &b.Lines[line]
	was, now, stop := 0, 0, 2 // columns: where the cell before ends, where it will end, and the stop of this one
	var out strings.Builder
	for i := range len(l.Cells) + 1 {
		span, ok := pieceOf(l, i)
		if !ok {
			break
		}
		start, least := runes(l.Text[:span.Start]), 1
		if i == len(l.Cells) {
			least = 2 // a comment
		}
		next := start
		if i > 0 && start == max(stop, was+least) {
			next = max(stop, now+least)
		} else if i > 0 {
			next = max(start, now+1)
		}
		piece := newText(l.Text[span.Start:span.End], span, edits)
		out.WriteString(spaces0(next - now))
		out.WriteString(piece)
		was, now = runes(l.Text[:span.End]), next+runes(piece)
		if i < len(b.Columns) {
			stop += b.Columns[i].Width
		}
		to = span.End
	}
	return changed(l.Text[:to], out.String())
}

// pieceOf is the span of the i-th cell of a row, or of the comment behind the last one.
func pieceOf(l *grammar.Line, i int) (grammar.Span, bool) {
	if i < len(l.Cells) {
		return l.Cells[i].Span, true
	}
	return l.Comment, l.Comment != (grammar.Span{})
}

func newText(old string, span grammar.Span, edits []motion.Edit) string {
	for _, e := range edits {
		if e.At.Span == span {
			return e.Text
		}
	}
	return old
}

// changed leaves out of a text what it shares with the old one at its front and at its back.
func changed(old, text string) (from, to int, rest string) {
	for from < min(len(old), len(text)) && old[from] == text[from] && utf8.RuneStart(old[from]) {
		from++
	}
	for from > 0 && (from < len(old) && !utf8.RuneStart(old[from]) || from < len(text) && !utf8.RuneStart(text[from])) {
		from--
	}
	back := 0
	for back < min(len(old), len(text))-from && old[len(old)-1-back] == text[len(text)-1-back] && old[len(old)-1-back] < utf8.RuneSelf {
		back++
	}
	return from, len(old) - back, text[from : len(text)-back]
}

func runes(text string) int { return len([]rune(text)) }

// moveRow gives a row of a table another time, in the unit in which it is written, and moves its line to where it then
// belongs. It is false where that moment has a row already, and where the rows are not in time order.
func (p *Pass) moveRow(b *grammar.Block, line int, to grammar.Rat) ([]motion.Edit, bool) {
	s, f := p.Motion.Sheet, p.Motion.File
	after, free := p.rowBefore(b, line, to)
	if !free {
		return nil, false
	}
	write := writeCell(b, line, b.Lines[line].Cells[0].Span, timeText(s, b.Lines[line].CellText(0), to))
	if staysPut(b, line, after) {
		return []motion.Edit{write}, true
	}
	text := b.Lines[line].Text
	start, stop, piece := setCells(b, line, []motion.Edit{write})
	moved := lineEnd(f) + text[:start] + piece + text[stop:]
	edits := []motion.Edit{{At: wholeLine(f, b, line)}}
	for i := line - 1; b.Lines[i].Kind == grammar.CommentLine; i-- { // the comments above a row travel with it
		edits = append(edits, motion.Edit{At: wholeLine(f, b, i)})
		moved = lineEnd(f) + b.Lines[i].Text + moved
	}
	end := len(b.Lines[after].Text)
	return append(edits, motion.Edit{At: b.Ref(after, grammar.Span{Start: end, End: end}), Text: moved}), true
}

// rowBefore gives the line below which a row of time `to` belongs, the row that is to move left out. It is false where
// none may come to stand: at a moment that has a row, at one end of a round whose other end has a row, since the two are
// one moment there, and among rows that are not in time order.
func (p *Pass) rowBefore(b *grammar.Block, moving int, to grammar.Rat) (line int, free bool) {
	s := p.Motion.Sheet
	rows := p.rowsOf(b).without(moving)
	if !rows.rise {
		return 0, false
	}
	at, taken := rows.find(to)
	if s.Closed && !taken {
		round := s.RoundOf(b)
		_, above := rows.find(to.Add(round))
		_, below := rows.find(to.Sub(round))
		taken = above || below
	}
	switch {
	case taken:
		return 0, false
	case at == 0:
		return b.Header, true
	}
	return rows.at(at - 1).line, true
}

// tableRow is a row of a table and its time in frames.
type tableRow struct {
	line int
	time grammar.Rat
}

// rowsTerms are what rows' times go by.
type rowsTerms struct{ rate, beat grammar.Rat }

// tableRows are a table's rows in the order of the text.
type tableRows struct {
	rows []tableRow
	rise bool // no row is before the one above it, or before the start
	skip int  // index of a row that is left out; -1 for none
}

func (s *subject) rowsOf(b *grammar.Block) tableRows {
	sheet := s.motion.Sheet
	return kept(s, &s.blockFacts(b).rows, rowsTerms{sheet.Rate, sheet.Beat}, func() tableRows {
		out := tableRows{skip: -1, rise: true}
		var last grammar.Rat
		for line := range b.Rows() {
			t := rowTime(sheet, b, line)
			out.rows = append(out.rows, tableRow{line, t})
			out.rise = out.rise && t.Cmp(last) >= 0
			last = t
		}
		return out
	})
}

// without leaves the row of a line out. Only where the rows do not rise with it are they looked through again.
func (r tableRows) without(line int) tableRows {
	at, found := slices.BinarySearchFunc(r.rows, line, func(row tableRow, line int) int { return row.line - line })
	if !found {
		return r
	}
	r.skip = at
	if r.rise {
		return r
	}
	r.rise = true
	var last grammar.Rat
	for i := range r.count() {
		r.rise = r.rise && r.at(i).time.Cmp(last) >= 0
		last = r.at(i).time
	}
	return r
}

func (r tableRows) count() int {
	if r.skip >= 0 {
		return len(r.rows) - 1
	}
	return len(r.rows)
}

func (r tableRows) at(i int) *tableRow {
	if r.skip >= 0 && i >= r.skip {
		i++
	}
	return &r.rows[i]
}

// find is the number of rows before a time, of rows that rise, and whether one is at it.
func (r tableRows) find(t grammar.Rat) (before int, there bool) {
	n := r.count()
	before = sort.Search(n, func(i int) bool { return r.at(i).time.Cmp(t) >= 0 })
	return before, before < n && r.at(before).time.Cmp(t) == 0
}

// staysPut tells whether a row already is the next one behind line after.
func staysPut(b *grammar.Block, line, after int) bool {
	if line < after {
		return false
	}
	for i := after + 1; i < line; i++ {
		if b.Lines[i].Kind == grammar.RowLine {
			return false
		}
	}
	return true
}

// rowTime is the time of a row in frames.
func rowTime(s *motion.Sheet, b *grammar.Block, line int) grammar.Rat {
	return b.Lines[line].Cells[0].Time.In(s.Rate, s.Beat)
}

// timeText writes a time in the unit in which another one is written, or in frames where that would give an awkward
// number.
func timeText(s *motion.Sheet, like string, frames grammar.Rat) string {
	if written, ok := grammar.ParseTime(like); ok && !written.Seconds.IsZero() && frames.IsWhole() {
		if seconds := s.Seconds(frames); 1000%max(seconds.Den(), 1) != 0 {
			return grammar.Time{Frames: frames}.String()
		}
	}
	return s.TimeLike(like, frames)
}
