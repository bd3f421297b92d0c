package server

import (
	"context"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// inlays tell beside the text what it comes to: at the end of a row its frame, behind the last row of a cycle what the
// closing row would say, and beside a lag the one that is measured. Hints of rows stand at the end of their line, since
// anything inside would move the columns.
func (s *session) inlays(ctx context.Context, snap snapshot, params *protocol.InlayHintParams) (any, error) {
	tree := snap.tree()
	snap.told.Store(true) // the base sets the clock
	from, to := tree.LineAt(snap.offsetOf(params.Range.Start)), tree.LineAt(snap.offsetOf(params.Range.End))
	h := &hinter{snap: snap, tree: tree, clock: snap.sight().clock(), from: from, to: to, out: []protocol.InlayHint{}}
	for _, b := range tree.Blocks {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if len(b.Lines) == 0 {
			continue
		}
		first, _ := tree.LineNumber(b.Ref(0, grammar.Span{}))
		if to < first || first+len(b.Lines) <= from {
			continue
		}
		switch b.Kind {
		case grammar.TrackBlock, grammar.AmendBlock, grammar.BlockingBlock, grammar.NotesBlock:
			h.rows(b, first)
		case grammar.FollowBlock:
			h.lag(b, first)
		}
	}
	return h.out, nil
}

type hinter struct {
	snap     snapshot
	tree     *grammar.File
	clock    *motion.Sheet
	from, to int
	out      []protocol.InlayHint
}

func (h *hinter) add(b *grammar.Block, line, first, column int, label, tip string) {
	if first+line < h.from || h.to < first+line {
		return
	}
	at, _ := h.tree.Locate(b.Ref(line, grammar.Span{Start: column, End: column}))
	yes := true
	hint := protocol.InlayHint{Position: h.snap.positionOf(at.Start), Label: protocol.String(label), PaddingLeft: &yes}
	if tip != "" {
		hint.Tooltip = protocol.String(tip)
	}
	h.out = append(h.out, hint)
}

// rows tells the times of rows in the other unit: frames beside beats and seconds, beats beside frames.
func (h *hinter) rows(b *grammar.Block, first int) {
	last := -1
	for line := range b.Rows() {
		l := &b.Lines[line]
		t := l.Cells[0].Time
		if t == nil {
			continue
		}
		last = line
		if first+line < h.from || h.to < first+line {
			continue
		}
		frames := t.In(h.clock.Rate, h.clock.Beat)
		if !frames.OK() || frames.IsZero() {
			continue
		}
		label := mixed(frames) + "f"
		if t.Beats.IsZero() && t.Seconds.IsZero() {
			label = mixed(h.clock.Beats(frames)) + "b"
		}
		h.add(b, line, first, l.Content().End, label, figure(h.clock.Seconds(frames).Float(), 3)+" s")
	}
	if last >= 0 && h.from <= first+last && first+last <= h.to && b.Kind == grammar.TrackBlock {
		h.closing(b, first, last)
	}
}

// closing tells what the closing row of a cycle would say, where none is written.
func (h *hinter) closing(b *grammar.Block, first, last int) {
	m := h.snap.motion()
	row, period, ok := closingRow(m, b)
	if ok {
		h.add(b, last, first, b.Lines[last].Content().End, timeLike(m.Sheet, b.Lines[last].CellText(0), period)+" "+strings.Join(row, " "), "the closing row, which comes by itself")
	}
}

// closingRow is what a track's closing row would say, cell by cell without its time, and when it would stand; false
// where the motion has no end that is its start, or the row is there.
func closingRow(m *motion.Motion, b *grammar.Block) (cells []string, period grammar.Rat, ok bool) {
	control, layer, _ := trackOf(b)
	if m.Sheet == nil || !m.Sheet.Closed || m.Sheet.Length.Sign() <= 0 {
		return nil, period, false
	}
	for i := range b.Columns {
		if i == 0 || b.Columns[i].Kind != grammar.ValueColumn {
			if i > 0 {
				cells = append(cells, ".")
			}
			continue
		}
		c := m.Channel(control + "/" + grammar.NameKey(b.Columns[i].Name))
		if c == nil {
			return nil, period, false
		}
		strand := strandOf(c, layer)
		if strand == nil || !strand.Closed() {
			cells = append(cells, ".")
			continue
		}
		period = strand.Period
		cells = append(cells, figure(strand.Curve.At(0)+strand.Curve.Extent().Gain, 3))
	}
	if period.Sign() <= 0 {
		return nil, period, false
	}
	for line := range b.Rows() {
		if t := b.Lines[line].Cells[0].Time; t != nil && t.In(m.Sheet.Rate, m.Sheet.Beat) == period {
			return nil, period, false
		}
	}
	return cells, period, true
}

// lag tells the lag that is measured beside the one that is asked for, or beside a spring, which has none of its own.
func (h *hinter) lag(b *grammar.Block, first int) {
	for line, stmt := range b.Entries() {
		switch stmt.(type) {
		case *grammar.LagLine, *grammar.SpringLine:
		default:
			continue
		}
		m := h.snap.motion()
		if m.Sheet == nil {
			return
		}
		frames, likeness, ok := measuredLag(m.Sheet, bonds(m, b, -1))
		if !ok {
			return
		}
		h.add(b, line, first, b.Lines[line].Content().End, "measured "+figure(frames, 1)+"f",
			"what the followers do comes so late behind their leaders, "+figure(100*likeness, 0)+" % alike")
		return
	}
}
