package server

import (
	"context"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// hover tells what stands under the cursor, and what it does to the motion.
func (s *session) hover(_ context.Context, snap snapshot, params *protocol.HoverParams) (any, error) {
	tree := snap.tree()
	at := refAt(tree, snap.offsetOf(params.Position))
	if at.IsZero() {
		return nil, nil
	}
	m := snap.motionAbout
	if s.client.wishes.HoverPictures {
		m = func(*grammar.Block, int) *motion.Motion { return snap.motion() } // the whole figure is seen
	}
	subject, found := cardAt(m(at.Block, at.Line), at.Block, at.Line, at.Span.Start)
	if !found {
		return nil, nil
	}
	place := snap.rangeOfRef(at.Block.Ref(at.Line, subject.span))
	contents := &protocol.MarkupContent{Kind: protocol.MarkupKindPlainText, Value: subject.plain()}
	if s.client.markdown {
		contents = &protocol.MarkupContent{Kind: protocol.MarkupKindMarkdown, Value: subject.markdown()}
		if s.client.wishes.HoverPictures {
			contents.Value = subject.withPictures(subject.drawings())
		}
	}
	return &protocol.Hover{Contents: contents, Range: &place}, nil
}

// refAt is the place of a tree at a byte of its text; a text without any line has none.
func refAt(tree *grammar.File, offset int) grammar.Ref {
	if len(tree.Blocks) == 0 || len(tree.Blocks[0].Lines) == 0 {
		return grammar.Ref{}
	}
	return tree.RefAt(offset)
}

// tokenAt is the atom or string of a line at a column, in bytes. The cursor behind an atom is still at it.
func tokenAt(line string, column int) (grammar.Token, bool) {
	var found grammar.Token
	for _, t := range grammar.Tokens(line) {
		if t.Class != grammar.Space && t.Class != grammar.Comment && t.Span.Contains(column) {
			found = t
		}
	}
	return found, found.Span.Len() != 0
}
