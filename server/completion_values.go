package server

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// Numbers can't be guessed, but there are some that an animator begins with: where the curve passes at that moment, what
// the row above says, what other poses have. The motion of one control is made for that, as a hover makes it.

// passing is a row of a track that is being written, and the motion without it.
type passing struct {
	m              *motion.Motion
	control, layer string
	at             grammar.Rat // the row's time, in frames
}

// passingAt is the row at a time of the track that is being written in; false where there is none, or its time is no moment
// of the motion.
func (a *asking) passingAt(time string) (passing, bool) {
	control, layer, ok := trackOf(a.block)
	written, isTime := grammar.ParseTime(time)
	if !ok || !isTime {
		return passing{}, false
	}
	p := passing{m: a.snap.motionAbout(a.block, a.number), control: control, layer: layer}
	if p.m.Sheet == nil || p.m.Sheet.Beat.Sign() <= 0 {
		return passing{}, false
	}
	p.at = written.In(p.m.Sheet.Rate, p.m.Sheet.Beat)
	return p, p.at.OK()
}

// value is where a channel's curve passes, as it would be written; false where nothing keys it.
func (p *passing) value(channel string) (string, bool) {
	strand := strandOf(orEmpty(p.m.Channel(p.control+"/"+grammar.NameKey(channel))), p.layer)
	if strand == nil {
		return "", false
	}
	return figure(strand.Curve.At(p.at.Float()), 3), true
}

// row are the cells from a column on, each at its column's stop, where the curves pass; false where nothing keys any.
func (p *passing) row(columns []grammar.Column) (string, bool) {
	var cells []string
	some := false
	for i := range columns {
		text := "."
		if columns[i].Kind == grammar.ValueColumn {
			if value, ok := p.value(columns[i].Name); ok {
				text, some = value, true
			}
		}
		cells = append(cells, fmt.Sprintf("%-*s", columns[i].Width, text))
	}
	return joinedCells(cells), some
}

// values are what a key of a track may begin with, and the empty cell.
func (a *asking) values(column int) []candidate {
	b := a.block
	own := &b.Columns[column]
	var out []candidate
	add := func(text, detail string) {
		if !slices.ContainsFunc(out, func(c candidate) bool { return c.label == text }) {
			out = append(out, candidate{label: text, kind: protocol.CompletionItemKindValue, detail: detail})
		}
	}
	if p, ok := a.passingAt(a.atom(0)); ok {
		if value, ok := p.value(own.Name); ok {
			add(value, "where `"+own.Name+"` passes here")
		}
		if row, ok := p.row(b.Columns[column:]); ok && column+1 < len(b.Columns) {
			out = append(out, candidate{
				label: strings.Join(strings.Fields(row), " "), plain: row, kind: protocol.CompletionItemKindSnippet,
				detail: "where the curves pass here",
			})
		}
	}
	above := -1
	for line := range b.Rows() {
		if line < a.number && column < len(b.Lines[line].Cells) && b.Lines[line].Cells[column].Class != grammar.Dot {
			above = line
		}
	}
	if 0 <= above {
		add(b.Lines[above].CellText(column), "as at "+b.Lines[above].CellText(0))
	}
	add(".", "no key of `"+own.Name+"` here")
	return out
}

// poseValues are what other poses in sight give the channel of the line that is being written.
func (a *asking) poseValues() []candidate {
	key := grammar.NameKey(a.atom(0))
	var out []candidate
	for _, f := range a.sight().files() {
		for _, b := range f.Blocks {
			pose, ok := b.Opener.(*grammar.PoseLine)
			if !ok || b == a.block {
				continue
			}
			for line, stmt := range b.Entries() {
				entry, ok := stmt.(*grammar.PoseEntry)
				if !ok || entry.Channel.Key() != key {
					continue
				}
				value, name := b.Ref(line, entry.Value.Where()).Text(), "`"+pose.Name.Text+"`"
				at := slices.IndexFunc(out, func(c candidate) bool { return c.label == value })
				if at < 0 {
					out = append(out, candidate{label: value, kind: protocol.CompletionItemKindValue, detail: "as in " + name})
				} else {
					out[at].detail += ", " + name
				}
			}
		}
	}
	return out
}

// inlineCompletion proposes the rest of a track's row that is being written, or a whole one on an empty line behind the last
// row, with the values that the curves have there. Taken as it is, it hardly moves anything; the animator changes it from there.
func (s *session) inlineCompletion(_ context.Context, snap snapshot, params *protocol.InlineCompletionParams) (any, error) {
	out := &protocol.InlineCompletionList{Items: []protocol.InlineCompletionItem{}}
	offset := snap.offsetOf(params.Position)
	if text, ok := askingAt(snap, offset).proposal(); ok {
		here := snap.rangeOf(offset, offset)
		out.Items = append(out.Items, protocol.InlineCompletionItem{InsertText: protocol.String(text), Range: &here})
	}
	return out, nil
}

// proposal is what may be written from the cursor on to have a whole row.
func (a *asking) proposal() (string, bool) {
	b := a.block
	if b == nil || b.Header < 0 || b.Muted || a.number <= b.Header || 0 < a.partial.Len() || strings.Contains(a.line[:a.column], "#") || strings.TrimSpace(a.line[a.column:]) != "" {
		return "", false
	}
	if _, _, ok := trackOf(b); !ok || len(b.Columns) <= len(a.atoms) || a.column == 0 {
		return "", false
	}
	time, begun := "", ""
	if 0 < len(a.atoms) {
		time = a.atom(0)
	} else {
		c := a.clock()
		above, below, like, found := rowTimes(c, b, a.number)
		next := gridTimes(c, above, below, !found)
		if len(next) == 0 || c.Closed && next[0] == c.Length {
			return "", false // the closing row comes by itself
		}
		time = timeLike(c, like, next[0])
		begun = fmt.Sprintf("%-*s", b.Columns[0].Width, time)
	}
	p, ok := a.passingAt(time)
	if !ok {
		return "", false
	}
	row, ok := p.row(b.Columns[max(len(a.atoms), 1):])
	if !ok {
		return "", false
	}
	stop := 2 // where the column begins, in the canonical form
	for i := range a.atoms {
		stop += b.Columns[i].Width
	}
	return strings.Repeat(" ", max(stop-a.column, 0)) + begun + row, true
}
