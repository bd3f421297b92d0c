package server

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// A client that asks for the diagnostics of the whole workspace gets those of every open document and of every sheet in its
// folders. It asks again every few seconds, so what was found for a file that is not open is kept, together with the trees
// that it rests on: while those are the same, so is what was found.

// closedSheets keeps what was found for files that are not open, by path. It is safe for use by several goroutines.
type closedSheets struct {
	mu    sync.Mutex
	known map[string]snapshot
}

func (s *session) prepareWorkspacePull(req *jsonrpc2.Request) (work, error) {
	params := new(protocol.WorkspaceDiagnosticParams)
	if err := decode(req, params); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	w := s.world
	return func(ctx context.Context) (any, error) { return s.pullWorkspace(ctx, w, params) }, nil
}

func (s *session) pullWorkspace(ctx context.Context, w *world, params *protocol.WorkspaceDiagnosticParams) (any, error) {
	before := map[uri.URI]string{}
	for _, known := range params.PreviousResultIds {
		before[known.URI] = known.Value
	}
	report := &protocol.WorkspaceDiagnosticReport{Items: []protocol.WorkspaceDocumentDiagnosticReport{}}
	add := func(snap snapshot, version *int32) error {
		found, err := s.diagnostics(ctx, snap)
		if err != nil {
			return err
		}
		id, err := digest(found)
		if err != nil {
			return err
		}
		if previous, ok := before[snap.key]; ok && previous == id {
			report.Items = append(report.Items, &protocol.WorkspaceUnchangedDocumentDiagnosticReport{
				URI: snap.spelling, Version: version,
				UnchangedDocumentDiagnosticReport: protocol.UnchangedDocumentDiagnosticReport{Kind: "unchanged", ResultID: id},
			})
			return nil
		}
		report.Items = append(report.Items, &protocol.WorkspaceFullDocumentDiagnosticReport{
			URI: snap.spelling, Version: version,
			FullDocumentDiagnosticReport: protocol.FullDocumentDiagnosticReport{Kind: "full", ResultID: &id, Items: found},
		})
		return nil
	}
	for _, key := range slices.Sorted(maps.Keys(w.documents)) {
		d := w.documents[key]
		if err := add(snapshot{d, w.readings[key], w}, &d.version); err != nil {
			return nil, err
		}
	}
	for _, path := range sheetFiles(w.folders) {
		if _, open := opened(w.documents, path); open {
			continue
		}
		if snap, ok := s.closed.at(path, w, s.client.units); ok {
			if err := add(snap, nil); err != nil {
				return nil, err
			}
		}
	}
	return report, nil
}

// sheetFiles are the sheets and rigs in some folders and below them, in the order of their paths.
func sheetFiles(folders []string) []string {
	var paths []string
	for _, folder := range folders {
		for _, name := range sheetsBelow(os.DirFS(folder)) {
			paths = append(paths, filepath.Join(folder, filepath.FromSlash(name)))
		}
	}
	slices.Sort(paths)
	return slices.Compact(paths)
}

// at is a file that is not open, as if it were, and false where it can't be read.
func (c *closedSheets) at(path string, w *world, u units) (snapshot, bool) {
	key := uri.File(path)
	d := &document{key: key, spelling: key, path: path}
	d.settle(w.folders)
	tree, err := w.disk.Tree(d.root, d.name)
	if err != nil {
		return snapshot{}, false
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	known, ok := c.known[path]
	if ok && known.tree() == tree && known.root == d.root && known.look.holdsIn(newLookout(d, w)) {
		known.world = w // only to find open documents in
		return known, true
	}
	d.textMap = newTextMap(tree.Text, u)
	d.tree = func() *grammar.File { return tree }
	snap := snapshot{d, newReading(d, w, known.reading), w}
	if c.known == nil {
		c.known = map[string]snapshot{}
	}
	c.known[path] = snap
	return snap, true
}

// holdsIn tells whether another lookout shows the same for all that this one was asked for.
func (l *lookout) holdsIn(now *lookout) bool {
	l.mu.Lock()
	trees, lists := maps.Clone(l.trees), maps.Clone(l.lists)
	l.mu.Unlock()
	for path, was := range trees {
		if tree, _ := now.tree(path); tree != was {
			return false
		}
	}
	for folder, was := range lists {
		if !slices.Equal(slices.Sorted(slices.Values(now.list(folder))), was) {
			return false
		}
	}
	return true
}
