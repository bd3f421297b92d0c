package grammar

import (
	"reflect"
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

func treeOf(b *Block) []lineTree {
	out := make([]lineTree, len(b.Lines))
	for i := range b.Lines {
		out[i] = lineTree{b.Kind, b.Lines[i]}
		out[i].Line.at = 0
	}
	return out
}

// same tells whether two lines are the same tree, which is quick for table rows.
func (l *lineTree) same(other *lineTree) bool {
	a, b := &l.Line, &other.Line
	if l.Block != other.Block || a.Text != b.Text || a.Kind != b.Kind || a.Comment != b.Comment || len(a.Cells) != len(b.Cells) {
		return false
	}
	for i := range a.Cells {
		c, d := a.Cells[i], b.Cells[i]
		if (c.Time == nil) != (d.Time == nil) || c.Time != nil && *c.Time != *d.Time || (c.Slope == nil) != (d.Slope == nil) || c.Slope != nil && *c.Slope != *d.Slope {
			return false
		}
		c.Time, c.Slope, d.Time, d.Slope = nil, nil, nil, nil
		if c != d {
			return false
		}
	}
	return reflect.DeepEqual(a.Stmt, b.Stmt) && reflect.DeepEqual(a.Allow, b.Allow) && reflect.DeepEqual(a.Fault, b.Fault)
}

// assertPrefixesKeepLines parses text cut at every byte, as it is while being typed, and holds each line above the cut
// to what it is in the whole text. One thing is excepted: to which block a comment in column 1 belongs depends on what
// comes below it. Blocks that are those of the cut before have been looked at already.
func assertPrefixesKeepLines(t *testing.T, text string) {
	var whole []lineTree
	for _, b := range Parse("x.motet", text).Blocks {
		whole = append(whole, treeOf(b)...)
	}
	seen := map[*Block]int{} // the line at which a block was looked at, from 1
	f := Parse("x.motet", "")
	for cut := range len(text) + 1 {
		f = Reparse(f, "x.motet", text[:cut])
		complete := strings.Count(text[:cut], "\n")
		line := 0
		for i, b := range f.Blocks {
			if seen[b] == line+1 && i < len(f.Blocks)-1 {
				line += len(b.Lines)
				continue
			}
			seen[b] = line + 1
			tree := treeOf(b)
			for j := range tree {
				got := &tree[j]
				if line < complete {
					if got.Line.Kind == CommentLine && got.Line.Comment.Start == 0 {
						got.Block = whole[line].Block
					}
					if !got.same(&whole[line]) {
						require.Equal(t, whole[line], *got, "line %d, cut at byte %d", line+1, cut)
					}
				}
				line++
			}
		}
		require.GreaterOrEqual(t, line, complete, "cut at byte %d", cut)
	}
}

func TestHalfTypedSheetsKeepTheirLines(t *testing.T) {
	if testing.Short() {
		t.Skip("one prefix after the other")
	}
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

// Blocks are taken over without a look at their lines, so what stands where two of them meet decides: each edit here changes
// where a block begins or ends, or does not though it might.
func TestReparseWhereBlocksMeet(t *testing.T) {
	const text = "sheet a\n  cycle 4b\n\n# of the hips\ntrack hips\n  at  side\n  0b  1\n  2b  2\n\ntrack head\n  at  nod\n  1b  3\n# the end\ntrack spine\n  at  lean\n  1b  5"
	for _, row := range []struct{ name, old, new string }{
		{"an opening line is indented", "\ntrack head", "\n  track head"},
		{"an opening line's word is another", "\ntrack head", "\npose head"},
		{"an opening line's word is a slip", "\ntrack head", "\ntrak head"},
		{"an opening line's word is none", "\ntrack head", "\nnonesuch head"},
		{"an opening line is a comment", "\ntrack head", "\n# track head"},
		{"an opening line is gone", "track head\n", ""},
		{"two lines become one", "\n\ntrack head", " track head"},
		{"a comment above an opening line", "\ntrack head", "\n# of the head\ntrack head"},
		{"a comment above another", "# of the hips", "# here\n# of the hips"},
		{"a comment loses its block", "# of the hips\n", "# of the hips\n\n"},
		{"a comment comes to a block", "\n\n# of the hips", "\n# of the hips"},
		{"the last comment becomes a line", "# the end\n", "the end\n"},
		{"a block is gone", "track head\n  at  nod\n  1b  3\n", ""},
		{"a block comes twice", "track head\n  at  nod\n  1b  3\n", "track head\n  at  nod\n  1b  3\ntrack head\n  at  nod\n  1b  3\n"},
		{"a block in front", "sheet a", "track a\n\nsheet a"},
		{"the first block is gone", "sheet a\n  cycle 4b\n\n", ""},
		{"a line above the first block", "sheet a", "\nsheet a"},
		{"the last word grows", "1b  5", "1b  55"},
		{"a line behind the last", "1b  5", "1b  5\n"},
		{"a block behind the last", "1b  5", "1b  5\ntrack tail"},
		{"the file ends in an opening word", "track spine\n  at  lean\n  1b  5", "track"},
		{"nothing", "1b  5", "1b  5"},
		{"all is gone", text, ""},
		{"a row changes its place", "  0b  1\n  2b  2\n", "  2b  2\n  0b  1\n"},
		{"a column more", "at  side\n", "at  side drop\n"},
		{"a column has another name", "at  side\n", "at  drop\n"},
		{"another kind of time", "at  side\n", "at\n"},
		{"the rows of a table without names", "  at  side\n", ""},
		{"line ends", text, strings.ReplaceAll(text, "\n", "\r\n")},
		{"a byte order mark", "sheet a", "\ufeffsheet a"},
	} {
		t.Run(row.name, func(t *testing.T) {
			require.Contains(t, text, row.old)
			edited := strings.Replace(text, row.old, row.new, 1)
			there := assertReparseIsParse(t, Parse("x.motet", text), edited)
			assertReparseIsParse(t, there, text)
			for _, more := range []string{"\n", "  3b  1\n", " "} { // and from there on
				assertReparseIsParse(t, there, edited+more)
			}
		})
	}
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
