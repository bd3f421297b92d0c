package server

import (
	"context"
	"encoding/json"
	"path/filepath"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// home is a file of a project and all that it stands among, whether it is open or not.
type home struct {
	w     *world
	root  string
	units units
	kin   *kin // the file first
}

// homeOf is the home of the file at an address; false where it is no file that can be read.
func (w *world) homeOf(address uri.URI, units units) (home, bool) {
	path := pathOf(address)
	if path == "" {
		return home{}, false
	}
	h := home{w: w, root: projectRoot(path, w.folders), units: units, kin: &kin{}}
	look := newLookout(&document{root: h.root}, w)
	own := nameIn(h.root, path)
	for _, name := range append([]string{own}, w.sheetsOf(h.root)...) {
		if name == own && 0 < len(h.kin.files) {
			continue
		}
		if tree, err := look.tree(name); err == nil {
			h.kin.files = append(h.kin.files, tree)
		}
	}
	h.kin.connect()
	return h, 0 < len(h.kin.files) && h.kin.files[0].Path == own
}

func (h *home) file() *grammar.File { return h.kin.files[0] }

// addressOf is the address of a file of the project, in the client's spelling where it is open, and its text.
func (h *home) addressOf(f *grammar.File) (uri.URI, textMap) {
	full := filepath.Join(h.root, filepath.FromSlash(f.Path))
	if d, ok := opened(h.w.documents, full); ok {
		return d.spelling, d.textMap
	}
	return uri.File(full), newTextMap(f.Text, h.units)
}

// hierarchyPlace is a name in a file, and the block that it stands in.
type hierarchyPlace struct {
	address         uri.URI
	block, selected protocol.Range
}

func (h *home) place(f *grammar.File, at grammar.Ref) hierarchyPlace {
	address, text := h.addressOf(f)
	span, _ := f.Locate(at)
	p := hierarchyPlace{address: address, selected: text.rangeOf(span.Start, span.End)}
	p.block = p.selected
	if s, ok := symbolOf(f, at.Block); ok {
		p.block = text.rangeOf(s.span.Start, s.span.End)
	}
	return p
}

// ---- bases and variants

// prepareTypes finds the sheet that is asked about: the one whose name stands at the cursor.
func (s *session) prepareTypes(_ context.Context, snap snapshot, params *protocol.TypeHierarchyPrepareParams) (any, error) {
	about, ok := mentionAt(snap.tree(), snap.offsetOf(params.Position))
	if !ok || about.kind != sheetName {
		return nil, nil
	}
	h, ok := snap.world.homeOf(snap.key, snap.units)
	if !ok {
		return nil, nil
	}
	if item, ok := h.typeItem(h.kin.target(h.file(), about.file)); ok {
		return []protocol.TypeHierarchyItem{item}, nil
	}
	return nil, nil
}

// typeItem is a file's sheet as an item of the hierarchy.
func (h *home) typeItem(f *grammar.File) (protocol.TypeHierarchyItem, bool) {
	if f == nil {
		return protocol.TypeHierarchyItem{}, false
	}
	b := f.First(grammar.SheetBlock)
	if b == nil {
		return protocol.TypeHierarchyItem{}, false
	}
	opener, ok := b.Opener.(*grammar.SheetLine)
	if !ok {
		return protocol.TypeHierarchyItem{}, false
	}
	p := h.place(f, b.Ref(b.Open, opener.Name.Where()))
	return protocol.TypeHierarchyItem{
		Name: opener.Name.Text, Kind: protocol.SymbolKindClass, Detail: &f.Path, URI: p.address, Range: p.block, SelectionRange: p.selected,
	}, true
}

// types prepares the bases of a sheet, or its variants.
func (s *session) types(item *protocol.TypeHierarchyItem, variants bool) work {
	w := s.now()
	address, units := item.URI, s.client.units
	return func(context.Context) (any, error) {
		h, ok := w.homeOf(address, units)
		if !ok {
			return nil, nil
		}
		out := []protocol.TypeHierarchyItem{}
		for _, link := range h.kin.links {
			other := link.to
			if variants {
				other = link.from
			}
			if link.rig || variants && link.to != h.file() || !variants && link.from != h.file() {
				continue
			}
			if item, ok := h.typeItem(other); ok {
				out = append(out, item)
			}
		}
		return out, nil
	}
}

func (s *session) supertypes(req *jsonrpc2.Request) (work, error) {
	var params protocol.TypeHierarchySupertypesParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	return s.types(&params.Item, false), nil
}

func (s *session) subtypes(req *jsonrpc2.Request) (work, error) {
	var params protocol.TypeHierarchySubtypesParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	return s.types(&params.Item, true), nil
}

// ---- leaders and followers

// callData says of which sheet a control's followers are asked, since a base's follows hold for its variants too.
type callData struct {
	Sheet string `json:"sheet"`
}

// prepareCalls finds the controls that are asked about; a pattern stands for all that it covers.
func (s *session) prepareCalls(_ context.Context, snap snapshot, params *protocol.CallHierarchyPrepareParams) (any, error) {
	about, ok := mentionAt(snap.tree(), snap.offsetOf(params.Position))
	if !ok || about.kind != bodyName {
		return nil, nil
	}
	h, ok := snap.world.homeOf(snap.key, snap.units)
	if !ok {
		return nil, nil
	}
	var out []protocol.CallHierarchyItem
	for _, control := range snap.sight().controls() {
		if about.means(control) {
			out = append(out, callItem(control, h.place(h.file(), about.at), snap.key))
		}
	}
	if len(out) == 0 {
		return nil, nil
	}
	return out, nil
}

func callItem(control string, p hierarchyPlace, sheet uri.URI) protocol.CallHierarchyItem {
	item := protocol.CallHierarchyItem{
		Name: control, Kind: protocol.SymbolKindVariable, URI: p.address, Range: p.block, SelectionRange: p.selected,
	}
	if data, err := json.Marshal(callData{string(sheet)}); err == nil {
		item.Data = data
	}
	return item
}

// followsOf calls yield for every follow that holds for a sheet, those of its bases too.
func (h *home) followsOf(yield func(f *grammar.File, b *grammar.Block, line *grammar.FollowLine)) *sight {
	look := newLookout(&document{root: h.root}, h.w)
	sight := sightOf(h.file(), look)
	for _, f := range append([]*grammar.File{sight.own}, sight.bases...) {
		for _, b := range f.Blocks {
			if line, ok := b.Opener.(*grammar.FollowLine); ok {
				yield(f, b, line)
			}
		}
	}
	return sight
}

// calls prepares what leads a control, or what follows it: a leader calls its followers.
func (s *session) calls(item protocol.CallHierarchyItem, followers bool) (work, error) {
	var data callData
	if err := json.Unmarshal(item.Data, &data); err != nil {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "the item `%s` has lost its data", item.Name)
	}
	sheet, control := uri.URI(data.Sheet), grammar.NameKey(item.Name)
	w := s.now()
	units := s.client.units
	at := item.SelectionRange
	address := item.URI
	return func(context.Context) (any, error) {
		h, ok := w.homeOf(sheet, units)
		if !ok {
			return nil, nil
		}
		if followers {
			return h.outgoing(control, sheet, address, at), nil
		}
		return h.incoming(control, sheet), nil
	}, nil
}

