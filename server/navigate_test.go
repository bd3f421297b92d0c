package server

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/stretchr/testify/require"
)

var symbolTrees = m{"textDocument": m{"documentSymbol": m{"hierarchicalDocumentSymbolSupport": true}, "rename": m{"prepareSupport": true}}}

type location struct {
	URI   string
	Range stretch
}

// stands is a location as file:line text.
func stands(address func(string) string, texts map[string]string, l location) string {
	name := strings.TrimPrefix(l.URI, address("")+"/")
	line := strings.Split(texts[name], "\n")[l.Range.Start.Line]
	return fmt.Sprintf("%s:%d %s", name, l.Range.Start.Line+1, line[l.Range.Start.Character:l.Range.End.Character])
}

func TestDefinitionAndReferences(t *testing.T) {
	texts := map[string]string{
		"deckhand.motet": deckhandRig,
		"wait.motet":     completionSheet + "overlap\n  he*       2f\n\nfollow head after hips\n  nod       0.5 of side\n",
		"doze.motet":     "sheet doze\n  from      deckhand-wait in \"wait.motet\"\n\nchange\n  swap      on-left     slump\n\npose slump from on-left\n  head/nod          8\n",
		"other.motet":    "sheet other\n  rig       deckhand in \"deckhand.motet\"\n  cycle     2b\n\npose on-left\n  hips/side         1\n",
	}
	address := quay(t, texts)
	c := connect(t, counts("utf-8"), m{"rootUri": address("")})
	for name, text := range texts {
		c.open(address(name), text)
	}
	for _, row := range []struct{ name, file, at, definition, references string }{
		{
			"a pose in a variant", "doze.motet", "swap      ‸on-left", "wait.motet:7 on-left",
			"doze.motet:5 on-left, doze.motet:7 on-left, wait.motet:7 on-left",
		},
		{"a pose of another sheet is another", "other.motet", "pose ‸on-left", "other.motet:5 on-left", "other.motet:5 on-left"},
		{
			"a channel of a track", "wait.motet", "at      ‸side", "deckhand.motet:11 side",
			"deckhand.motet:11 side, other.motet:6 side, wait.motet:14 side, wait.motet:22 side, wait.motet:8 side",
		},
		{
			"a control", "wait.motet", "after ‸hips", "deckhand.motet:11 hips",
			"deckhand.motet:11 hips, deckhand.motet:6 hips, deckhand.motet:7 hips, other.motet:6 hips, wait.motet:13 hips, wait.motet:21 hips, wait.motet:8 hips",
		},
		{
			"a pattern", "wait.motet", "\n  ‸he*", "deckhand.motet:12 head",
			"deckhand.motet:12 head, deckhand.motet:7 head, doze.motet:8 head, wait.motet:19 he*, wait.motet:21 head",
		},
		{"the base", "doze.motet", "from      ‸deckhand", "wait.motet:1 deckhand-wait", "doze.motet:2 deckhand-wait, wait.motet:1 deckhand-wait"},
		{"the base's file", "doze.motet", "in \"‸wait.motet", "wait.motet:1 deckhand-wait", ""},
		{"the rig's file", "wait.motet", "in \"deck‸hand.motet", "deckhand.motet:1 deckhand", ""},
		{"a layer that only a track makes", "wait.motet", "in ‸sway", "wait.motet:13 sway", "wait.motet:13 sway"},
		{"no name", "wait.motet", "tempo     ‸80", "", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			before, after, _ := strings.Cut(row.at, "‸")
			_, line, character := cursor(t, strings.Replace(texts[row.file], before+after, row.at, 1))
			here := at(address(row.file), line, character)
			show := func(all []location) string {
				var out []string
				for _, l := range all {
					out = append(out, stands(address, texts, l))
				}
				slices.Sort(out)
				return strings.Join(out, ", ")
			}
			require.Equal(t, row.definition, show(parse[[]location](t, c.call("textDocument/definition", here))))
			require.Equal(t, row.references, show(parse[[]location](t, c.call("textDocument/references", with(here, "context", m{"includeDeclaration": true})))))
		})
	}
	_, line, character := cursor(t, strings.Replace(texts["wait.motet"], "pose on-left", "pose ‸on-left", 1))
	type highlight struct{ Kind int }
	require.Equal(t, []highlight{{3}}, parse[[]highlight](t, c.call("textDocument/documentHighlight", at(address("wait.motet"), line, character))))
}

