package server

import (
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// fileNames are the files that a line may name: a rig's line those with a rig, the others those with a sheet, and first of
// all the one with what the line names; behind `model` those of characters.
func (a *asking) fileNames() []candidate {
	n := len(a.atoms)
	switch {
	case n == 0:
		return nil
	case a.atom(0) == "model" && a.block != nil && a.block.Kind == grammar.RigBlock:
		return a.quoted(a.models())
	case a.atom(n-1) != "in":
		return nil
	}
	kind := grammar.SheetBlock
	if a.atom(0) == "rig" {
		kind = grammar.RigBlock
	}
	look := newLookout(a.snap.document, a.snap.world)
	var first, names []string
	for _, file := range a.snap.project() {
		tree, err := look.tree(file)
		if file == a.snap.name || err != nil {
			continue
		}
		b := tree.First(kind)
		if b == nil {
			continue
		}
		if own := blockMentions(nil, b); 1 < n && 0 < len(own) && own[0].declares && own[0].key == grammar.NameKey(a.atom(1)) {
			first = append(first, a.relative(file))
		} else {
			names = append(names, a.relative(file))
		}
	}
	return a.quoted(append(first, names...))
}

// quoted offers names of files in quotes.
func (a *asking) quoted(names []string) []candidate {
	closing := `"`
	if a.partial.Len() != 0 && strings.HasPrefix(a.line[a.column:], `"`) {
		closing = ""
	}
	var out []candidate
	for _, name := range names {
		out = append(out, candidate{label: `"` + name + `"`, plain: `"` + name + closing, kind: protocol.CompletionItemKindFile})
	}
	return out
}

// models are the characters' files beside the document's own and below, as it names them.
func (a *asking) models() []string {
	if a.snap.root == "" {
		return nil
	}
	root, err := os.OpenRoot(filepath.Dir(a.snap.path))
	if err != nil {
		return nil
	}
	defer func() { _ = root.Close() }()
	names := filesBelow(root.FS(), func(name string) bool {
		return slices.Contains([]string{".glb", ".gltf"}, strings.ToLower(path.Ext(name)))
	})
	slices.Sort(names)
	return names
}
