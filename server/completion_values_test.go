package server

import (
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
)

// Between two keys at rest a curve is the Hermite cubic 3u²-2u³ of its way, so the numbers below follow by hand: it is 1/2 at
// 1/2, 7/27 at 1/3, 25/27 at 5/6, 2/27 at 1/6, 5/32 at 1/4 and 27/32 at 3/4.
const valuesSheet = `sheet deckhand-wait
  rig       deckhand in "deckhand.motet"
  tempo     80 bpm
  cycle     4b

pose on-left
  hips/side         3
  head/nod          2.5

pose on-right mirrors on-left
  hips/side         -2
  head/nod          2.5

`

const valuesTrack = "track hips\n  at      side    swell   ease\n  0b      2^      100^    .\n  2b      -4^     .       .\n  3b      .       110^    .\n"

func TestCompletionOfValues(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": crewRig, "cast/keeper.motet": "sheet keeper-wait\n  cycle     4b\n", "keeper.glb": "", "old/keeper.GLTF": "", ".git/x.glb": "", "keeper.png": ""})
	for _, row := range []struct{ name, text, want string }{
		{"where the curve passes", strings.Replace(valuesTrack, "  2b ", "  1b      ‸\n  2b ", 1), "-1 | -1 102.593 . | 2^ | ."},
		{"behind a value, in the last column with keys", strings.Replace(valuesTrack, "  3b ", "  5/2b    1 ‸\n  3b ", 1), "109.259 | 109.259 . | 100^ | ."},
		{"an easing has no value", strings.Replace(valuesTrack, "  3b ", "  5/2b    1       105     ‸\n  3b ", 1), ""},
		{"a channel that nothing keys", "track head\n  at      nod\n  1b      ‸", "."},
		{"at a time that is none", strings.Replace(valuesTrack, "  2b ", "  1       ‸\n  2b ", 1), "2^ | ."},
		{"what other poses have", "pose low\n  hips/side ‸", "3 | -2 | 0"},
		{"what two poses have", "pose low\n  head/nod  ‸", "2.5 | 0"},
		{"an amplitude", "quiver restless\n  hips/side ‸", "0"},
		{"the file of a rig", "sheet b\n  rig       deckhand in ‸", `"deckhand.motet"`},
		{"the file of a base first", "sheet b\n  from      keeper-wait in ‸", `"cast/keeper.motet"`},
		{"a character's file", "rig b\n  model     ‸", `"keeper.glb" | "old/keeper.GLTF"`},
		{"inside the quotes", "rig b\n  model     \"keep‸\"", `"keeper.glb" | "old/keeper.GLTF"`},
	} {
		t.Run(row.name, func(t *testing.T) {
			marked := valuesSheet + row.text
			text := strings.Replace(marked, "‸", "", 1)
			var got []string
			for _, c := range askingAt(snapshotOf(t, address, "wait.motet", text), strings.Index(marked, "‸")).candidates() {
				got = append(got, c.label)
			}
			require.Equal(t, row.want, strings.Join(got, " | "))
		})
	}
}

// What is proposed behind the cursor makes a good row of the line, in the canonical form, and one that the curves pass
// through: only the slopes of smooth keys beside it may change.
func TestInlineCompletion(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": crewRig})
	for _, row := range []struct{ name, text, want string }{
		{"behind a time", strings.Replace(valuesTrack, "  2b ", "  1b      ‸\n  2b ", 1), "  1b      -1      102.593 ."},
		{"one space behind it", strings.Replace(valuesTrack, "  2b ", "  1b ‸\n  2b ", 1), "  1b      -1      102.593 ."},
		{"behind a value", strings.Replace(valuesTrack, "  2b ", "  1b      7 ‸\n  2b ", 1), "  1b      7       102.593 ."},
		{"on an empty line", valuesTrack + "  ‸\n", "  7/2b    1.062   105     ."},
		{"between two rows", strings.Replace(valuesTrack, "  2b ", "  ‸\n  2b ", 1), "  1/2b    1.062   100.741 ."},
		{"at the end of its own round", strings.Replace(valuesTrack, "hips", "hips every 7/2b", 1) + "  ‸\n", ""},
		{"where no time is left", strings.Replace(valuesTrack, "  3b ", "  7/2b ", 1) + "  ‸\n", ""},
		{"inside a time", strings.Replace(valuesTrack, "  2b ", "  1b‸\n  2b ", 1), ""},
		{"with something behind the cursor", strings.Replace(valuesTrack, "  2b ", "  1b      ‸       7\n  2b ", 1), ""},
		{"in the first column", valuesTrack + "‸", ""},
		{"where nothing has keys", "track head\n  at      nod\n  1b      ‸", ""},
		{"in a blocking", "blocking\n  at      pose\n  1b      ‸", ""},
		{"in a comment", valuesTrack + "  # so ‸", ""},
		{"above the columns", "track hips\n  ‸", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			marked := valuesSheet + row.text
			text := strings.Replace(marked, "‸", "", 1)
			offset := strings.Index(marked, "‸")
			proposed, ok := askingAt(snapshotOf(t, address, "wait.motet", text), offset).proposal()
			if row.want == "" {
				require.False(t, ok, proposed)
				return
			}
			require.True(t, ok)
			after := text[:offset] + proposed + text[offset:]
			require.Contains(t, "\n"+after, "\n"+row.want+"\n")
			require.Equal(t, after, grammar.Format(grammar.Parse("wait.motet", after)))
		})
	}
}

var inlines = m{"textDocument": m{"inlineCompletion": m{}}}

func TestInlineCompletionOverTheWire(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": crewRig})
	c := dial(t)
	require.Equal(t, true, parse[offers](t, c.initialize(inlines, counts("utf-16"))).Capabilities["inlineCompletionProvider"])
	text, line, character := cursor(t, valuesSheet+strings.Replace(valuesTrack, "  2b ", "  1b      ‸\n  2b ", 1))
	c.open(address("wait.motet"), text)
	got := parse[struct {
		Items []struct {
			InsertText string
			Range      stretch
		}
	}](t, c.call("textDocument/inlineCompletion", with(at(address("wait.motet"), line, character), "context", m{"triggerKind": 2}))).Items
	require.Len(t, got, 1)
	require.Equal(t, "-1      102.593 .", got[0].InsertText)
	require.Equal(t, stretch{place{line, character}, place{line, character}}, got[0].Range)
}