func TestOutlineFoldsAndLinks(t *testing.T) {
	text := "# The deckhand\n# waits.\nsheet deckhand-wait # here\n  rig       deckhand in \"deckhand.motet\"\n  from      nobody in \"nobody.motet\"\n\ntrack hips\n  at      side\n  0b      1\n"
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	uri := address("wait.motet")
	type node struct {
		Name           string
		Range          stretch
		SelectionRange stretch
		Children       []node
	}
	c := connect(t, symbolTrees)
	c.open(uri, text)
	got := parse[[]node](t, c.call("textDocument/documentSymbol", m{"textDocument": m{"uri": uri}}))
	require.Len(t, got, 1)
	require.Equal(t, "sheet deckhand-wait", got[0].Name)
	require.Equal(t, stretch{place{0, 0}, place{8, 11}}, got[0].Range)
	require.Equal(t, stretch{place{2, 0}, place{2, 19}}, got[0].SelectionRange)
	require.Equal(t, "track hips", got[0].Children[0].Name)
	require.Equal(t, "side", got[0].Children[0].Children[0].Name)

	type fold struct{ StartLine, EndLine int }
	require.Equal(t, []fold{{2, 4}, {0, 1}, {6, 8}}, parse[[]fold](t, c.call("textDocument/foldingRange", m{"textDocument": m{"uri": uri}})))

	type link struct {
		Range  stretch
		Target string
	}
	require.Equal(t, []link{{stretch{place{3, 25}, place{3, 39}}, address("deckhand.motet")}},
		parse[[]link](t, c.call("textDocument/documentLink", m{"textDocument": m{"uri": uri}})), "a file that is not there has no link")

	type widening struct {
		Range  stretch
		Parent *widening
	}
	selected := parse[[]widening](t, c.call("textDocument/selectionRange", m{"textDocument": m{"uri": uri}, "positions": []m{{"line": 8, "character": 10}}}))
	var spans []stretch
	for w := &selected[0]; w != nil; w = w.Parent {
		spans = append(spans, w.Range)
	}
	require.Equal(t, []stretch{{place{8, 10}, place{8, 11}}, {place{8, 2}, place{8, 11}}, {place{6, 0}, place{8, 11}}, {place{0, 0}, place{9, 0}}}, spans)

	flat := connect(t)
	flat.open(uri, text)
	type info struct{ Name, ContainerName string }
	require.Equal(t, []info{{"sheet deckhand-wait", ""}, {"track hips", "sheet deckhand-wait"}, {"side", "track hips"}},
		parse[[]info](t, flat.call("textDocument/documentSymbol", m{"textDocument": m{"uri": uri}})))
	names := parse[[]info](t, flat.call("workspace/symbol", m{"query": "hpside"}))
	require.Equal(t, []info{{"hips/side", "deckhand.motet"}}, names, "letters may be left out")
}

func TestRenaming(t *testing.T) {
	for _, row := range []struct{ name, kind, old, to, refusal string }{
		{"a control and its pair", "control", "arm.left", "limb.left", "`arm.*` in keeper.motet line 90 would no longer cover `limb.left`"},
		{"a side that is lost", "control", "foot.left", "stump", "are a pair by their names"},
		{"a name that is taken", "control", "hips", "spine", "there is a control `spine` already"},
		{"no name at all", "pose", "on-left", "on left", "`on left` is no name for a pose"},
		{"a column's own word", "channel", "hips/side", "at", "`at` is no name for a channel"},
		{"a control by itself", "control", "hips", "pelvis", ""},
		{"a channel of a pair", "channel", "arm.left/swing", "pendulum", ""},
		{"a pose", "pose", "on-left", "weight-left", ""},
		{"a sheet", "sheet", "keeper-wait", "keeper-vigil", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			files := demoTrees(t)
			k := kinOf(files, "keeper.motet")
			for _, m := range mentions(k.files[0]) {
				if m.kind.String() == row.kind && m.key == row.old && !m.covers {
					edits, err := renaming(k, k.files[0], m, row.to)
					if row.refusal != "" {
						require.ErrorContains(t, err, row.refusal)
						return
					}
					require.NoError(t, err)
					after := resolved(renamedFiles(t, files, edits))
					for file, was := range resolved(files) {
						requireSameMotion(t, was, after[file], file)
					}
					return
				}
			}
			t.Fatal("the name is not there")
		})
	}
}

