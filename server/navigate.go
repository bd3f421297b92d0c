package server

import (
	"cmp"
	"context"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// definition leads to where a name comes into being: of what the document can see the nearest, its own file before its
// bases and these before the rigs. A pattern leads to each name that it covers.
func (s *session) definition(_ context.Context, snap snapshot, params *protocol.DefinitionParams) (any, error) {
	offset := snap.offsetOf(params.Position)
	about, ok := mentionAt(snap.tree(), offset)
	if !ok {
		return snap.fileDefinition(offset), nil
	}
	out := protocol.LocationSlice{}
	for _, p := range snap.definitions(about) {
		out = append(out, snap.location(p))
	}
	return out, nil
}

// fileDefinition leads from the name of a file to what the line takes from it, or to the file's start; nil elsewhere.
func (snap snapshot) fileDefinition(offset int) any {
	at := refAt(snap.tree(), offset)
	if at.IsZero() {
		return nil
	}
	name := fileOf(at.Block.Lines[at.Line].Stmt)
	if name == nil || !name.Where().Contains(at.Span.Start) {
		return nil
	}
	for _, m := range blockMentions(nil, at.Block) {
		if m.at.Line == at.Line && m.file == name {
			for _, p := range snap.definitions(m) {
				return protocol.LocationSlice{snap.location(p)}
			}
		}
	}
	if address, ok := snap.fileAddress(name.Text()); ok && snap.root != "" {
		return protocol.LocationSlice{{URI: address}}
	}
	return nil
}

// definitions are the places where the names that a mention is about come into being, one for each name.
func (snap snapshot) definitions(about mention) []placed {
	if about.file != nil {
		look := newLookout(snap.document, snap.world)
		if f := look.linked(snap.tree(), about.file); f != nil {
			return definedIn([]*grammar.File{f}, about)
		}
		return nil
	}
	return definedIn(snap.sight().files(), about)
}

func definedIn(files []*grammar.File, about mention) []placed {
	var found []placed
	for _, f := range files {
		for _, m := range mentions(f) {
			if m.kind == about.kind && !m.covers && about.means(m.key) && (m.declares || m.kind == layerName || m.kind == morphName) {
				found = append(found, placed{m, f})
			}
		}
	}
	// The row that says what a channel is tells more about a control than the joint of its name, and a layer's block more
	// than its first use.
	slices.SortStableFunc(found, func(a, b placed) int { return cmp.Compare(a.worth(), b.worth()) })
	var out []placed
	for _, p := range found {
		if !slices.ContainsFunc(out, func(have placed) bool { return have.key == p.key }) {
			out = append(out, p)
		}
	}
	return out
}

func (p *placed) worth() int {
	switch {
	case p.declares && p.at.Block.Kind != grammar.JointsBlock:
		return 0
	case p.declares:
		return 1
	}
	return 2
}

func (snap snapshot) location(p placed) protocol.Location {
	address, text := snap.addressOf(p.in)
	span, _ := p.in.Locate(p.at)
	return protocol.Location{URI: address, Range: text.rangeOf(span.Start, span.End)}
}

// references are all places of the project that name the same thing, or cover it by a pattern.
func (s *session) references(ctx context.Context, snap snapshot, params *protocol.ReferenceParams) (any, error) {
	about, ok := mentionAt(snap.tree(), snap.offsetOf(params.Position))
	if !ok {
		return nil, nil
	}
	out := []protocol.Location{}
	for _, p := range snap.kin().same(snap.tree(), about) {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if !p.declares || params.Context.IncludeDeclaration {
			out = append(out, snap.location(p))
		}
	}
	return out, nil
}

// highlights are the places of the document itself that name the same thing.
func (s *session) highlights(_ context.Context, snap snapshot, params *protocol.DocumentHighlightParams) (any, error) {
	tree := snap.tree()
	about, ok := mentionAt(tree, snap.offsetOf(params.Position))
	if !ok {
		return nil, nil
	}
	out := []protocol.DocumentHighlight{}
	for _, m := range mentions(tree) {
		if m.kind != about.kind || !m.means(about.key) && !(about.covers && about.means(m.key)) {
			continue
		}
		kind := protocol.DocumentHighlightKindRead
		if m.declares {
			kind = protocol.DocumentHighlightKindWrite
		}
		out = append(out, protocol.DocumentHighlight{Range: snap.rangeOfRef(m.at), Kind: kind})
	}
	return out, nil
}
