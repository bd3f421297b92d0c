package lint

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// lateAlike reports a track whose accents all miss the grid by the same, once for all of them, and tells whether it did.
func (p *Pass) lateAlike(accents []accent) bool {
	first := p.behind(accents[0].time)
	alike := func(a accent) bool {
		return p.isOff(&a) && math.Abs(p.behind(a.time).Sub(first).Float()) <= p.Limit("f")
	}
	opener, ok := accents[0].block.Opener.(*grammar.TrackLine)
	if !ok || len(accents) < 2 || slices.ContainsFunc(accents, func(a accent) bool { return !alike(a) }) {
		return false
	}
	s, b := p.Motion.Sheet, accents[0].block
	late := grammar.Whole(max(first.Round(), 1))
	at := b.Ref(b.Open, opener.Control.Where())
	if first.Add(first).Cmp(s.Grid) > 0 {
		early := p.Report(at, "all %d accents of this track come %s before the grid; move its rows onto it", len(accents), duration(s, s.Grid.Sub(first)))
		early.faults = len(accents)
		return true
	}
	finding := p.Report(at, "all %d accents of this track come %s after the grid; write them on it, and let an `overlap` row play them late", len(accents), duration(s, first))
	finding.faults = len(accents)
	if edits, ok := p.playLate(b, opener, late); ok {
		finding.Mends = []motion.Mend{{Title: "write the track on the grid and play it " + late.String() + "f late", Edits: edits, Safe: true}}
	}
	return true
}

// playLate writes all rows of a track earlier, and a row of `overlap` that plays it as much later, so that the motion
// stays. That needs a control whose base is all in this track, and rows that all stay inside the sheet.
func (p *Pass) playLate(b *grammar.Block, opener *grammar.TrackLine, late grammar.Rat) ([]motion.Edit, bool) {
	s := p.Motion.Sheet
	control := opener.Control.Key()
	if opener.Layer != nil || opener.Every != nil || b.Path != p.Motion.File.Path || !p.allIn(b, control) {
		return nil, false
	}
	var edits []motion.Edit
	for line := range b.Rows() {
		t := rowTime(s, b, line).Sub(late)
		if t.Sign() < 0 {
			return nil, false
		}
		edits = append(edits, writeCell(b, line, b.Lines[line].Cells[0].Span, timeText(s, b.Lines[line].CellText(0), t)))
	}
	return append(edits, p.overlapRow(b, opener.Control.Text, late)), true
}

// allIn tells whether all keys of a control's base come from one block.
func (p *Pass) allIn(b *grammar.Block, control string) bool {
	for _, i := range p.Motion.Rig.ControlChannels(control) {
		base := p.Motion.Channels[i].Base
		if base != nil && slices.ContainsFunc(base.Keys, func(k motion.Key) bool { return k.At.Block != b }) {
			return false
		}
	}
	return true
}

// overlapRow is the edit that lets a control play later by some frames: its own row with a longer time, a row behind the
// others, or a new block behind the track.
func (p *Pass) overlapRow(track *grammar.Block, control string, late grammar.Rat) motion.Edit {
	f := p.Motion.File
	c := &p.Motion.Channels[p.Motion.Rig.ControlChannels(grammar.NameKey(control))[0]]
	row := "  " + control + spaces(10-runes(control)) + grammar.Time{Frames: c.Late.Add(late)}.String()
	if at := c.LateAt; at.Path() == f.Path && at.Block.Kind == grammar.OverlapBlock {
		if entry, ok := at.Block.Lines[at.Line].Stmt.(*grammar.LateEntry); ok && grammar.NameKey(entry.Controls.Text) == grammar.NameKey(control) {
			return motion.Edit{At: at.Block.Ref(at.Line, entry.Late.Where()), Text: grammar.Time{Frames: c.Late.Add(late)}.String()}
		}
	}
	for _, b := range slices.Backward(f.Blocks) {
		if b.Kind == grammar.OverlapBlock {
			return behindBlock(f, b, row)
		}
	}
	return behindBlock(f, track, lineEnd(f)+"overlap"+lineEnd(f)+row)
}

// behindBlock writes text on new lines behind the last line of a block that says anything.
func behindBlock(f *grammar.File, b *grammar.Block, text string) motion.Edit {
	last := len(b.Lines) - 1
	for last > 0 && b.Lines[last].Kind == grammar.BlankLine {
		last--
	}
	end := len(b.Lines[last].Text)
	return motion.Edit{At: b.Ref(last, grammar.Span{Start: end, End: end}), Text: lineEnd(f) + text}
}
