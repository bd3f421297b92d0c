package server

import (
	"fmt"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/server/watch"
	"github.com/stretchr/testify/require"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

var creates = m{"workspace": m{"workspaceEdit": m{"documentChanges": true, "resourceOperations": []string{"create", "rename"}}}}

// snapshotOf is a document as a request would see it, over files on disk.
func snapshotOf(t testing.TB, address func(string) string, name, text string) snapshot {
	t.Helper()
	s := &session{push: newPushQueue(), live: newLivePage(), world: &world{
		documents: map[uri.URI]*document{}, readings: map[uri.URI]*reading{}, disk: &watch.Disk{},
		folders: []string{pathOf(uri.URI(address("")))},
	}}
	key := uri.URI(address(name))
	d := &document{textMap: newTextMap(text, utf8Units), key: key, spelling: key, path: pathOf(key)}
	d.settle(s.world.folders)
	d.parse(nil)
	s.put(d)
	snap, ok := s.snapshot(key)
	require.True(t, ok)
	return snap
}

// Whatever other way of writing is offered, wherever in the demo, says and moves the same; and writing times in beats,
// then in frames and then in beats again is writing them in beats once.
func TestRefactoringsMoveNothing(t *testing.T) {
	address, sheets := demo(t)
	offered := map[string]int{}
	for name, text := range sheets {
		snap := snapshotOf(t, address, name, text)
		if snap.motion().Sheet == nil {
			continue
		}
		for _, b := range snap.tree().Blocks {
			if b.Open < 0 {
				continue
			}
			line := lastLine(b)
			at, _ := snap.tree().Locate(b.RefLine(line))
			offers := snap.refactorings(at.Start, at.Start)
			for i := range b.Columns {
				name, _ := snap.tree().Locate(b.Ref(b.Header, b.Columns[i].Span))
				for _, r := range snap.refactorings(name.Start, name.Start) {
					if strings.HasPrefix(r.title, "split") {
						offers = append(offers, r)
					}
				}
			}
			for _, r := range offers {
				offered[strings.SplitN(r.title, " ", 3)[0]+string(r.kind)]++
				after, err := grammar.Apply(text, r.edits)
				require.NoError(t, err, r.title)
				again := snapshotOf(t, address, name, after)
				if !r.moves {
					requireSameMotion(t, snap.motion(), again.motion(), fmt.Sprintf("%s: %s\n%s", name, r.title, after))
				}
				for _, back := range again.refactorings(at.Start, at.Start) {
					if !strings.HasPrefix(r.title, "write the times") || !strings.HasPrefix(back.title, "write the times") || back.title == r.title {
						continue
					}
					returned, err := grammar.Apply(after, back.edits)
					require.NoError(t, err)
					requireSameMotion(t, snap.motion(), snapshotOf(t, address, name, returned).motion(), name+" there and back: "+returned)
				}
			}
		}
	}
	require.Greater(t, offered["writerefactor.rewrite"], 30)
	require.Greater(t, offered["liftrefactor.extract"], 10)
	require.Greater(t, offered["splitrefactor.rewrite"], 3)
}

func TestRefactorings(t *testing.T) {
	for _, row := range []struct{ name, text, title, want string }{
		{
			"frames to beats", "track hips\n  at      side\n  0       1\n  9f      2       # up\n‸  1b+3f   3\n", "write the times of this block in beats",
			"track hips\n  at      side\n  0b      1\n  1/2b    2       # up\n  7/6b    3\n",
		},
		{
			"beats to frames", "track hips\n  at      side\n  0b      1\n‸  3/2b    2\n", "write the times of this block in frames",
			"track hips\n  at      side\n  0f      1\n  27f     2\n",
		},
		{
			"the closing row", "track hips\n  at      side\n  0b      1.5^\n‸  2b      2\n", "write out the closing row",
			"track hips\n  at      side\n  0b      1.5^\n  2b      2\n  4b      1.5\n",
		},
		{
			"a row as a pose", "track hips\n  at      side\n  0b      1.5^\n‸  2b      2\n", "lift 2b into the pose `at-2b`",
			"pose at-2b\n  hips/side         2\n\ntrack hips\n  at      side\n  0b      1.5^\n  2b      2\n",
		},
		{
			"a row between beats as a second pose", "pose at-1-5b\n  hips/side         9\n\ntrack hips\n  at      side\n  0b      1.5^\n‸  1.5b    2\n", "lift 1.5b into the pose `at-1-5b-2`",
			"pose at-1-5b\n  hips/side         9\n\npose at-1-5b-2\n  hips/side         2\n\ntrack hips\n  at      side\n  0b      1.5^\n  1.5b    2\n",
		},
		{
			"an equal pose", "pose a\n  hips/side         2\n\npose b\n‸  hips/side         2\n\nblocking\n  at      pose\n  0b      a\n  2b      b\n", "fold into the pose `a`, which is the same",
			"pose a\n  hips/side         2\n\nblocking\n  at      pose\n  0b      a\n  2b      a\n",
		},
		{"an overlap", "overlap\n‸  hips      2f\n", "spread the overlap from `hips` outward, step by step", "overlap\n  hips      2f\n  head      4f\n"},
	} {
		t.Run(row.name, func(t *testing.T) {
			refactored(t, deckhandRig, row.text, row.title, row.want)
		})
	}
}

// refactored holds that what is offered between the marks ‸ of a text makes the wanted one of it.
func refactored(t *testing.T, rig, marked, title, want string) {
	t.Helper()
	header := "sheet wait\n  rig       deckhand in \"deckhand.motet\"\n  tempo     80 bpm\n  cycle     4b\n\n"
	text := header + strings.ReplaceAll(marked, "‸", "")
	snap := snapshotOf(t, quay(t, map[string]string{"deckhand.motet": rig}), "wait.motet", text)
	start, end := len(header)+strings.Index(marked, "‸"), len(header)+strings.LastIndex(marked, "‸")
	if start < end {
		end -= len("‸")
	}
	var titles []string
	for _, r := range snap.refactorings(start, end) {
		titles = append(titles, r.title)
		if r.title == title {
			after, err := grammar.Apply(text, r.edits)
			require.NoError(t, err)
			require.Equal(t, header+want, after)
			return
		}
	}
	if want != "" {
		t.Fatalf("%q is not offered, only %q", title, titles)
	}
}

func TestAVariantIsANewFile(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "wait.motet": deckhandSheet, "wait-2.motet": ""})
	ask := func(c *testClient) string {
		c.open(address("wait.motet"), deckhandSheet)
		return string(c.call("textDocument/codeAction", m{
			"textDocument": m{"uri": address("wait.motet")}, "range": span(0, 8, 0, 8), "context": m{"diagnostics": []m{}},
		}))
	}
	got := ask(connect(t, actionLiterals, creates))
	require.Contains(t, got, `"kind":"create","uri":"`+address("wait-3.motet")+`"`)
	require.Contains(t, got, `sheet deckhand-wait-3\n  from      deckhand-wait in \"wait.motet\"\n`)
	require.NotContains(t, ask(connect(t, actionLiterals, versionedEdits)), "create")
	require.Equal(t, protocol.CodeActionKind("refactor.extract"), protocol.CodeActionKindRefactorExtract)
}

