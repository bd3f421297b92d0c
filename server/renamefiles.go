package server

import (
	"context"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// Sheets name their rig, their base, the idles that they leave and a rig its model by file. Before an editor renames or
// moves such files, or folders of them, it asks what else has to change, so that all these names go on meaning the same.

// renamedFilesOptions are the files that the server wants to be asked about: those that sheets name, and folders that hold some.
func renamedFilesOptions() protocol.FileOperationRegistrationOptions {
	file, folder := protocol.FileOperationPatternKindFile, protocol.FileOperationPatternKindFolder
	scheme := "file"
	return protocol.FileOperationRegistrationOptions{Filters: []protocol.FileOperationFilter{
		{Scheme: &scheme, Pattern: protocol.FileOperationPattern{Glob: "**/*.{motet,glb,gltf}", Matches: file}},
		{Scheme: &scheme, Pattern: protocol.FileOperationPattern{Glob: "**", Matches: folder}},
	}}
}

// moves are files and folders that get other paths, all at once.
type moves map[string]string

// of is where a file lies after the moves; the innermost folder that moves counts.
func (m moves) of(file string) string {
	for above := file; ; above = filepath.Dir(above) {
		if to, ok := m[above]; ok {
			return to + file[len(above):]
		}
		if above == filepath.Dir(above) {
			return file
		}
	}
}

// willRenameFiles prepares the edits that a renaming of files needs.
func (s *session) willRenameFiles(req *jsonrpc2.Request) (work, error) {
	// The protocol package has these addresses as plain text; as addresses they come in one spelling.
	var params struct {
		Files []struct {
			Old uri.URI `json:"oldUri"`
			New uri.URI `json:"newUri"`
		} `json:"files"`
	}
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	w, moved, roots := s.now(), moves{}, []string{}
	for _, f := range params.Files {
		from, to := pathOf(f.Old), pathOf(f.New)
		if from == "" || to == "" || from == to {
			continue
		}
		moved[from] = to
		roots = append(roots, projectRoot(from, w.folders))
	}
	slices.Sort(roots)
	return func(ctx context.Context) (any, error) {
		changes := map[uri.URI][]protocol.TextEdit{}
		for _, root := range slices.Compact(roots) {
			h := home{w: w, root: root, units: s.client.units}
			look := newLookout(&document{root: root}, w)
			for _, name := range w.sheetsOf(root) {
				if ctx.Err() != nil {
					return nil, ctx.Err()
				}
				tree, err := look.tree(name)
				if err != nil {
					continue
				}
				if edits := renamedLinks(tree, root, moved); 0 < len(edits) {
					address, text := h.addressOf(tree)
					changes[address] = text.textEdits(edits)
				}
			}
		}
		if len(changes) == 0 {
			return nil, nil
		}
		return s.workspaceEdit(snapshot{world: w}, changes), nil
	}, nil
}

// renamedLinks are the edits of a sheet after which it names the same files as before, each where it then lies. A file
// that would lie outside the project has no name there, and keeps its old one for a report to tell of.
func renamedLinks(f *grammar.File, root string, moved moves) []grammar.Edit {
	full := func(name string) string { return filepath.Join(root, filepath.FromSlash(name)) }
	own := moved.of(full(f.Path))
	var out []grammar.Edit
	for _, b := range f.Blocks {
		for line, stmt := range b.Entries() {
			name := fileOf(stmt)
			if name == nil {
				continue
			}
			target, ok := linkedFile(f.Path, name.Text())
			if !ok {
				continue
			}
			to := moved.of(full(target))
			if full(path.Join(nameIn(root, filepath.Dir(own)), name.Text())) == to || !within(root, own) || !within(root, to) {
				continue
			}
			text := nameIn(filepath.Dir(own), to)
			if strings.ContainsAny(text, "\"\\\r\n") {
				continue // no name in quotes can say that
			}
			span := name.Where()
			at, _ := f.Locate(b.Ref(line, grammar.Span{Start: span.Start + 1, End: span.End - 1}))
			out = append(out, grammar.Edit{Span: at, Text: text})
		}
	}
	return out
}
