package lint

import (
	"strings"

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

// writeCell writes a cell and keeps what follows where it stands, as far as the white space behind the cell allows.
func writeCell(b *grammar.Block, line int, cell grammar.Span, text string) motion.Edit {
	rest := b.Lines[line].Text[cell.End:]
	gap := len(rest) - len(strings.TrimLeft(rest, " "))
	if gap == 0 || gap == len(rest) {
		return motion.Edit{At: b.Ref(line, cell), Text: text}
	}
	was := b.Lines[line].Text[cell.Start:cell.End]
	pad := runes(was) + gap - runes(text)
	return motion.Edit{At: b.Ref(line, grammar.Span{Start: cell.Start, End: cell.End + gap}), Text: text + spaces(pad)}
}

func runes(text string) int { return len([]rune(text)) }

// moveRow gives a row of a table another time, in the unit in which it is written, and moves its line to where it then
// belongs. It is false where that moment has a row already, and where the rows are not in time order.
func (p *Pass) moveRow(b *grammar.Block, line int, to grammar.Rat) ([]motion.Edit, bool) {
	s, f := p.Motion.Sheet, p.Motion.File
	after, free := rowBefore(s, b, line, to)
	if !free {
		return nil, false
	}
	write := writeCell(b, line, b.Lines[line].Cells[0].Span, timeText(s, b.Lines[line].CellText(0), to))
	if staysPut(b, line, after) {
		return []motion.Edit{write}, true
	}
	text := b.Lines[line].Text
	moved := lineEnd(f) + text[:write.At.Span.Start] + write.Text + text[write.At.Span.End:]
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
func rowBefore(s *motion.Sheet, b *grammar.Block, moving int, to grammar.Rat) (line int, free bool) {
	line = b.Header
	var last grammar.Rat
	round := roundOf(s, b)
	for i := range b.Rows() {
		if i == moving {
			continue
		}
		t := rowTime(s, b, i)
		if t.Cmp(last) < 0 || t == to || s.Closed && t.Sub(to) == round || s.Closed && to.Sub(t) == round {
			return 0, false
		}
		if t.Cmp(to) < 0 {
			line = i
		}
		last = t
	}
	return line, true
}

// roundOf is the time after which a block's material comes again: its `every`, or the sheet's length.
func roundOf(s *motion.Sheet, b *grammar.Block) grammar.Rat {
	var every *grammar.Moment
	switch opener := b.Opener.(type) {
	case *grammar.TrackLine:
		every = opener.Every
	case *grammar.BlockingLine:
		every = opener.Every
	}
	if every == nil {
		return s.Length
	}
	return every.Time.In(s.Rate, s.Beat)
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
