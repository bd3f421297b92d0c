package server

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// What a selection of rows, or a single one, can be made into: the same keys at other times, and one more between two.

// selectedRows are the rows with a time that a selection touches, by the block that they stand in.
type selectedRows struct {
	block *grammar.Block
	lines []int // rising
}

// rowsIn finds the rows between two bytes of a text. A selection that ends before a line's first letter does not touch it.
func rowsIn(tree *grammar.File, start, end int) []selectedRows {
	first, last := tree.LineAt(start), tree.LineAt(end)
	if first < last && end == tree.LineStart(last) {
		last--
	}
	var out []selectedRows
	line := 0
	for _, b := range tree.Blocks {
		found := selectedRows{block: b}
		switch b.Kind {
		case grammar.TrackBlock, grammar.AmendBlock, grammar.BlockingBlock, grammar.NotesBlock:
			for i := range b.Rows() {
				if first <= line+i && line+i <= last && b.Lines[i].Cells[0].Time != nil {
					found.lines = append(found.lines, i)
				}
			}
		}
		if 0 < len(found.lines) {
			out = append(out, found)
		}
		line += len(b.Lines)
	}
	return out
}

// moveRows offers the selected rows at other times: a line of the grid or a frame later or earlier, and on the grid.
func (r *rewriter) moveRows(selected []selectedRows) {
	s := r.motion().Sheet
	if len(selected) == 0 || s == nil || s.Beat.Sign() <= 0 {
		return
	}
	which := "the selected rows"
	if len(selected) == 1 && len(selected[0].lines) == 1 {
		which = "the selected row"
	}
	frame := grammar.Whole(1)
	if grid := s.Grid; grid.Sign() > 0 && grid.OK() {
		step := several(s.Beats(grid), "beat")
		r.offerRows("play "+which+" "+step+" later", s, selected, shift{by: grid})
		r.offerRows("play "+which+" "+step+" earlier", s, selected, shift{by: grid.Neg()})
	}
	if s.Grid != frame {
		r.offerRows("play "+which+" a frame later", s, selected, shift{by: frame})
		r.offerRows("play "+which+" a frame earlier", s, selected, shift{by: frame.Neg()})
	}
	if s.Grid.Sign() > 0 && s.Grid.OK() {
		r.offerRows("put "+which+" on the grid", s, selected, shift{to: s.Grid})
	}
}

// shift gives rows other times: by so many frames, or to the nearest multiples of some.
type shift struct{ by, to grammar.Rat }

func (m shift) of(frames grammar.Rat) grammar.Rat {
	if m.to.Sign() > 0 {
		return m.to.Mul(grammar.Whole(frames.Div(m.to).Round()))
	}
	return frames.Add(m.by)
}

// write is a time after the shift, in the unit in which it was written; a frame more or less stands beside the beat.
func (m shift) write(s *motion.Sheet, was *grammar.Time, text string) string {
	if one := grammar.Whole(1); !was.Beats.IsZero() && (m.by == one || m.by == one.Neg()) {
		is := *was
		is.Frames = is.Frames.Add(m.by)
		return is.String()
	}
	return timeLike(s, text, m.of(was.In(s.Rate, s.Beat)))
}

// offerRows offers the rows at other times, unless one would leave its round, come to stand at a moment or on the other
// side of one that has a row, or is the closing row, whose time is the round's.
func (r *rewriter) offerRows(title string, s *motion.Sheet, selected []selectedRows, by shift) {
	var edits []grammar.Edit
	for _, rows := range selected {
		moved, ok := r.movedRows(s, rows, by)
		if !ok {
			return
		}
		edits = append(edits, moved...)
	}
	r.offer(title, protocol.CodeActionKindRefactorRewrite, true, edits...)
}

func (r *rewriter) movedRows(s *motion.Sheet, rows selectedRows, by shift) ([]grammar.Edit, bool) {
	round := s.RoundOf(rows.block)
	at := &rewriter{tree: r.tree, b: rows.block}
	var edits []grammar.Edit
	before, some := grammar.Rat{}, false
	for line := range rows.block.Rows() {
		l := &rows.block.Lines[line]
		if l.Cells[0].Time == nil {
			continue
		}
		t := l.Cells[0].Time.In(s.Rate, s.Beat)
		if _, chosen := slices.BinarySearch(rows.lines, line); chosen {
			moved, ok := at.movedRow(s, line, round, by)
			if !ok {
				return nil, false
			}
			edits = append(edits, moved...)
			t = by.of(t)
		}
		// Notes may stand in any order, and several at one moment.
		if some && rows.block.Kind != grammar.NotesBlock && t.Cmp(before) <= 0 {
			return nil, false
		}
		before, some = t, true
	}
	return edits, true
}

