package server

import (
	"context"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// symbolKinds are the protocol's kinds that come nearest to what blocks are.
var symbolKinds = map[grammar.BlockKind]protocol.SymbolKind{
	grammar.SheetBlock: protocol.SymbolKindClass, grammar.RigBlock: protocol.SymbolKindModule, grammar.FamilyBlock: protocol.SymbolKindNamespace,
	grammar.PoseBlock: protocol.SymbolKindConstant, grammar.TrackBlock: protocol.SymbolKindFunction, grammar.AmendBlock: protocol.SymbolKindFunction,
	grammar.BlockingBlock: protocol.SymbolKindFunction, grammar.FollowBlock: protocol.SymbolKindEvent, grammar.LayerBlock: protocol.SymbolKindInterface,
	grammar.QuiverBlock: protocol.SymbolKindEvent, grammar.BreathBlock: protocol.SymbolKindEvent, grammar.JointsBlock: protocol.SymbolKindStruct,
	grammar.ChannelsBlock: protocol.SymbolKindStruct, grammar.ChainsBlock: protocol.SymbolKindStruct, grammar.PairsBlock: protocol.SymbolKindStruct,
}

// symbol is a block as an outline shows it.
type symbol struct {
	block    *grammar.Block
	name     string
	kind     protocol.SymbolKind
	span     grammar.Span // of the file, from the comments above to the last line
	selected grammar.Span
	columns  []symbol // of a track, its channels
	children []symbol
}

// outline lists a file's blocks; those behind the opening line of a sheet or a rig belong to it, since a file holds one
// of each.
func outline(f *grammar.File) []symbol {
	var out []symbol
	owner := -1
	for _, b := range f.Blocks {
		s, ok := symbolOf(f, b)
		if !ok {
			continue
		}
		switch {
		case b.Kind == grammar.SheetBlock || b.Kind == grammar.RigBlock:
			out = append(out, s)
			owner = len(out) - 1
		case owner < 0 || b.Kind == grammar.FamilyBlock:
			out = append(out, s)
		default:
			out[owner].children = append(out[owner].children, s)
			out[owner].span.End = max(out[owner].span.End, s.span.End)
		}
	}
	return out
}

func symbolOf(f *grammar.File, b *grammar.Block) (symbol, bool) {
	if b.Open < 0 || len(b.Lines) == 0 {
		return symbol{}, false
	}
	content := b.RefLine(b.Open)
	last := lastLine(b)
	start, ok := f.Locate(b.Ref(0, grammar.Span{}))
	end, _ := f.Locate(b.Ref(last, grammar.Span{End: len(b.Lines[last].Text)}))
	selected, _ := f.Locate(content)
	if !ok {
		return symbol{}, false
	}
	s := symbol{
		block: b, name: strings.Join(strings.Fields(content.Text()), " "), kind: protocol.SymbolKindObject,
		span: grammar.Span{Start: start.Start, End: end.End}, selected: selected,
	}
	if kind, ok := symbolKinds[b.Kind]; ok {
		s.kind = kind
	}
	if _, _, channels := trackOf(b); channels {
		for i := range b.Columns {
			if c := &b.Columns[i]; c.Kind == grammar.ValueColumn {
				at, _ := f.Locate(b.Ref(b.Header, c.Span))
				s.columns = append(s.columns, symbol{name: c.Name, kind: protocol.SymbolKindField, span: at, selected: at})
			}
		}
	}
	return s, s.name != ""
}

// lastLine is the last line of a block that is not blank.
func lastLine(b *grammar.Block) int {
	last := len(b.Lines) - 1
	for b.Open < last && b.Lines[last].Kind == grammar.BlankLine {
		last--
	}
	return max(last, 0)
}

// documentSymbols is the outline of a document, as a tree where the client takes one.
func (s *session) documentSymbols(_ context.Context, snap snapshot, _ *protocol.DocumentSymbolParams) (any, error) {
	all := outline(snap.tree())
	if s.client.symbolTrees {
		return s.symbolTree(snap, all), nil
	}
	out := protocol.SymbolInformationSlice{}
	var add func(all []symbol, container string)
	add = func(all []symbol, container string) {
		for _, one := range all {
			info := protocol.SymbolInformation{Location: protocol.Location{URI: snap.spelling, Range: snap.rangeOf(one.span.Start, one.span.End)}}
			info.Name, info.Kind = one.name, s.client.symbolKind(one.kind)
			if container != "" {
				info.ContainerName = &container
			}
			out = append(out, info)
			add(one.columns, one.name)
			add(one.children, one.name)
		}
	}
	add(all, "")
	return out, nil
}

func (s *session) symbolTree(snap snapshot, all []symbol) protocol.DocumentSymbolSlice {
	out := protocol.DocumentSymbolSlice{}
	for _, one := range all {
		out = append(out, protocol.DocumentSymbol{
			Name: one.name, Kind: s.client.symbolKind(one.kind), Range: snap.rangeOf(one.span.Start, one.span.End),
			SelectionRange: snap.rangeOf(one.selected.Start, one.selected.End),
			Children:       s.symbolTree(snap, slices.Concat(one.columns, one.children)),
		})
	}
	return out
}

// workspaceSymbols prepares a search for names in all projects that the client has open. The text asked for may leave
// out letters, but not change their order.
func (s *session) workspaceSymbols(req *jsonrpc2.Request) (work, error) {
	var params protocol.WorkspaceSymbolParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	query := strings.ToLower(strings.Clone(params.Query))
	w := s.now()
	return func(ctx context.Context) (any, error) {
		out := protocol.SymbolInformationSlice{}
		for _, root := range w.roots() {
			look := newLookout(&document{root: root}, w)
			for _, path := range w.sheetsOf(root) {
				if ctx.Err() != nil {
					return nil, ctx.Err()
				}
				if tree, err := look.tree(path); err == nil {
					out = append(out, declaredIn(w, root, tree, query, s.client)...)
				}
			}
		}
		return out, nil
	}, nil
}

// roots are the folders of the projects that are open, each once.
func (w *world) roots() []string {
	roots := slices.Clone(w.folders)
	for _, d := range w.documents {
		inside := slices.ContainsFunc(roots, func(root string) bool { return within(root, d.path) })
		if d.root != "" && !inside {
			roots = append(roots, d.root)
		}
	}
	slices.Sort(roots)
	return slices.Compact(roots)
}

// wanted are the names that people look for from anywhere, with the protocol's kind that comes nearest.
var wanted = map[nameKind]protocol.SymbolKind{
	sheetName: protocol.SymbolKindClass, rigName: protocol.SymbolKindModule, familyName: protocol.SymbolKindNamespace,
	poseName: protocol.SymbolKindConstant, layerName: protocol.SymbolKindInterface, quiverName: protocol.SymbolKindEvent,
	breathName: protocol.SymbolKindEvent, channelName: protocol.SymbolKindField, easeName: protocol.SymbolKindConstant,
}

func declaredIn(w *world, root string, tree *grammar.File, query string, c client) []protocol.SymbolInformation {
	var out []protocol.SymbolInformation
	full := filepath.Join(root, filepath.FromSlash(tree.Path))
	address, text := uri.File(full), textMap{}
	if d, ok := opened(w.documents, full); ok {
		address, text = d.spelling, d.textMap
	}
	for _, m := range mentions(tree) {
		kind, ok := wanted[m.kind]
		span, _ := tree.Locate(m.at)
		if !ok || !m.declares || !holds(strings.ToLower(m.key), query) {
			continue
		}
		if text.starts == nil {
			text = newTextMap(tree.Text, c.units)
		}
		info := protocol.SymbolInformation{Location: protocol.Location{URI: address, Range: text.rangeOf(span.Start, span.End)}}
		container := tree.Path
		info.Name, info.Kind, info.ContainerName = m.key, c.symbolKind(kind), &container
		out = append(out, info)
	}
	return out
}

// holds tells whether the letters of query stand in text in their order.
func holds(text, query string) bool {
	for _, r := range query {
		i := strings.IndexRune(text, r)
		if i < 0 {
			return false
		}
		text = text[i+len(string(r)):]
	}
	return true
}
