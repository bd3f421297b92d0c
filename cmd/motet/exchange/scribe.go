package exchange

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// A scribe changes single cells, rows and columns of a sheet's text, and leaves everything else as it stands.
type scribe struct {
	file   *grammar.File
	sheet  *motion.Sheet
	tables map[*grammar.Block]*tableChange
	fresh  []*freshTable
	words  []grammar.Edit
	// changes are lines to add to the sheet's change.
	changes []string
	// posed are channels that changed through a pose, and lines the lines of poses that changed.
	posed []int
	lines []grammar.Ref
}

// A tableChange is what shall change in a table: cells by line and column, where columns behind the last are new, and
// rows that are new.
type tableChange struct {
	cells   map[int]map[int]string
	rows    []freshRow
	columns []string
}

// A freshRow is a row to come, by its time in frames and its cells by column.
type freshRow struct {
	at    grammar.Rat
	cells map[int]string
}

// A freshTable is a track, or an amend, to come.
type freshTable struct {
	opener  string
	control string
	rows    tableChange
}

func newScribe(file *grammar.File, sheet *motion.Sheet) *scribe {
	return &scribe{file: file, sheet: sheet, tables: map[*grammar.Block]*tableChange{}}
}

func (s *scribe) table(b *grammar.Block) *tableChange {
	t := s.tables[b]
	if t == nil {
		t = &tableChange{cells: map[int]map[int]string{}}
		s.tables[b] = t
	}
	return t
}

// cell writes a cell of a table.
func (s *scribe) cell(b *grammar.Block, line, column int, text string) {
	t := s.table(b)
	if t.cells[line] == nil {
		t.cells[line] = map[int]string{}
	}
	t.cells[line][column] = text
}

// key writes a key at a time into the column of a name: into the row of that time, or into a new one.
func (s *scribe) key(b *grammar.Block, at grammar.Rat, column, text string) {
	t := s.table(b)
	n := b.ColumnIndex(column)
	if n < 0 {
		n = slices.Index(t.columns, column)
		if n < 0 {
			n = len(t.columns)
			t.columns = append(t.columns, column)
		}
		n += len(b.Columns)
	}
	for line := range b.Rows() {
		if s.rowTime(b, line) == at {
			s.cell(b, line, n, text)
			return
		}
	}
	t.row(at).cells[n] = text
}

func (t *tableChange) row(at grammar.Rat) *freshRow {
	for i := range t.rows {
		if t.rows[i].at == at {
			return &t.rows[i]
		}
	}
	t.rows = append(t.rows, freshRow{at, map[int]string{}})
	return &t.rows[len(t.rows)-1]
}

// track begins a table of a control, or finds the one that was begun.
func (s *scribe) track(opener, control string) *freshTable {
	for _, t := range s.fresh {
		if t.opener == opener {
			return t
		}
	}
	s.fresh = append(s.fresh, &freshTable{opener: opener, control: control})
	return s.fresh[len(s.fresh)-1]
}

func (t *freshTable) key(at grammar.Rat, column, text string) {
	n := slices.Index(t.rows.columns, column)
	if n < 0 {
		n = len(t.rows.columns)
		t.rows.columns = append(t.rows.columns, column)
	}
	t.rows.row(at).cells[n] = text
}

// word writes what stands at a place outside tables.
func (s *scribe) word(at grammar.Ref, text string) {
	if span, ok := s.file.Locate(at); ok {
		s.words = append(s.words, grammar.Edit{Span: span, Text: text})
	}
}

func (s *scribe) rowTime(b *grammar.Block, line int) grammar.Rat {
	return b.Lines[line].Cells[0].Time.In(s.sheet.Rate, s.sheet.Beat)
}

// text is the sheet with all changes. One that was in the canonical form is so again; in another one nothing moves but
// what changes.
func (s *scribe) text() (string, error) {
	eol := "\n"
	if strings.Contains(s.file.Text, "\r\n") {
		eol = "\r\n"
	}
	edits := slices.Clone(s.words)
	for _, b := range s.file.Blocks {
		if t := s.tables[b]; t != nil {
			edits = append(edits, s.tableEdits(b, t, eol)...)
		}
	}
	if len(s.changes) > 0 {
		edits = append(edits, s.changeEdit(eol))
	}
	if len(s.fresh) > 0 {
		edits = append(edits, s.freshEdits(eol)...)
	}
	text, err := grammar.Apply(s.file.Text, edits)
	if err != nil {
		return "", fmt.Errorf("%s: %w", s.file.Path, err)
	}
	if grammar.Format(s.file) == s.file.Text {
		text = grammar.Format(grammar.Parse(s.file.Path, text))
	}
	return text, nil
}

// after is what comes behind a line of a block.
func (s *scribe) after(b *grammar.Block, line int, text string) grammar.Edit {
	end := len(b.Lines[line].Text)
	span, _ := s.file.Locate(b.Ref(line, grammar.Span{Start: end, End: end}))
	return grammar.Edit{Span: span, Text: text}
}

