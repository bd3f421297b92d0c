package server

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.lsp.dev/uri"
)

var (
	renamesFiles  = m{"workspace": m{"fileOperations": m{"willRename": true}}}
	replaces      = m{"textDocument": m{"completion": m{"completionItem": m{"insertReplaceSupport": true}}}}
	formatsRanges = m{"textDocument": m{"rangeFormatting": m{"rangesSupport": true}}}
)

func TestWhatClientsThatCanAreOffered(t *testing.T) {
	t.Run("others", func(t *testing.T) {
		require.NotContains(t, parse[offers](t, dial(t).initialize()).Capabilities["workspace"], "fileOperations")
	})
	t.Run("these", func(t *testing.T) {
		got := parse[offers](t, dial(t).initialize(renamesFiles, formatsRanges)).Capabilities
		require.Equal(t, map[string]any{"rangesSupport": true}, got["documentRangeFormattingProvider"])
		require.JSONEq(t, `{"willRename": {"filters": [
			{"scheme": "file", "pattern": {"glob": "**/*.{motet,glb,gltf}", "matches": "file"}},
			{"scheme": "file", "pattern": {"glob": "**", "matches": "folder"}}
		]}}`, string(encode(got["workspace"].(map[string]any)["fileOperations"])))
	})
}

// Whatever is renamed or moved, each sheet goes on naming the files that it named, and nothing else of it changes.
func TestRenamingFiles(t *testing.T) {
	texts := map[string]string{
		"rigs/deckhand.motet": "rig deckhand\n  model     \"deckhand.glb\"\n",
		"rigs/deckhand.glb":   "",
		"wait.motet":          "sheet wait\n  rig       deckhand in \"rigs/deckhand.motet\"\n  cycle     4b\n",
		"cast/doze.motet":     "sheet doze\n  from      wait in \"../wait.motet\" # half asleep\n",
		"cast/look.motet":     "sheet look\n  from      doze in \"doze.motet\"\n  span      4b\n  leaves    wait in \"../wait.motet\" at 0b\n  rejoins   wait in \"./../wait.motet\" at 0b\n  rig       gone in \"gone.motet\"\n",
	}
	for _, row := range []struct {
		name  string
		moves map[string]string
		want  string // the lines that change, as they then are
	}{
		{"a base", map[string]string{"wait.motet": "watch.motet"}, `
cast/doze.motet:2 from      wait in "../watch.motet" # half asleep
cast/look.motet:4 leaves    wait in "../watch.motet" at 0b
cast/look.motet:5 rejoins   wait in "../watch.motet" at 0b`},
		{"a rig into another folder", map[string]string{"rigs/deckhand.motet": "deckhand.motet"}, `
rigs/deckhand.motet:2 model     "rigs/deckhand.glb"
wait.motet:2 rig       deckhand in "deckhand.motet"`},
		{"a model", map[string]string{"rigs/deckhand.glb": "rigs/Deckhand 2.glb"}, `
rigs/deckhand.motet:2 model     "Deckhand 2.glb"`},
		{"a folder", map[string]string{"rigs": "kit/bones"}, `
wait.motet:2 rig       deckhand in "kit/bones/deckhand.motet"`},
		{"a folder with sheets that name files outside", map[string]string{"cast": "folk/late/cast"}, `
cast/doze.motet:2 from      wait in "../../../wait.motet" # half asleep
cast/look.motet:4 leaves    wait in "../../../wait.motet" at 0b
cast/look.motet:5 rejoins   wait in "../../../wait.motet" at 0b`},
		{"two at once that change places", map[string]string{"wait.motet": "cast/doze.motet", "cast/doze.motet": "wait.motet"}, `
cast/doze.motet:2 from      wait in "cast/doze.motet" # half asleep
cast/look.motet:2 from      doze in "../wait.motet"
cast/look.motet:4 leaves    wait in "doze.motet" at 0b
cast/look.motet:5 rejoins   wait in "doze.motet" at 0b
wait.motet:2 rig       deckhand in "../rigs/deckhand.motet"`},
		{"a file out of the project keeps its names", map[string]string{"wait.motet": "../elsewhere.motet"}, ""},
		{"a name that can't be written", map[string]string{"wait.motet": `a"b.motet`}, ""},
		{"a file that nobody names", map[string]string{"cast/look.motet": "cast/glance.motet"}, ""},
		{"nothing", map[string]string{"wait.motet": "wait.motet"}, ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			address := quay(t, texts)
			require.NoError(t, os.Mkdir(filepath.Join(pathOf(uri.URI(address(""))), ".git"), 0o700)) // the project ends there
			c := connect(t, renamesFiles, counts("utf-8"), m{"rootUri": address("")})
			c.open(address("cast/doze.motet"), texts["cast/doze.motet"])
			var files []m
			for _, from := range slices.Sorted(maps.Keys(row.moves)) {
				files = append(files, m{"oldUri": address(from), "newUri": address(row.moves[from])})
			}
			edit := parse[struct{ Changes map[string][]textEdit }](t, c.call("workspace/willRenameFiles", m{"files": files}))
			var got []string
			for where, edits := range edit.Changes {
				name := strings.TrimPrefix(where, address("")+"/")
				text := texts[name]
				after := applied(text, utf8Units, edits)
				for i, line := range strings.Split(after, "\n") {
					if line != strings.Split(text, "\n")[i] {
						got = append(got, name+":"+string(rune('1'+i))+" "+strings.TrimSpace(line))
					}
				}
			}
			slices.Sort(got)
			require.Equal(t, strings.TrimPrefix(row.want, "\n"), strings.Join(got, "\n"))
		})
	}
}