func demoTrees(t testing.TB) map[string]*grammar.File {
	_, sheets := demo(t)
	files := map[string]*grammar.File{}
	for name, text := range sheets {
		files[name] = grammar.Parse(name, text)
	}
	return files
}

// kinOf is the kin of a file among parsed ones.
func kinOf(files map[string]*grammar.File, first string) *kin {
	k := &kin{files: []*grammar.File{files[first]}}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if name != first {
			k.files = append(k.files, files[name])
		}
	}
	k.connect()
	return k
}

// Whatever is renamed in the demo, and wherever the name stands, every sheet of the project says and moves as before.
// What a quiver draws from the names of its channels is left out of the comparison, as the format wants it.
func TestRenamingMovesNothing(t *testing.T) {
	files := demoTrees(t)
	before := resolved(files)
	random := rand.New(rand.NewPCG(*seed, 7))
	tried, done := 0, 0
	for kind := bodyName; kind <= rigName; kind++ {
		rare := 6 * slow // how many names are passed over for one that is tried
		if kind <= channelName {
			rare = 24 * slow
		}
		seen := map[string]bool{}
		for _, name := range slices.Sorted(maps.Keys(files)) {
			for _, about := range mentions(files[name]) {
				if about.kind != kind || about.covers || seen[about.key] || random.IntN(rare) != 0 {
					continue
				}
				seen[about.key] = true
				tried++
				to := "renamed"
				if _, side := otherSide(about.key); kind == bodyName {
					stem, _, _ := strings.Cut(about.key, ".")
					to = stem + ".other" + side
					if side == "" {
						to = stem + "-other"
					}
				}
				edits, err := renaming(kinOf(files, name), files[name], about, to)
				if err != nil {
					continue // a pattern that would lose it, which the table above looks at
				}
				done++
				after := resolved(renamedFiles(t, files, edits))
				for file, was := range before {
					requireSameMotion(t, was, after[file], fmt.Sprintf("%s %s in %s, seen from %s", kind, about.key, name, file))
				}
			}
		}
	}
	require.Greater(t, done, 5/slow)
	require.Greater(t, done*2, tried, "most names can be renamed")
}

func renamedFiles(t testing.TB, files map[string]*grammar.File, all []renamed) map[string]*grammar.File {
	edits := map[string][]grammar.Edit{}
	for _, p := range all {
		span, ok := p.in.Locate(p.at)
		require.True(t, ok)
		edits[p.in.Path] = append(edits[p.in.Path], grammar.Edit{Span: span, Text: p.text})
	}
	out := map[string]*grammar.File{}
	for name, f := range files {
		text, err := grammar.Apply(f.Text, edits[name])
		require.NoError(t, err)
		out[name] = grammar.Parse(name, text)
	}
	return out
}

func resolved(files map[string]*grammar.File) map[string]*motion.Motion {
	project := motion.NewProject(func(path string) (*grammar.File, error) { return files[path], nil }).WithListing(func(folder string) []string {
		var out []string
		for name := range files {
			if path.Dir(name) == folder {
				out = append(out, name)
			}
		}
		return out
	})
	out := map[string]*motion.Motion{}
	for name, f := range files {
		out[name] = project.Resolve(f)
	}
	return out
}

func requireSameMotion(t testing.TB, before, after *motion.Motion, what string) {
	t.Helper()
	require.Len(t, after.Problems, len(before.Problems), "%s: %v", what, after.Problems)
	require.Len(t, after.Channels, len(before.Channels), what)
	for i := range before.Channels {
		a, b := &before.Channels[i], &after.Channels[i]
		for step := range 23 {
			frames := before.Sheet.Length.Float() * float64(step) / 22
			av, _ := a.Quivered(frames)
			bv, _ := b.Quivered(frames)
			was, is := a.At(frames)-av, b.At(frames)-bv
			require.LessOrEqual(t, math.Abs(was-is), 1e-9*max(1, math.Abs(was)), "%s: %s at frame %g is %g and was %g", what, a.Dial.Path, frames, is, was)
		}
	}
}