// lastLine is the last line of a block that is part of it, which is neither blank nor a comment in column 1.
func lastLine(b *grammar.Block) int {
	for i := len(b.Lines) - 1; i > b.Open; i-- {
		switch l := &b.Lines[i]; l.Kind {
		case grammar.BlankLine:
		case grammar.CommentLine:
			if !strings.HasPrefix(l.Text, "#") {
				return i
			}
		default:
			return i
		}
	}
	return b.Open
}

// tableEdits changes a table line by line.
func (s *scribe) tableEdits(b *grammar.Block, t *tableChange, eol string) []grammar.Edit {
	behind := map[int][]string{} // new rows, by the line that they come behind
	slices.SortStableFunc(t.rows, func(x, y freshRow) int { return x.at.Cmp(y.at) })
	like := ""
	for line := range b.Rows() {
		if text := b.Lines[line].CellText(0); like == "" || text != "0" {
			like = text
		}
	}
	indent := indentOf(&b.Lines[b.Header])
	for _, row := range t.rows {
		after := b.Header
		for line := range b.Rows() {
			if s.rowTime(b, line).Cmp(row.at) < 0 {
				after = line
			}
		}
		cells := slices.Repeat([]string{"."}, len(b.Columns))
		cells[0] = s.timeText(like, row.at)
		extra := slices.Repeat([]string{"."}, len(t.columns))
		for n, text := range row.cells {
			if n < len(cells) {
				cells[n] = text
			} else {
				extra[n-len(cells)] = text
			}
		}
		behind[after] = append(behind[after], indent+spaced(withColumns(b, cells, extra)))
	}
	var edits []grammar.Edit
	for line := range b.Lines {
		l := &b.Lines[line]
		isRow := l.Kind == grammar.HeaderLine || l.Kind == grammar.RowLine
		if isRow && (len(t.columns) > 0 || t.cells[line] != nil) || behind[line] != nil {
			edits = append(edits, s.lineEdit(b, t, line, behind[line], eol))
		}
	}
	return edits
}

// lineEdit writes one line of a table and what comes behind it. A row without a key goes, unless somebody has written a
// comment about it.
func (s *scribe) lineEdit(b *grammar.Block, t *tableChange, line int, behind []string, eol string) grammar.Edit {
	l := &b.Lines[line]
	text := l.Text
	drop := false
	if l.Kind == grammar.HeaderLine || l.Kind == grammar.RowLine {
		text = changedRow(b, t, line)
		drop = l.Kind == grammar.RowLine && t.cells[line] != nil && l.Comment == (grammar.Span{}) && b.Lines[line-1].Kind != grammar.CommentLine && isEmptyRow(b, t, line)
	}
	span, _ := s.file.Locate(b.Ref(line, grammar.Span{Start: 0, End: len(l.Text)}))
	if !drop {
		return grammar.Edit{Span: span, Text: strings.Join(append([]string{text}, behind...), eol)}
	}
	n, _ := s.file.LineNumber(b.RefLine(line))
	span.End = s.file.LineStart(n + 1)
	text = ""
	for _, row := range behind {
		text += row + eol
	}
	return grammar.Edit{Span: span, Text: text}
}

func isEmptyRow(b *grammar.Block, t *tableChange, line int) bool {
	cells := b.Lines[line].Cells
	for n := 1; n < len(b.Columns)+len(t.columns); n++ {
		text, written := t.cells[line][n]
		if !written && n < len(cells) {
			text = b.Lines[line].CellText(n)
		}
		if text != "" && text != "." {
			return false
		}
	}
	return true
}

// changedRow is a line of a table with its changed cells; what stands behind a cell stays where it stood as far as there
// is room.
func changedRow(b *grammar.Block, t *tableChange, line int) string {
	l := &b.Lines[line]
	var out strings.Builder
	out.WriteString(l.Text[:l.Cells[0].Span.Start])
	put := func(text string, room int) {
		out.WriteString(text)
		if room > 0 {
			out.WriteString(strings.Repeat(" ", max(1, room-utf8.RuneCountInString(text))))
		}
	}
	columns := func(atEnd bool) {
		for n, name := range t.columns {
			text := "."
			if l.Kind == grammar.HeaderLine {
				text = name
			} else if cell, ok := t.cells[line][len(b.Columns)+n]; ok {
				text = cell
			}
			if atEnd {
				out.WriteString("  ")
				out.WriteString(text)
			} else {
				put(text, 8)
			}
		}
	}
	for n := range l.Cells {
		if n == easeColumn(b) {
			columns(false)
		}
		span := l.Cells[n].Span
		text := l.Text[span.Start:span.End]
		if cell, ok := t.cells[line][n]; ok {
			text = cell
		}
		if n+1 < len(l.Cells) {
			next := l.Cells[n+1].Span.Start
			if gap := l.Text[span.End:next]; strings.Contains(gap, "\t") || text == l.Text[span.Start:span.End] {
				out.WriteString(text + gap)
				continue
			}
			put(text, utf8.RuneCountInString(l.Text[span.Start:next]))
			continue
		}
		out.WriteString(text)
		if easeColumn(b) < 0 {
			columns(true)
		}
		if l.Comment != (grammar.Span{}) {
			out.WriteString(strings.Repeat(" ", max(2, utf8.RuneCountInString(l.Text[span.Start:l.Comment.Start])-utf8.RuneCountInString(text))))
			out.WriteString(l.Text[l.Comment.Start:l.Comment.End])
		}
	}
	return out.String()
}

