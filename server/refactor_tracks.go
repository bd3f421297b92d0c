package server

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// What a whole track can be made into: the same on the other side of the body, and two of it.

// mirrorTrack offers the track of the other one of a pair, mirrored, where that has none: at the same time, and half a
// round later, as limbs go in a walk.
func (r *rewriter) mirrorTrack() {
	opener, ok := r.b.Opener.(*grammar.TrackLine)
	m := r.motion()
	if !ok || r.line != r.b.Open || m.Rig == nil || m.Sheet == nil || r.b.Header < 0 || r.b.Muted {
		return
	}
	control := opener.Control.Key()
	other := m.Rig.Mirrored(control)
	if other == control || len(m.Rig.ControlChannels(other)) == 0 || r.hasTrack(other, opener.Layer) {
		return
	}
	flips := make([]bool, len(r.b.Columns))
	for i := range r.b.Columns {
		if c := &r.b.Columns[i]; c.Kind == grammar.ValueColumn {
			own, its := m.Rig.DialIndex(control+"/"+grammar.NameKey(c.Name)), m.Rig.DialIndex(other+"/"+grammar.NameKey(c.Name))
			if own < 0 || its < 0 {
				return
			}
			flips[i] = m.Rig.Channels[own].Flips
		}
	}
	open, at := r.b.Lines[r.b.Open].Text, opener.Control.Where()
	head := []string{open[:at.Start] + other + open[at.End:], r.b.Lines[r.b.Header].Text}
	r.offerTrack("mirror this track onto `"+other+"`", head, r.mirroredRows(flips, nil))
	if round := m.Sheet.RoundOf(r.b); m.Sheet.Closed && round.Sign() > 0 {
		half := round.Div(grammar.Whole(2))
		r.offerTrack("mirror this track onto `"+other+"`, half a round later", head, r.mirroredRows(flips, func(t grammar.Rat) (grammar.Rat, bool) {
			return t.Add(half).Mod(round), t.OK() && t != round // the closing row comes by itself
		}))
	}
}

func (r *rewriter) hasTrack(control string, layer *grammar.Name) bool {
	return slices.ContainsFunc(r.tree.Blocks, func(b *grammar.Block) bool {
		track, ok := b.Opener.(*grammar.TrackLine)
		return ok && track.Control.Key() == control && keyOf(track.Layer) == keyOf(layer)
	})
}

func keyOf(name *grammar.Name) string {
	if name == nil {
		return ""
	}
	return name.Key()
}

// offerTrack offers a track behind this one.
func (r *rewriter) offerTrack(title string, head, rows []string) {
	if len(rows) == 0 {
		return
	}
	end := r.lineEnd()
	r.offer(title, protocol.CodeActionKindRefactorRewrite, true, r.behind(r.b, lastLine(r.b), end+strings.Join(slices.Concat(head, rows), end)))
}

// mirroredRows are the track's rows with the signs of some columns changed, and at other times where to gives such; rows
// for which it is false are left out.
func (r *rewriter) mirroredRows(flips []bool, to func(grammar.Rat) (grammar.Rat, bool)) []string {
	s := r.motion().Sheet
	type row struct {
		at   grammar.Rat
		text string
	}
	var rows []row
	for line := range r.b.Rows() {
		l := &r.b.Lines[line]
		at := l.Cells[0].Time.In(s.Rate, s.Beat)
		var cells []string
		for i := range l.Cells {
			text := l.CellText(i)
			switch {
			case i == 0 && to != nil:
				moved, stays := to(at)
				if !stays || !moved.OK() {
					cells = nil
					continue
				}
				at, text = moved, timeLike(s, text, moved)
			case i < len(flips) && flips[i]:
				text = negated(text)
			}
			if i > 0 && cells == nil {
				continue
			}
			if i == 0 {
				text = "  " + text
			}
			cells = append(cells, fmt.Sprintf("%-*s", r.b.Columns[i].Width+map[bool]int{true: 2}[i == 0], text))
		}
		if cells != nil {
			rows = append(rows, row{at, joinedCells(cells)})
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return a.at.Cmp(b.at) })
	var out []string
	for _, one := range rows {
		out = append(out, one.text)
	}
	return out
}

// negated is a cell of a track with the sign of its value, and of its slopes, changed.
func negated(cell string) string {
	if cell == "." {
		return cell
	}
	mark := strings.IndexAny(cell, "~^>=@")
	if mark < 0 {
		return negatedNumber(cell)
	}
	value, marks := negatedNumber(cell[:mark]), cell[mark:]
	if slopes, ok := strings.CutPrefix(marks, "@"); ok {
		parts := strings.Split(slopes, ",")
		for i := range parts {
			parts[i] = negatedNumber(parts[i])
		}
		marks = "@" + strings.Join(parts, ",")
	}
	return value + marks
}

func negatedNumber(text string) string {
	digits := strings.TrimLeft(text, "+-")
	if strings.HasPrefix(text, "-") || strings.Trim(digits, "0.") == "" {
		return digits
	}
	return "-" + digits
}

