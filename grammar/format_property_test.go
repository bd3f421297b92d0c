package grammar

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar/sheets"
)

// assertFormatKeepsItsWord holds the formatter to everything that it promises of any text.
func assertFormatKeepsItsWord(t require.TestingT, text string) {
	f := Parse("x.motet", text)
	formatted := Format(f)
	again := Parse("x.motet", formatted)
	require.Equal(t, formatted, Format(again), "formatted twice")
	require.Equal(t, factsOf(f), factsOf(again), "what it says")
	require.Equal(t, commentsOf(f), commentsOf(again), "comments")
	require.Equal(t, unreadOf(f), unreadOf(again), "lines that do not parse")
	applied, err := Apply(text, FormatEdits(f))
	require.NoError(t, err)
	require.Equal(t, formatted, applied, "by edits")
	require.Equal(t, strings.HasPrefix(text, byteOrderMark), strings.HasPrefix(formatted, byteOrderMark), "byte order mark")
	assertLooksCanonical(t, again)
}

func assertLooksCanonical(t require.TestingT, f *File) {
	lines := strings.SplitAfter(strings.TrimPrefix(f.Text, byteOrderMark), "\n")
	require.Empty(t, lines[len(lines)-1], "the last line has an end")
	blank := false
	for i, b := range f.Blocks {
		for j := range b.Lines {
			l := &b.Lines[j]
			switch l.Kind {
			case BlankLine:
				require.Empty(t, l.Text)
				require.False(t, blank, "two blank lines")
			case RowLine, HeaderLine, EntryLine:
				require.True(t, strings.HasPrefix(l.Text, indent) && l.Text[len(indent)] != ' ', "the indent of %q", l.Text)
				require.Equal(t, strings.TrimRight(l.Text, " \t"), l.Text)
				require.Nil(t, l.Fault, "%q", l.Text)
			}
			blank = l.Kind == BlankLine
		}
		require.True(t, blank == (i < len(f.Blocks)-1) || f.LineCount() == 1, "one blank line between blocks and none at the end")
	}
}

func TestFormatKeepsItsWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { assertFormatKeepsItsWord(t, sheets.Draw(t)) })
}

func TestFormatKeepsItsWordForBrokenText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { assertFormatKeepsItsWord(t, sheets.DrawBroken(t)) })
}

func TestDrawnSheetsParse(t *testing.T) {
	seen := map[BlockKind]bool{}
	text := rapid.Custom(sheets.Draw)
	for seed := range 500 { // numbered draws, since 100 random ones miss a kind of block now and then
		for _, b := range Parse("x.motet", text.Example(seed)).Blocks {
			seen[b.Kind] = true
			for i := range b.Lines {
				if fault := b.Lines[i].Fault; fault != nil {
					require.True(t, fault.Note, "%q: %s", b.Lines[i].Text, fault.Message)
				}
			}
		}
	}
	for _, info := range Blocks() {
		assert.True(t, seen[info.Kind], "a drawn sheet has a block of kind %s", info.Kind)
	}
}
