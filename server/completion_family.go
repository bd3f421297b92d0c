package server

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// memberPatterns are the ways to name the members of a family that are offered; the first one is the usual one.
var memberPatterns = []string{"{who}-{clip}", "{clip}-{who}"}

// familyStrings are what a string of a family's line may say, in quotes.
func (a *asking) familyStrings(word string) []candidate {
	closing := `"`
	if strings.HasPrefix(a.line[a.column:], `"`) && a.partial.Len() != 0 {
		closing = ""
	}
	var out []candidate
	add := func(text, detail string, kind protocol.CompletionItemKind) {
		out = append(out, candidate{label: `"` + text + `"`, plain: `"` + text + closing, detail: detail, kind: kind})
	}
	switch word {
	case "members":
		for _, folder := range a.sheetFolders() {
			add(path.Join(a.relative(folder.path), "*"+sheetSuffix), several(grammar.Whole(int64(folder.files)), "file"), protocol.CompletionItemKindFile)
		}
	case "name":
		names := a.memberNames()
		for _, pattern := range memberPatterns {
			fits := 0
			for _, name := range names {
				if len(splits(pattern, name)) != 0 {
					fits++
				}
			}
			add(pattern, fmt.Sprintf("fits %d of %d members", fits, len(names)), protocol.CompletionItemKindValue)
		}
	}
	return out
}

// sheetFolder is a folder with sheets or rigs in it.
type sheetFolder struct {
	path  string // from the project's root
	files int
}

// sheetFolders are the folders of the project that have sheets, the document's own first.
func (a *asking) sheetFolders() []sheetFolder {
	own := path.Dir(a.snap.name)
	out := []sheetFolder{{path: own}}
	for _, name := range a.snap.project() {
		if name == a.snap.name {
			continue
		}
		at := slices.IndexFunc(out, func(f sheetFolder) bool { return f.path == path.Dir(name) })
		if at < 0 {
			out, at = append(out, sheetFolder{path: path.Dir(name)}), len(out)
		}
		out[at].files++
	}
	return out
}

// clips are the clips that the names of a family's members tell of, those of most members first.
func (a *asking) clips() []candidate {
	pattern := memberPatterns[0]
	for _, stmt := range a.block.Entries() {
		if line, ok := stmt.(*grammar.PatternLine); ok {
			pattern = grammar.NameKey(line.Pattern.Text())
		}
	}
	names := a.memberNames()
	count := map[string]int{}
	var order []string
	for _, name := range names {
		for _, clip := range splits(pattern, name) {
			if count[clip]++; count[clip] == 1 {
				order = append(order, clip)
			}
		}
	}
	slices.SortStableFunc(order, func(x, y string) int { return count[y] - count[x] })
	var out []candidate
	for _, clip := range order {
		written := func(t grammar.Token) bool { return grammar.NameKey(a.line[t.Span.Start:t.Span.End]) == clip }
		if !slices.ContainsFunc(a.atoms, written) {
			out = append(out, candidate{
				label: clip, kind: protocol.CompletionItemKindEnumMember, detail: fmt.Sprintf("%d of %d members", count[clip], len(names)),
			})
		}
	}
	return out
}

// memberNames are the names of the sheets that the family's `members` line means, in the order of their files; those of
// its own folder while there is no such line.
func (a *asking) memberNames() []string {
	folder := path.Dir(a.snap.name)
	pattern := path.Join(folder, "*"+sheetSuffix)
	for _, stmt := range a.block.Entries() {
		if line, ok := stmt.(*grammar.MembersLine); ok {
			pattern = path.Join(folder, line.Files.Text())
		}
	}
	var out []string
	look := newLookout(a.snap.document, a.snap.world)
	for _, file := range a.snap.project() {
		if fits, err := path.Match(pattern, file); err != nil || !fits {
			continue
		}
		if tree, err := look.tree(file); err == nil && tree.First(grammar.SheetBlock) != nil {
			for _, m := range blockMentions(nil, tree.First(grammar.SheetBlock)) {
				if m.declares && m.kind == sheetName {
					out = append(out, m.key)
				}
			}
		}
	}
	return out
}

// splits are all that can stand for {clip} where a name is read by a pattern with {who} and {clip} in it: what lies
// between the two may be in the name more than once.
func splits(pattern, name string) []string {
	first, second := "{who}", "{clip}"
	if strings.Index(pattern, second) < strings.Index(pattern, first) {
		first, second = second, first
	}
	before, rest, ok := strings.Cut(pattern, first)
	between, after, both := strings.Cut(rest, second)
	if !ok || !both || between == "" || len(name) < len(before)+len(after) || !strings.HasPrefix(name, before) || !strings.HasSuffix(name, after) {
		return nil
	}
	name = name[len(before) : len(name)-len(after)]
	var out []string
	for i := 1; i+len(between) < len(name); i++ {
		switch {
		case !strings.HasPrefix(name[i:], between):
		case first == "{clip}":
			out = append(out, name[:i])
		default:
			out = append(out, name[i+len(between):])
		}
	}
	return out
}