// movedRow are the edits of one row's times, the end of its hold among them.
func (r *rewriter) movedRow(s *motion.Sheet, line int, round grammar.Rat, by shift) ([]grammar.Edit, bool) {
	l := &r.b.Lines[line]
	var edits []grammar.Edit
	for i := range l.Cells {
		if l.Cells[i].Time == nil || len(r.b.Columns) <= i || r.b.Columns[i].Kind != grammar.TimeColumn {
			continue
		}
		was := l.Cells[i].Time.In(s.Rate, s.Beat)
		t := by.of(was)
		closes := s.Closed && i == 0 && r.b.Kind != grammar.NotesBlock && (was == round || t == round)
		if closes || !t.OK() || t.Sign() < 0 || round.Sign() > 0 && round.Cmp(t) < 0 {
			return nil, false
		}
		if t != was {
			edits = append(edits, r.cell(line, i, by.write(s, l.Cells[i].Time, l.CellText(i))))
		}
	}
	return edits, true
}

// addRow offers a row between this one and the next with the values that the curves have there: what an animator changes
// next. Of the times between, it takes the line of the grid that is nearest the middle, or else the frame there.
func (r *rewriter) addRow() {
	m := r.motion()
	control, layer, ok := trackOf(r.b)
	l := &r.b.Lines[r.line]
	if !ok || m.Sheet == nil || m.Sheet.Beat.Sign() <= 0 || l.Kind != grammar.RowLine || l.Cells[0].Time == nil {
		return
	}
	s := m.Sheet
	from := l.Cells[0].Time.In(s.Rate, s.Beat)
	to := grammar.Rat{}
	if s.Closed {
		to = s.RoundOf(r.b)
	}
	for line := range r.b.Rows() {
		if t := r.b.Lines[line].Cells[0].Time; r.line < line && t != nil {
			to = t.In(s.Rate, s.Beat)
			break
		}
	}
	at, ok := between(s, from, to)
	if !ok {
		return
	}
	time := timeLike(s, l.CellText(0), at)
	row := []string{"  " + fmt.Sprintf("%-*s", r.b.Columns[0].Width, time)}
	some := false
	for i := range r.b.Columns[1:] {
		c, text := &r.b.Columns[i+1], "."
		if c.Kind == grammar.ValueColumn {
			if strand := strandOf(orEmpty(m.Channel(control+"/"+grammar.NameKey(c.Name))), layer); strand != nil {
				text, some = figure(strand.Curve.At(at.Float()), 3), true
			}
		}
		row = append(row, fmt.Sprintf("%-*s", c.Width, text))
	}
	if some {
		r.offer("add a row at "+time+", where the curves pass", protocol.CodeActionKindRefactorRewrite, true, r.behind(r.b, r.line, joinedCells(row)))
	}
}

// between is a good time between two, in frames; false where there is none.
func between(s *motion.Sheet, from, to grammar.Rat) (grammar.Rat, bool) {
	middle := from.Add(to).Div(grammar.Whole(2))
	if !middle.OK() || to.Cmp(from) <= 0 {
		return middle, false
	}
	inside := func(t grammar.Rat) bool { return t.OK() && from.Cmp(t) < 0 && t.Cmp(to) < 0 }
	if s.Grid.Sign() > 0 {
		if line := s.Grid.Mul(grammar.Whole(middle.Div(s.Grid).Round())); inside(line) {
			return line, true
		}
	}
	frame := grammar.Whole(middle.Floor())
	return frame, inside(frame)
}

// joinedCells is a row of a table, each cell at its column's stop as far as the ones before leave room.
func joinedCells(cells []string) string {
	text := ""
	for i, cell := range cells {
		if i > 0 && len(text) > 0 && text[len(text)-1] != ' ' {
			text += " "
		}
		text += cell
	}
	for len(text) > 0 && text[len(text)-1] == ' ' {
		text = text[:len(text)-1]
	}
	return text
}
