package report

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/rivo/uniseg"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
)

// placeOf finds the stretch of text between ‹ and ›, which are taken out.
func placeOf(text string) Place {
	before, rest, _ := strings.Cut(text, "‹")
	inside, after, _ := strings.Cut(rest, "›")
	return Place{
		Path: "a.motet", File: grammar.Parse("a.motet", before+inside+after),
		Span: grammar.Span{Start: len(before), End: len(before) + len(inside)},
	}
}

func TestMarksStandUnderWhatIsMeant(t *testing.T) {
	// The widths are those of Unicode Standard Annex 11 (wide characters take two cells) and of tab stops every eight
	// cells, as terminals have them (common practice).
	tests := []struct{ name, text, line, marks string }{
		{"plain", "sheet ‹name›\n", "sheet name", "      ^^^^"},
		{"second line", "# a\n  hips/side ‹3›", "  hips/side 3", "            ^"},
		{"nothing there", "  hips/side‹›", "  hips/side", "           ^"},
		{"nothing in an empty line", "a\n‹›\nb", "", "^"},
		{"windows", "sheet ‹a›\r\nb", "sheet a", "      ^"},
		{"tab before", "\t‹hips›", "        hips", "        ^^^^"},
		{"tab inside", "ab‹\t›c", "ab      c", "  ^^^^^^"},
		{"tab in the middle", "abc\tde\t‹f›", "abc     de      f", "                ^"},
		{"wide", "港の人 ‹海›x", "港の人 海x", "       ^^"},
		{"two characters in one", "e\u0301a ‹o\u0308›b", "e\u0301a o\u0308b", "   ^"},
		{"half of two in one", "a‹\u0301›b", "a\u0301b", "^"},
		{"a family", "‹\U0001F468\u200D\U0001F469\u200D\U0001F467› b", "\U0001F468\u200D\U0001F469\u200D\U0001F467 b", "^^"},
		{"over the line's end", "ab‹c\nd›", "abc", "  ^"},
		{"byte order mark", "\ufeff‹sheet›", "sheet", "^^^^^"},
		{"escape", "a\x1b[2J‹b›", "a␛[2Jb", "     ^"},
		{"direction", "a\u202e‹b›", "a\ufffdb", "  ^"},
		{"no utf-8", "a\xff‹\xfe›b", "a\ufffd\ufffdb", "  ^"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			line, marks := placeOf(test.text).excerpt()
			assert.Equal(t, test.line, line)
			assert.Equal(t, test.marks, marks)
		})
	}
}

func TestLongLinesAreCutRoundThePlace(t *testing.T) {
	for _, before := range []int{0, 1, widest/3 - 1, widest / 3, widest/3 + 1, widest, 5000} {
		for _, inside := range []int{0, 1, 10, widest, 5000} {
			for _, after := range []int{0, 1, widest, 5000} {
				p := placeOf(strings.Repeat("a", before) + "‹" + strings.Repeat("m", inside) + "›" + strings.Repeat("z", after))
				line, marks := p.excerpt()
				require.LessOrEqual(t, uniseg.StringWidth(line), widest+3, "%d %d %d", before, inside, after)
				require.LessOrEqual(t, len(marks), widest+3)
				start := strings.Index(marks, "^")
				require.GreaterOrEqual(t, start, 0, "something is marked")
				shown := []rune(line)
				for i := range marks {
					if marks[i] == '^' && inside > 0 {
						require.Equal(t, 'm', shown[i], "%d %d %d: %s", before, inside, after, line)
					}
				}
				if inside == 0 && after > 0 {
					require.Equal(t, 'z', shown[start], "the mark stands where something is missing")
				}
				require.Equal(t, before > 0 && !strings.HasPrefix(line, "a") || strings.HasPrefix(line, "…"), strings.HasPrefix(line, "…"))
			}
		}
	}
}

func TestNoTextBreaksAnExcerpt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")) + rapid.String().Draw(t, "text")
		file := grammar.Parse("a.motet", text)
		start := rapid.IntRange(0, len(text)).Draw(t, "start")
		end := rapid.IntRange(start, len(text)).Draw(t, "end")
		p := Place{"a.motet", file, grammar.Span{Start: start, End: end}}
		line, marks := p.excerpt()
		assert.True(t, utf8.ValidString(line))
		assert.NotContains(t, line, "\n")
		assert.NotContains(t, line, "\x1b")
		assert.Contains(t, marks, "^")
		assert.Positive(t, p.column(start))
	})
}

func TestColumnsCountCharacters(t *testing.T) {
	assert.Equal(t, "a.motet:1:7", placeOf("sheet ‹a›").where())
	assert.Equal(t, "a.motet:2:3", placeOf("# é\n\u00e9\u00e9‹a›").where())
	assert.Equal(t, "a.motet:1:4", placeOf("e\u0301a‹a›").where(), "each of two characters that look like one counts")
	assert.Equal(t, "a.motet:1:1", placeOf("\ufeff‹sheet›").where(), "the byte order mark is not one")
}
