package server

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// folding gives the stretches that an editor can fold: each block behind its opening line, and comments of several
// lines. They are whole lines, which every client can fold.
func (s *session) folding(_ context.Context, snap snapshot, _ *protocol.FoldingRangeParams) (any, error) {
	out := []protocol.FoldingRange{}
	tree := snap.tree()
	add := func(b *grammar.Block, from, to int, kind protocol.FoldingRangeKind) {
		start, _ := tree.Locate(b.Ref(from, grammar.Span{}))
		end, ok := tree.Locate(b.Ref(to, grammar.Span{}))
		if ok && from < to {
			out = append(out, protocol.FoldingRange{
				StartLine: snap.positionOf(start.Start).Line, EndLine: snap.positionOf(end.Start).Line, Kind: kind,
			})
		}
	}
	for _, b := range tree.Blocks {
		if 0 <= b.Open {
			add(b, b.Open, lastLine(b), protocol.FoldingRangeKindRegion)
		}
		first := -1
		for i := 0; i <= len(b.Lines); i++ {
			comment := i < len(b.Lines) && b.Lines[i].Kind == grammar.CommentLine
			switch {
			case comment && first < 0:
				first = i
			case !comment && 0 <= first:
				add(b, first, i-1, protocol.FoldingRangeKindComment)
				first = -1
			}
		}
	}
	return out, nil
}

// selections widen each of several cursors: the part of a path, the cell, the line, the block, the whole text.
func (s *session) selections(_ context.Context, snap snapshot, params *protocol.SelectionRangeParams) (any, error) {
	out := []protocol.SelectionRange{}
	for _, p := range params.Positions {
		out = append(out, *snap.selection(snap.offsetOf(p)))
	}
	return out, nil
}

func (snap snapshot) selection(offset int) *protocol.SelectionRange {
	tree := snap.tree()
	spans := []grammar.Span{{Start: 0, End: len(snap.text)}}
	// Each must hold the cursor and lie in the one before, or a client may refuse them all.
	add := func(s grammar.Span) {
		last := spans[len(spans)-1]
		if s.Contains(offset) && last.Start <= s.Start && s.End <= last.End && s != last {
			spans = append(spans, s)
		}
	}
	if at := refAt(tree, offset); !at.IsZero() {
		if symbol, ok := symbolOf(tree, at.Block); ok {
			add(symbol.span)
		}
		line := &at.Block.Lines[at.Line]
		locate := func(s grammar.Span) {
			if span, ok := tree.Locate(at.Block.Ref(at.Line, s)); ok {
				add(span)
			}
		}
		locate(line.Content())
		if token, ok := tokenAt(line.Text, at.Span.Start); ok {
			locate(token.Span)
			text := line.Text[token.Span.Start:token.Span.End]
			if stroke := strings.IndexByte(text, '/'); token.Class == grammar.Path && 0 < stroke {
				locate(grammar.Span{Start: token.Span.Start, End: token.Span.Start + stroke})
				locate(grammar.Span{Start: token.Span.Start + stroke + 1, End: token.Span.End})
			}
		}
	}
	var out *protocol.SelectionRange
	for _, s := range spans {
		out = &protocol.SelectionRange{Range: snap.rangeOf(s.Start, s.End), Parent: out}
	}
	return out
}

// links are the names of files in a document that are there.
func (s *session) links(_ context.Context, snap snapshot, _ *protocol.DocumentLinkParams) (any, error) {
	out := []protocol.DocumentLink{}
	for _, b := range snap.tree().Blocks {
		if s.client.explains() {
			for line := range b.Lines {
				out = append(out, snap.ruleLinks(b, line)...)
			}
		}
		for line, stmt := range b.Entries() {
			name := fileOf(stmt)
			if name == nil || snap.root == "" {
				continue
			}
			target, ok := snap.fileAddress(name.Text())
			if !ok {
				continue
			}
			span := name.Where() // without the quotes
			at := snap.rangeOfRef(b.Ref(line, grammar.Span{Start: span.Start + 1, End: span.End - 1}))
			out = append(out, protocol.DocumentLink{Range: at, Target: &target})
		}
	}
	return out, nil
}

// fileOf is the file that a line names; nil where it names none.
func fileOf(stmt grammar.Statement) *grammar.FileName {
	switch line := stmt.(type) {
	case *grammar.RigEntryLine:
		return line.File
	case *grammar.FromLine:
		return line.File
	case *grammar.LeavesLine:
		return line.File
	case *grammar.RejoinsLine:
		return line.File
	case *grammar.ModelLine:
		return &line.File
	}
	return nil
}

// fileAddress is the address of a file that the document names; false where it is neither open nor on disk. Links that
// lead out of the project are not followed.
func (snap snapshot) fileAddress(name string) (uri.URI, bool) {
	path, ok := linkedFile(snap.name, name)
	if !ok {
		return "", false
	}
	full := filepath.Join(snap.root, filepath.FromSlash(path))
	if d, ok := opened(snap.world.documents, full); ok {
		return d.spelling, true
	}
	root, err := os.OpenRoot(snap.root)
	if err != nil {
		return "", false
	}
	defer func() { _ = root.Close() }()
	_, err = root.Stat(filepath.FromSlash(path))
	return uri.File(full), err == nil
}