// easeColumn is the column of easings, before which new columns come; -1 for none.
func easeColumn(b *grammar.Block) int { return b.ColumnIndex("ease") }

func withColumns(b *grammar.Block, cells, extra []string) []string {
	if n := easeColumn(b); n >= 0 {
		return slices.Concat(cells[:n], extra, cells[n:])
	}
	return slices.Concat(cells, extra)
}

// spaced sets cells eight apart.
func spaced(cells []string) string {
	var out strings.Builder
	for n, cell := range cells {
		out.WriteString(cell)
		if n+1 < len(cells) {
			out.WriteString(strings.Repeat(" ", max(1, 8-utf8.RuneCountInString(cell))))
		}
	}
	return out.String()
}

func indentOf(l *grammar.Line) string {
	return l.Text[:len(l.Text)-len(strings.TrimLeft(l.Text, " \t"))]
}

// timeText writes a time as a table writes its own.
func (s *scribe) timeText(like string, at grammar.Rat) string {
	if like == "" || like == "0" {
		like = "1b"
	}
	text := s.sheet.TimeLike(like, at)
	if text == "0" {
		text = "0b"
	}
	// An awkward share of a beat reads better as frames behind a whole one.
	if beats := s.sheet.Beats(at); at.IsWhole() && beats.OK() && beats.Den() > 4 && strings.HasSuffix(text, "b") {
		whole := grammar.Whole(beats.Floor())
		return grammar.Time{Beats: whole, Frames: at.Sub(whole.Mul(s.sheet.Beat))}.String()
	}
	return text
}

// changeEdit adds lines to the sheet's change, or begins one.
func (s *scribe) changeEdit(eol string) grammar.Edit {
	lines := strings.Join(s.changes, eol)
	if b := s.file.First(grammar.ChangeBlock); b != nil {
		return s.after(b, lastLine(b), eol+lines)
	}
	after := s.file.First(grammar.SheetBlock)
	for _, b := range s.file.Blocks {
		if b.Kind == grammar.PoseBlock {
			after = b
		}
	}
	return s.after(after, lastLine(after), eol+eol+"change"+eol+lines)
}

// freshEdits puts new tables behind the last block that they follow on: tracks behind tracks, and the others too.
func (s *scribe) freshEdits(eol string) []grammar.Edit {
	after := s.file.First(grammar.SheetBlock)
	for _, kinds := range [][]grammar.BlockKind{{grammar.AmendBlock, grammar.TrackBlock}, {grammar.ChangeBlock, grammar.BlockingBlock}, {grammar.PoseBlock}} {
		found := false
		for _, b := range s.file.Blocks {
			if slices.Contains(kinds, b.Kind) {
				after, found = b, true
			}
		}
		if found {
			break
		}
	}
	var out strings.Builder
	slices.SortStableFunc(s.fresh, func(x, y *freshTable) int { return strings.Compare(x.control, y.control) })
	for _, t := range s.fresh {
		out.WriteString(eol + eol + t.opener)
		out.WriteString(eol + "  " + spaced(append([]string{"at"}, t.rows.columns...)))
		slices.SortStableFunc(t.rows.rows, func(x, y freshRow) int { return x.at.Cmp(y.at) })
		for _, row := range t.rows.rows {
			cells := append([]string{s.timeText(s.clock(), row.at)}, slices.Repeat([]string{"."}, len(t.rows.columns))...)
			for n, text := range row.cells {
				cells[n+1] = text
			}
			out.WriteString(eol + "  " + spaced(cells))
		}
	}
	return []grammar.Edit{s.after(after, lastLine(after), out.String())}
}

// clock is a time as the sheet's tracks write theirs: in beats unless all are in frames.
func (s *scribe) clock() string {
	for _, b := range s.file.Blocks {
		if b.Kind != grammar.TrackBlock && b.Kind != grammar.AmendBlock && b.Kind != grammar.BlockingBlock {
			continue
		}
		for line := range b.Rows() {
			if text := b.Lines[line].CellText(0); strings.HasSuffix(text, "b") {
				return text
			} else if strings.HasSuffix(text, "f") {
				return "1f"
			}
		}
	}
	return "1b"
}