func TestFormattingWhatIsTyped(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	uri := address("wait.motet")
	header := "sheet wait\n  rig       deckhand in \"deckhand.motet\"\n  tempo     80 bpm\n  cycle     2b\n\n"
	c := connect(t, counts("utf-8"))
	c.open(uri, "")
	for i, row := range []struct{ name, text, want string }{
		{"a row", "track hips\n  at      side\n  0b 3\n‸", "track hips\n  at      side\n  0b      3\n  1/2b    "},
		{"behind the column names", "track hips\n  at side\n‸\n", "track hips\n  at      side\n  0b      \n"},
		{"between two rows, indented by the editor", "track hips\n  at      side\n  0b      3\n  ‸\n  2b      1\n", "track hips\n  at      side\n  0b      3\n  1/2b    \n  2b      1\n"},
		{"where no line of the grid is left", "track hips\n  at      side\n  3/2b    3\n‸\n", "track hips\n  at      side\n  3/2b    3\n  \n"},
		{"at the end of the table's own round", "track hips every 1b\n  at      side\n  1/2b    3\n‸\n", "track hips every 1b\n  at      side\n  1/2b    3\n  \n"},
		{"behind an opening line", "track hips\n‸", "track hips\n  "},
		{"after an empty line", "track hips\n  at      side\n  0b      3\n  \n‸", "track hips\n  at      side\n  0b      3\n  \n"},
	} {
		t.Run(row.name, func(t *testing.T) {
			text, line, character := cursor(t, header+row.text)
			c.change(uri, i+2, whole(text))
			c.t = t
			edits := parse[[]textEdit](t, c.call("textDocument/onTypeFormatting", with(with(at(uri, line, character), "ch", "\n"), "options", m{"tabSize": 2, "insertSpaces": true})))
			require.Equal(t, header+row.want, edited(t, text, edits))
		})
	}
	c.t = t
	text := "track hips\n  at side\n  0b 3\n  1b 2\n"
	c.change(uri, 50, whole(text))
	edits := parse[[]textEdit](t, c.call("textDocument/rangeFormatting", m{
		"textDocument": m{"uri": uri}, "range": span(2, 0, 2, 4), "options": m{"tabSize": 2, "insertSpaces": true},
	}))
	require.Equal(t, "track hips\n  at side\n  0b      3\n  1b 2\n", edited(t, text, edits))
}

// edited applies edits in UTF-8 units.
func edited(t testing.TB, text string, edits []textEdit) string {
	t.Helper()
	lines := newTextMap(text, utf8Units)
	var all []grammar.Edit
	for _, e := range edits {
		at := func(p place) int {
			return lines.offsetOf(protocol.Position{Line: uint32(p.Line), Character: uint32(p.Character)})
		}
		all = append(all, grammar.Edit{Span: grammar.Span{Start: at(e.Range.Start), End: at(e.Range.End)}, Text: e.NewText})
	}
	out, err := grammar.Apply(text, all)
	require.NoError(t, err)
	return out
}
