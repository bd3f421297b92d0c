package server

import (
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
	"go.lsp.dev/protocol"
)

func TestFormattingChangesOnlyWhatDiffers(t *testing.T) {
	for _, row := range []struct {
		name, text string
		want       []textEdit
	}{
		{"a canonical sheet", deckhandSheet, []textEdit{}},
		{"a cell out of its column", "track hips\n  at      side\n  0b  2^\n", []textEdit{{stretch{place{2, 6}, place{2, 6}}, "    "}}},
		{"behind a face", "track hips  # 😀   \n  at      side\n", []textEdit{{stretch{place{0, 16}, place{0, 19}}, ""}}},
		{"nothing but a line that does not parse", "  hips/side   2,4   \n", []textEdit{}},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := connect(t)
			c.open(sheetURI, row.text)
			require.Equal(t, row.want, parse[[]textEdit](t, c.format(sheetURI)))
		})
	}
}

func (c *testClient) format(uri string) []byte {
	c.t.Helper()
	return c.call("textDocument/formatting", m{"textDocument": m{"uri": uri}, "options": m{"tabSize": 8, "insertSpaces": false}})
}

// An editor that applies the edits has the canonical text, whatever it counts in, and a second formatting changes
// nothing. The sheets are the demo's, broken at random.
func TestFormattingOnTheClientsSideGivesTheCanonicalForm(t *testing.T) {
	for _, u := range []units{utf8Units, utf16Units, utf32Units} {
		t.Run(string(u), func(t *testing.T) {
			c := connect(t, counts(string(u)))
			_, sheets := demo(t)
			random := rand.New(rand.NewPCG(*seed, 11))
			for _, name := range slices.Sorted(maps.Keys(sheets)) {
				typist := newTypist(random, u, sheets[name])
				for range max(2, *editsAsked/slow/2) {
					typist.edit()
					text := typist.text()
					c.open(sheetURI, text)
					got := applied(text, u, parse[[]textEdit](t, c.format(sheetURI)))
					require.Equal(t, grammar.Format(grammar.Parse("keeper.motet", text)), got, "%q", text)
					c.change(sheetURI, 2, whole(got))
					require.Empty(t, parse[[]textEdit](t, c.format(sheetURI)), "%q", text)
				}
			}
		})
	}
}

// applied is a client's text after edits that all count on the text before.
func applied(text string, u units, edits []textEdit) string {
	m := newTextMap(text, u)
	offset := func(p place) int {
		return m.offsetOf(protocol.Position{Line: uint32(p.Line), Character: uint32(p.Character)})
	}
	var out strings.Builder
	at := 0
	for _, e := range edits {
		out.WriteString(text[at:offset(e.Range.Start)] + e.NewText)
		at = offset(e.Range.End)
	}
	return out.String() + text[at:]
}
