package server

import (
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
)

// The numbers by hand: hips/side moves from -2 to 2.5, so a gain of -0.5 adds 2.25 to 4.5 wide; a spring that arrives at
// 5 frames and overshoots by 15 % has ζ = −ln 0.15 ÷ √(π² + ln² 0.15) = 0.517 and, at 24 fps, (π − acos ζ) ÷ (5·√(1−ζ²))
// = 0.4939 radians a frame, 1.887 Hz; a cycle of 3 seconds has a harmonic each third of a hertz.
func TestHoverOfLines(t *testing.T) {
	more := hintSheet + `
follow head after hips
  spring    arrives 5f overshoot 15%
  nod       0.25 of side

quiver restless in fine
  band              0.5..2 Hz
  seed              1
  head/nod          1

layer fine
  strength  60%

house
  rule      level
  off-beat  note
`
	variant := "sheet doze\n  from      deckhand-wait in \"wait.motet\"\n\nchange\n  scale     hips/side   50%\n  delay     hips        2f\n"
	for _, row := range []struct{ name, sheet, at, over, want string }{
		{"a lag", hintSheet, "la‸g       4f", "lag       4f", "lag 4f  asked 4 frames · 0.167 s\nmeasured 4 frames, 0.167 s, where followers and leaders are 100 % alike"},
		{"a gain", hintSheet, "nod       -0.‸5", "nod       -0.5 of side", "nod -0.5 of side  gain -0.5 · `hips/side` moves by 4.5 cm\nadds "},
		{
			"a spring", strings.Replace(more, "follow head after hips\n  lag       4f\n  nod       -0.5 of side\n", "", 1), "spring    arr‸ives", "spring    arrives 5f overshoot 15%",
			"spring arrives 5f overshoot 15%  spring 1.887 Hz damping 0.517\nspring arrives 5f overshoot 15%\nmeasured ",
		},
		{"a band", more, "0.5..‸2 Hz", "band              0.5..2 Hz", "band 0.5..2 Hz  harmonics 2 to 6 of 3 s, from 0.667 to 2 Hz"},
		{"a channel of the followers", hintSheet, "no‸d       -0.5 of side", "nod", "head/nod  degrees, plus is “down”"},
		{"a channel of the leader", hintSheet, "of si‸de", "side", "hips/side  centimetres, plus is “to their left”"},
		{"a layer", more, "in ‸fine", "fine", "fine  layer that adds, at 60 %"},
		{"a rule of a house", more, "off-‸beat", "off-beat", "off-beat  warning"},
		{"a change", variant, "sca‸le", "scale     hips/side   50%", "scale hips/side 50%  changes 3 keys of 1 channel\n`hips/side` 3 keys: -1 cm to 1.25 cm, from -2 cm to 2.5 cm"},
		{"a delay", variant, "‸2f", "2f", "2f  2 frames"},
		{"a base", variant, "fr‸om ", "from      deckhand-wait in \"wait.motet\"", "72 frames · 3 s · 4 beats"},
	} {
		t.Run(row.name, func(t *testing.T) {
			files := map[string]*grammar.File{
				"deckhand.motet": grammar.Parse("deckhand.motet", deckhandRig), "wait.motet": grammar.Parse("wait.motet", hintSheet),
				"asked.motet": grammar.Parse("asked.motet", row.sheet),
			}
			before, after, _ := strings.Cut(row.at, "‸")
			offset := strings.Index(row.sheet, before+after) + len(before)
			at := refAt(files["asked.motet"], offset)
			c, ok := cardAt(resolved(files)["asked.motet"], at.Block, at.Line, at.Span.Start)
			require.True(t, ok)
			require.Equal(t, row.over, at.Block.Ref(at.Line, c.span).Text())
			require.Contains(t, c.plain(), row.want)
		})
	}
}
