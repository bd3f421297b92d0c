package server

import (
	"context"
	"os"
	"path/filepath"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"

	"github.com/motet-sheet/motet/lint/motion"
)

// sheetSuffix ends the names of the files that change what a sheet means.
const sheetSuffix = ".motet"

// opened is the open document of a file.
func opened(documents map[uri.URI]*document, path string) (*document, bool) {
	d, ok := documents[uri.File(path)]
	return d, ok
}

// ProjectRoot is the folder inside which the sheet of a file may name other files: the nearest one above it that is under
// version control, or else the outermost one with house rules. It is false where there is neither, and then each tool has
// a folder of its own to fall back on. The path is absolute.
func ProjectRoot(path string) (folder string, found bool) {
	for above := filepath.Dir(path); ; above = filepath.Dir(above) {
		if exists(filepath.Join(above, ".git")) {
			return above, true
		}
		if exists(filepath.Join(above, motion.HouseFile)) {
			folder, found = above, true
		}
		if above == filepath.Dir(above) {
			return folder, found
		}
	}
}

// projectRoot is the project's folder of a file in an editor: that of [ProjectRoot], or else the outermost of the client's
// folders around it, or else the file's own folder. Nothing outside is read for its sake.
func projectRoot(path string, folders []string) string {
	if root, found := ProjectRoot(path); found {
		return root
	}
	best := filepath.Dir(path)
	for _, folder := range folders {
		if len(folder) < len(best) && within(folder, path) {
			best = folder
		}
	}
	return best
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// untitled is the name of a document that is no file.
const untitled = "untitled.motet"

// nameIn is the path of a file from its project's root, with slashes.
func nameIn(root, path string) string {
	name, err := filepath.Rel(root, path)
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
	now := s.now()
	for _, event := range params.Changes {
		path := pathOf(event.URI)
		if _, open := opened(now.documents, path); path != "" && !open {
			now.disk.Forget(path)
			changed = append(changed, path, filepath.Dir(path))
		}
	}
	s.changeWorld(func(*world) {}, "", changed...)
	if 0 < len(changed) {
		s.refresh.outdate() // reports on sheets that are not open may be others too
	}
	return nil
}

// watchFiles asks the client to tell when sheets and rigs change on disk.
func (s *session) watchFiles(ctx context.Context) {
	options, err := protocol.Marshal(&protocol.DidChangeWatchedFilesRegistrationOptions{
		Watchers: []protocol.FileSystemWatcher{{GlobPattern: protocol.Pattern("**/*" + sheetSuffix)}},
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
