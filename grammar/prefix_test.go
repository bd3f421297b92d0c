package grammar

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar/sheets"
)

// lineTree is all that the parser makes of a line.
type lineTree struct {
	Block BlockKind
	Line  Line
}

func treeOf(f *File) []lineTree {
	var out []lineTree
	for _, b := range f.Blocks {
		for i := range b.Lines {
			l := b.Lines[i]
			l.at = 0
			out = append(out, lineTree{b.Kind, l})
		}
	}
	return out
}

// assertPrefixesKeepLines parses text cut at every byte, as it is while being typed, and holds each line above the cut
// to what it is in the whole text. One line is excepted: the block of a comment in column 1 depends on what comes
// below it.
func assertPrefixesKeepLines(t *testing.T, text string) {
	whole := treeOf(Parse("x.motet", text))
	for cut := range len(text) + 1 {
		f := Parse("x.motet", text[:cut])
		tree := treeOf(f)
		complete := strings.Count(text[:cut], "\n")
		require.GreaterOrEqual(t, len(tree), complete, "cut at byte %d", cut)
		for i := range complete {
			if tree[i].Line.Kind == CommentLine && tree[i].Line.Comment.Start == 0 {
				tree[i].Block = whole[i].Block
			}
			require.Equal(t, whole[i], tree[i], "line %d, cut at byte %d", i+1, cut)
		}
	}
}

func TestHalfTypedSheetsKeepTheirLines(t *testing.T) {
	for path, text := range sheetTexts(t) {
		t.Run(path, func(t *testing.T) { assertPrefixesKeepLines(t, text) })
	}
}

// Reparse takes over what did not change, and must give what Parse gives: the same lines in the same places.
func assertReparseIsParse(t require.TestingT, old *File, text string) *File {
	got, want := Reparse(old, "x.motet", text), Parse("x.motet", text)
	require.Equal(t, want.starts, got.starts)
	require.Len(t, got.Blocks, len(want.Blocks))
	for i := range want.Blocks {
		require.Equal(t, want.Blocks[i], got.Blocks[i])
		require.Equal(t, want.places[want.Blocks[i]], got.places[got.Blocks[i]])
	}
	require.Len(t, got.places, len(want.places))
	return got
}

func TestReparseIsParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := sheets.Draw(t)
		old := Parse("x.motet", text)
		for range rapid.IntRange(1, 5).Draw(t, "edits") {
			text = sheets.Damage(t, text)
			old = assertReparseIsParse(t, old, text)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, text := range sheetTexts(f) {
		f.Add(text, 100, "x")
	}
	f.Add("\ufeffsheet a\r\n", 3, "\n# c\n")
	f.Fuzz(func(t *testing.T, text string, at int, slip string) {
		at = min(max(at, 0), len(text))
		old := Parse("x.motet", text)
		assertFormatKeepsItsWord(t, text)
		assertReparseIsParse(t, old, text[:at]+slip+text[at:])
	})
}
