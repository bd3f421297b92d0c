package server

import (
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
)

// The numbers by hand: a cycle of 4 beats at 80 a minute is 3 s, so two breaths in it take 1.5 s, 40 a minute; a third of
// that is 0.5 s. The head stands 40 cm above hips that are 50 cm up.
func TestHoverOfWordsAndRigs(t *testing.T) {
	sheet := "sheet wait\n  rig       deckhand in \"deckhand.motet\"\n  tempo     80 bpm\n  cycle     4b\n  view      side\n\n" +
		"track hips in fine every 2b\n  at      side\n  0b      1\n\nlayer fine\n  adds\n\nbreath calm\n  count             2\n  inhale            40%\n  pause             10%\n  starts            1/2b\n  hips/side         1\n\n" +
		"quiver restless\n  band              0.5..2 Hz\n  seed              1\n  head/nod          1\n\nplant\n  head      0b..1b\n"
	for _, row := range []struct{ name, text, at, want string }{
		{"a block's word", sheet, "tra‸ck", "track  the keys of one control, one row a moment and one column a channel\nis written `track CONTROL [in LAYER] [every 1b]`"},
		{"a word in a block's line", sheet, "eve‸ry", "every  the keys of one control, one row a moment and one column a channel\nis written `track CONTROL [in LAYER] [every 1b]`"},
		{"a line's word", sheet, "see‸d", "seed  is written `seed 7`"},
		{"a choice", sheet, "view      si‸de", "side  is written `view front, side, three-quarter or round`"},
		{"a word alone", sheet, "add‸s", "fine  layer that adds, at 100 %"},
		{"a breath", sheet, "ca‸lm", "calm  a breath takes 1.5 s · 40 a minute\nin for 0.6 s, out for 0.75 s, still for 0.15 s\nat rest `deckhand` breathes 12 to 20 times a minute"},
		{"a breath's count", sheet, "cou‸nt", "count 2  a breath takes 1.5 s · 40 a minute\nin for 0.6 s, out for 0.75 s, still for 0.15 s\nat rest `deckhand` breathes 12 to 20 times a minute"},
		{"when it starts", sheet, "starts            1‸/2b", "1/2b  frame 9 · 0.375 s · beat ½\non the grid of ½ beat\n12.5 % of the cycle"},
		{"a quiver", sheet, "rest‸less", "restless  harmonics 2 to 6 of 3 s, from 0.667 to 2 Hz"},
		{"what is planted", sheet, "  he‸ad      0b", "head  joint, part head, on `hips`\nrests 90 cm up, 0 cm to its left, 0 cm forward\nmoved by `head/nod`"},
		{"a joint", deckhandRig, "  hi‸ps            .  ", "hips  joint, part root\nrests 50 cm up, 0 cm to its left, 0 cm forward\ncarries `head`\nmoved by `hips/side`"},
		{"a dial", deckhandRig, "hips/si‸de", "hips/side  centimetres, plus is “to their left”\nthe rig allows -12 cm to 12 cm, rests at 0 cm\nmoves `hips` along x, gain 1"},
		{"a rig's line", deckhandRig, "hei‸ght", "height  is written `height 168`"},
		{"no word of the language", sheet, "0b..‸1b\n", "1b  frame 18"},
	} {
		t.Run(row.name, func(t *testing.T) {
			files := map[string]*grammar.File{"deckhand.motet": grammar.Parse("deckhand.motet", deckhandRig), "wait.motet": grammar.Parse("wait.motet", row.text)}
			before, after, _ := strings.Cut(row.at, "‸")
			require.Contains(t, row.text, before+after)
			at := refAt(files["wait.motet"], strings.Index(row.text, before+after)+len(before))
			c, ok := cardAt(resolved(files)["wait.motet"], at.Block, at.Line, at.Span.Start)
			require.True(t, ok)
			require.True(t, strings.HasPrefix(c.plain(), row.want), c.plain())
			require.True(t, c.span.Contains(at.Span.Start))
		})
	}
}

func TestEveryBlockSaysWhatItIsFor(t *testing.T) {
	for _, block := range grammar.Blocks() {
		require.NotEmpty(t, blockTells[block.Kind], block.Word)
	}
	require.Len(t, blockTells, len(grammar.Blocks()))
}