func (h *home) incoming(control string, sheet uri.URI) []protocol.CallHierarchyIncomingCall {
	out := []protocol.CallHierarchyIncomingCall{}
	h.followsOf(func(f *grammar.File, b *grammar.Block, line *grammar.FollowLine) {
		if !line.Followers.Match(control) {
			return
		}
		leader := h.place(f, b.Ref(b.Open, line.Leader.Where()))
		here := h.place(f, b.Ref(b.Open, line.Followers.Where()))
		out = append(out, protocol.CallHierarchyIncomingCall{
			From: callItem(line.Leader.Key(), leader, sheet), FromRanges: []protocol.Range{here.selected},
		})
	})
	return out
}

// outgoing are the followers of a control. The places of the calls lie in the file of the item that was asked about.
func (h *home) outgoing(control string, sheet, address uri.URI, at protocol.Range) []protocol.CallHierarchyOutgoingCall {
	out := []protocol.CallHierarchyOutgoingCall{}
	var lines []func(controls []string)
	sight := h.followsOf(func(f *grammar.File, b *grammar.Block, line *grammar.FollowLine) {
		if line.Leader.Key() != control {
			return
		}
		follower := h.place(f, b.Ref(b.Open, line.Followers.Where()))
		called := at
		if leader := h.place(f, b.Ref(b.Open, line.Leader.Where())); leader.address == address {
			called = leader.selected
		}
		lines = append(lines, func(controls []string) {
			for _, c := range controls {
				if line.Followers.Match(c) {
					out = append(out, protocol.CallHierarchyOutgoingCall{To: callItem(c, follower, sheet), FromRanges: []protocol.Range{called}})
				}
			}
		})
	})
	controls := slices.Clone(sight.controls())
	for _, line := range lines {
		line(controls)
	}
	return out
}

func (s *session) incomingCalls(req *jsonrpc2.Request) (work, error) {
	var params protocol.CallHierarchyIncomingCallsParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	return s.calls(params.Item, false)
}

func (s *session) outgoingCalls(req *jsonrpc2.Request) (work, error) {
	var params protocol.CallHierarchyOutgoingCallsParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	return s.calls(params.Item, true)
}
