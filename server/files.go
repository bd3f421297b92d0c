package server

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// largestFile is the most that is read of a file that a sheet names: what a person writes by hand is a hundredth of it.
const largestFile = 16 << 20

// watched are the files that change what a sheet means.
const watched = "**/*.motet"

// opened is the open document of a file.
func (w *world) opened(path string) (*document, bool) {
	d, ok := w.documents[uri.File(path)]
	return d, ok
}

// root is the folder that a file's project lies in: the innermost of the client's folders around it, and otherwise the
// file's own folder. Nothing outside it is read for that file's sake.
func (w *world) root(path string) string {
	best := ""
	for _, root := range w.roots {
		if within(root, path) && len(best) < len(root) {
			best = root
		}
	}
	if best == "" {
		return filepath.Dir(path)
	}
	return best
}

// within tells whether path lies in folder, by name alone.
func within(folder, path string) bool {
	rest, err := filepath.Rel(folder, path)
	return err == nil && filepath.IsLocal(rest)
}

// didChangeFiles checks again what read a file that changed on disk.
func (s *session) didChangeFiles(req *jsonrpc2.Request) error {
	var params protocol.DidChangeWatchedFilesParams
	if err := decode(req, &params); err != nil {
		return err
	}
	s.changeWorld(func(w *world) { w.disk++ })
	if s.client.pulls && s.client.refreshes {
		s.start("asking for a refresh of diagnostics", func(ctx context.Context) {
			s.ask(ctx, protocol.MethodWorkspaceDiagnosticRefresh, nil)
		})
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, event := range params.Changes {
		path := pathOf(event.URI)
		if _, open := s.world.opened(path); path != "" && !open {
			s.enqueue(path)
		}
	}
	return nil
}

// watchFiles asks the client to tell when sheets and rigs change on disk.
func (s *session) watchFiles(ctx context.Context) {
	options, err := protocol.Marshal(&protocol.DidChangeWatchedFilesRegistrationOptions{
		Watchers: []protocol.FileSystemWatcher{{GlobPattern: protocol.Pattern(watched)}},
	})
	if err != nil {
		s.log.Print(err)
		return
	}
	s.ask(ctx, protocol.MethodClientRegisterCapability, &protocol.RegistrationParams{
		Registrations: []protocol.Registration{{
			ID: "files", Method: protocol.MethodWorkspaceDidChangeWatchedFiles, RegisterOptions: options,
		}},
	})
}

var _ = os.ReadFile
var _ = strings.Clone