func TestFormattingSeveralRanges(t *testing.T) {
	address := quay(t, map[string]string{})
	text := "sheet wait\n cycle 4b\n rate 24 fps\n grid 1b\n"
	c := connect(t, counts("utf-8"))
	c.open(address("wait.motet"), text)
	ask := func(method string, ranges ...m) string {
		params := m{"textDocument": m{"uri": address("wait.motet")}, "options": m{"tabSize": 2, "insertSpaces": true}, "ranges": ranges}
		if method == "textDocument/rangeFormatting" {
			params["range"] = ranges[0]
		}
		return applied(text, utf8Units, parse[[]textEdit](t, c.call(method, params)))
	}
	require.Equal(t, "sheet wait\n  cycle     4b\n rate 24 fps\n  grid      1b\n", ask("textDocument/rangesFormatting", span(3, 0, 3, 4), span(1, 2, 1, 2)))
	require.Equal(t, text, ask("textDocument/rangesFormatting"))
	require.Equal(t, "sheet wait\n cycle 4b\n  rate      24 fps\n grid 1b\n", ask("textDocument/rangeFormatting", span(2, 0, 2, 1)))
}

// A client that lets its user choose is told both how far the cursor has come and where the word ends.
func TestCompletionInsideAWord(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	c := connect(t, counts("utf-8"), replaces)
	c.open(address("wait.motet"), "")
	for i, row := range []struct{ line, insert, replace string }{
		{"track he‸ad", "he", "head"},
		{"track ‸head", "", "head"},
		{"track head‸", "head", ""},
		{"track head in sw‸ay # here", "sw", "sway"},
	} {
		text, line, character := cursor(t, completionSheet+row.line+"\n")
		c.change(address("wait.motet"), i+2, whole(text))
		items := parse[struct {
			Items []struct {
				TextEdit struct{ Insert, Replace, Range stretch }
			}
		}](t, c.call("textDocument/completion", at(address("wait.motet"), line, character))).Items
		require.NotEmpty(t, items, row.line)
		covered := func(s stretch) string {
			return strings.Split(text, "\n")[line][s.Start.Character:s.End.Character]
		}
		edit := items[0].TextEdit
		if row.replace == "" {
			require.Equal(t, row.insert, covered(edit.Range), row.line)
			continue
		}
		require.Equal(t, []string{row.insert, row.replace}, []string{covered(edit.Insert), covered(edit.Replace)}, row.line)
	}
}

func TestPullingWhatIsNotOpen(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "wait.motet": "sheet wait\n  rig deckhand in \"deckhand.motet\"\n  cycle 4\n", "notes.txt": "shet\n"})
	c := connect(t, pulls, m{"rootUri": address("")})
	type report struct {
		Kind, ResultID string
		Items          []diagnostic
	}
	ask := func(name string, previous any) m {
		return m{"textDocument": m{"uri": address(name)}, "previousResultId": previous}
	}
	got := parse[report](t, c.call("textDocument/diagnostic", ask("wait.motet", nil)))
	require.Equal(t, "2:8-2:9 syntax\n", rules(got.Items))
	require.Equal(t, "unchanged", parse[report](t, c.call("textDocument/diagnostic", ask("wait.motet", got.ResultID))).Kind)
	c.open(address("wait.motet"), "sheet wait\n  rig deckhand in \"deckhand.motet\"\n  cycle 4b\n")
	require.Empty(t, parse[report](t, c.call("textDocument/diagnostic", ask("wait.motet", nil))).Items, "an open document counts as it is in the editor")
	for _, name := range []string{"nobody.motet", "notes.txt", ""} {
		require.Equal(t, -32602, c.refused("textDocument/diagnostic", ask(name, nil)), name)
	}
}
