package server

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// formatRange brings the lines of a range into the canonical form. Rows that would change places with others outside
// stay where they are.
func (s *session) formatRange(_ context.Context, snap snapshot, params *protocol.DocumentRangeFormattingParams) (any, error) {
	return snap.textEdits(snap.formatLines(params.Range)), nil
}

// formatRanges does so for several ranges at once, such as the lines that have changed since the last commit.
func (s *session) formatRanges(_ context.Context, snap snapshot, params *protocol.DocumentRangesFormattingParams) (any, error) {
	return snap.textEdits(snap.formatLines(params.Ranges...)), nil
}

// formatLines are the edits that bring the lines of some ranges into the canonical form.
func (snap snapshot) formatLines(ranges ...protocol.Range) []grammar.Edit {
	tree := snap.tree()
	var out []grammar.Edit
	for _, e := range grammar.FormatEdits(tree) {
		if slices.ContainsFunc(ranges, func(r protocol.Range) bool {
			from := tree.LineStart(tree.LineAt(snap.offsetOf(r.Start)))
			to := tree.LineStart(tree.LineAt(snap.offsetOf(r.End)) + 1)
			return from <= e.Span.Start && e.Span.End <= to
		}) {
			out = append(out, e)
		}
	}
	return out
}

func editsWithin(tree *grammar.File, from, to int) []grammar.Edit {
	var out []grammar.Edit
	for _, e := range grammar.FormatEdits(tree) {
		if from <= e.Span.Start && e.Span.End <= to {
			out = append(out, e)
		}
	}
	return out
}

// formatTyped follows the return key: the line above is aligned, the new one indented, and in a table of times the next
// line of the grid is proposed as the new row's time.
func (s *session) formatTyped(_ context.Context, snap snapshot, params *protocol.DocumentOnTypeFormattingParams) (any, error) {
	offset := snap.offsetOf(params.Position)
	a := askingAt(snap, offset)
	tree := snap.tree()
	number := tree.LineAt(offset)
	if params.Ch != "\n" || number == 0 || strings.TrimSpace(a.line) != "" {
		return []protocol.TextEdit{}, nil
	}
	edits := editsWithin(tree, tree.LineStart(number-1), tree.LineStart(number)-1)
	if start := tree.LineStart(number); a.line != a.opening() {
		edits = append(edits, grammar.Edit{Span: grammar.Span{Start: start, End: start + len(a.line)}, Text: a.opening()})
	}
	return snap.textEdits(edits), nil
}

// opening is how a new line begins behind the one above it.
func (a *asking) opening() string {
	b := a.block
	if b == nil || b.Kind == grammar.Preamble || b.Kind == grammar.UnknownBlock || a.number <= b.Open {
		return ""
	}
	above := a.number - 1
	if above < 0 || len(b.Lines) <= above || b.Lines[above].Kind == grammar.BlankLine {
		return "" // a second return ends the block
	}
	info := grammar.InfoOf(b.Kind)
	if info == nil || !info.IsTable() || b.Header < 0 || a.number <= b.Header || b.Muted || b.Columns[0].Kind != grammar.TimeColumn {
		return "  "
	}
	if kind := b.Lines[above].Kind; kind != grammar.RowLine && kind != grammar.HeaderLine {
		return "  "
	}
	c := a.clock()
	after, below, like, found := rowTimes(c, b, a.number)
	next := gridTimes(c, after, below, !found)
	if len(next) == 0 || c.Closed && next[0] == c.Length {
		return "  " // the closing row comes by itself
	}
	return fmt.Sprintf("  %-*s", b.Columns[0].Width, timeLike(c, like, next[0]))
}
