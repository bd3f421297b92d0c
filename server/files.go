package server

import (
	"context"
	"path/filepath"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// watched are the files that change what a sheet means.
const watched = "**/*.motet"

// opened is the open document of a file.
func (w *world) opened(path string) (*document, bool) {
	d, ok := w.documents[uri.File(path)]
	return d, ok
}

// root is the folder of a file's project: the outermost of the client's folders around it, and otherwise the file's own
// folder. Nothing outside it is read for that file's sake. It is empty where there is no file.
func (w *world) root(path string) string {
	if path == "" {
		return ""
	}
	best := filepath.Dir(path)
	for _, root := range w.roots {
		if len(root) < len(best) && within(root, path) {
			best = root
		}
	}
	return best
}

// name is the path of a file from its project's root, with slashes.
func (w *world) name(path string) string {
	if path == "" {
		return "untitled.motet"
	}
	name, err := filepath.Rel(w.root(path), path)
	if err != nil {
		return filepath.Base(path)
	}
	return filepath.ToSlash(name)
}

// within tells whether path lies in folder, by name alone.
func within(folder, path string) bool {
	rest, err := filepath.Rel(folder, path)
	return err == nil && filepath.IsLocal(rest)
}

// didChangeFiles reads again what changed on disk and is not open, and checks what uses it.
func (s *session) didChangeFiles(req *jsonrpc2.Request) error {
	var params protocol.DidChangeWatchedFilesParams
	if err := decode(req, &params); err != nil {
		return err
	}
	var changed []string
	for _, event := range params.Changes {
		path := pathOf(event.URI)
		if _, open := s.world.opened(path); path != "" && !open {
			s.world.disk.forget(path)
			changed = append(changed, path)
		}
	}
	s.changeWorld(func(*world) {}, "", changed...)
	if s.client.pulls && s.client.refreshes && 0 < len(changed) {
		s.start("asking for a refresh of diagnostics", func(ctx context.Context) {
			s.ask(ctx, protocol.MethodWorkspaceDiagnosticRefresh, nil)
		})
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