// splitTrack offers the channel of a column as a track in a layer of its own, since a control has one track in each. It is
// offered only where everything goes on moving as it did: not where poses key the channel too, where it plays late, or
// where somebody follows it.
func (r *rewriter) splitTrack(snap snapshot, column int) {
	opener, ok := r.b.Opener.(*grammar.TrackLine)
	m := r.motion()
	if !ok || opener.Layer != nil || r.line != r.b.Header || r.b.Muted || column < 0 || len(r.b.Columns) <= column || !m.Whole() {
		return
	}
	values := 0
	for i := range r.b.Columns {
		if r.b.Columns[i].Kind == grammar.ValueColumn {
			values++
		}
	}
	name := grammar.NameKey(r.b.Columns[column].Name)
	dial := m.Rig.DialIndex(opener.Control.Key() + "/" + name)
	keyed := false
	for line := range r.b.Rows() {
		keyed = keyed || r.b.Lines[line].Cells[column].Class != grammar.Dot
	}
	if r.b.Columns[column].Kind != grammar.ValueColumn || values < 2 || dial < 0 || !keyed {
		return
	}
	layer := name
	for n := 2; slices.ContainsFunc(m.Layers, func(l *motion.Layer) bool { return l.Name == layer }); n++ {
		layer = fmt.Sprintf("%s-%d", name, n)
	}
	edits := r.splitEdits(opener, column, layer, m.Rig.Channels[dial].Rest)
	text, err := grammar.Apply(r.tree.Text, edits)
	if err != nil {
		return
	}
	after := newLookout(snap.document, snap.world).project().Resolve(grammar.Parse(r.tree.Path, text))
	if sameMotion(m, after) && after.Channels[dial].Base == nil {
		r.offer("split `"+name+"` off into the layer `"+layer+"`", protocol.CodeActionKindRefactorRewrite, false, edits...)
	}
}

// splitEdits take a column out of the track, with the rows that have nothing else to say, and write it as a track in a
// layer, where values count from rest.
func (r *rewriter) splitEdits(opener *grammar.TrackLine, column int, layer string, rest float64) []grammar.Edit {
	ease := r.b.ColumnIndex("ease")
	open, at := r.b.Lines[r.b.Open].Text, opener.Control.Where()
	if c := r.b.Lines[r.b.Open].Comment; c.Len() > 0 {
		open = strings.TrimRight(open[:c.Start], " \t")
	}
	width := r.b.Columns[0].Width
	head := []string{
		open[:at.End] + " in " + layer + open[at.End:],
		joinedCells([]string{fmt.Sprintf("  %-*s", width, "at"), fmt.Sprintf("%-*s", width, r.b.Columns[column].Name), map[bool]string{true: "ease"}[0 <= ease]}),
	}
	edits := []grammar.Edit{r.dropCell(r.b.Header, column)}
	var rows []string
	for line := range r.b.Rows() {
		l := &r.b.Lines[line]
		own := l.Cells[column].Class != grammar.Dot
		if own {
			value := l.CellText(column)
			if rest != 0 {
				mark := strings.IndexAny(value+"~", "~^>=@")
				value = figure(l.Cells[column].Value-rest, 9) + value[mark:]
			}
			cells := []string{fmt.Sprintf("  %-*s", width, l.CellText(0)), fmt.Sprintf("%-*s", width, value)}
			if 0 <= ease {
				cells = append(cells, l.CellText(ease))
			}
			rows = append(rows, joinedCells(cells))
		}
		others := false
		for i := range l.Cells {
			others = others || i != 0 && i != column && i != ease && l.Cells[i].Class != grammar.Dot
		}
		if !others && own && l.Comment.Len() == 0 {
			edits = append(edits, r.dropLine(line))
		} else {
			edits = append(edits, r.dropCell(line, column))
		}
	}
	end := r.lineEnd()
	last := lastLine(r.b)
	added := r.behind(r.b, last, end+strings.Join(slices.Concat(head, rows), end))
	if n := len(edits) - 1; added.Span.Start <= edits[n].Span.End { // the last row goes, and two edits may not meet
		edits[n].Text += added.Text
	} else {
		edits = append(edits, added)
	}
	return edits
}

// dropCell takes a cell out of a row, so that the next one stands in its place.
func (r *rewriter) dropCell(line, i int) grammar.Edit {
	cells := r.b.Lines[line].Cells
	if i+1 < len(cells) {
		return r.replace(line, grammar.Span{Start: cells[i].Span.Start, End: cells[i+1].Span.Start}, "")
	}
	return r.replace(line, grammar.Span{Start: cells[i-1].Span.End, End: cells[i].Span.End}, "")
}

// dropLine takes a line out with the line end before it.
func (r *rewriter) dropLine(line int) grammar.Edit {
	before, _ := r.tree.Locate(r.b.Ref(line-1, grammar.Span{Start: len(r.b.Lines[line-1].Text), End: len(r.b.Lines[line-1].Text)}))
	own, _ := r.tree.Locate(r.b.Ref(line, grammar.Span{End: len(r.b.Lines[line].Text)}))
	return grammar.Edit{Span: grammar.Span{Start: before.Start, End: own.End}}
}

// sameMotion tells whether two motions of one rig agree at many moments, to a billionth, and are as much in order.
func sameMotion(a, b *motion.Motion) bool {
	if len(a.Channels) != len(b.Channels) || len(a.Problems) != len(b.Problems) || b.Sheet == nil {
		return false
	}
	const moments = 48
	for i := range a.Channels {
		if !a.Channels[i].Moves() && !b.Channels[i].Moves() {
			continue
		}
		for step := range moments {
			t := a.Sheet.Length.Float() * float64(step) / moments
			was := a.Channels[i].At(t)
			if 1e-9*max(1, math.Abs(was)) < math.Abs(was-b.Channels[i].At(t)) {
				return false
			}
		}
	}
	return true
}
