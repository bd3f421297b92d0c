package motion

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// TestWhatAnEditLeavesAloneIsTakenOver edits one block of a sheet, and looks at which curves and strands are those of the motion
// before. A strand may only be taken over where its keys stand where they stood; its curve wherever they play as they did.
func TestWhatAnEditLeavesAloneIsTakenOver(t *testing.T) {
	const text = `sheet s
  rig figure
  tempo 80 bpm
  cycle 4b

track foot.left
  at   side  knee
  0b   0     0
  1b   2     .
  2b   4     10

track foot.right
  at   side
  0b   1
  2b   2
` + limbRigBelow
	for _, row := range []struct {
		name, old, new string
		curves         map[string]bool // whether each channel's curve is taken over
	}{
		{"another value", "1b   2     .", "1b   3     .", map[string]bool{"foot.left/side": false, "foot.left/knee": true}},
		{"a row more", "1b   2     .", "1b   2     .\n  3/2b 3     .", map[string]bool{"foot.left/side": false, "foot.left/knee": true}},
		{"a row less", "  1b   2     .\n", "", map[string]bool{"foot.left/side": false, "foot.left/knee": true}},
		{"a key more", "1b   2     .", "1b   2     3", map[string]bool{"foot.left/side": true, "foot.left/knee": false}},
		{"another time", "2b   4     10", "3b   4     10", map[string]bool{"foot.left/side": false, "foot.left/knee": false}},
		{"a shape", "2b   4     10", "2b   4^    10", map[string]bool{"foot.left/side": false, "foot.left/knee": true}},
		{"a mark that changes nothing", "2b   4     10", "2b   4~    10", map[string]bool{"foot.left/side": false, "foot.left/knee": true}},
		{"wider columns", "2b   4     10", "2b   4       10", map[string]bool{"foot.left/side": true, "foot.left/knee": true}},
		{"a time spelt another way", "1b   2     .", "18f  2     .", map[string]bool{"foot.left/side": true, "foot.left/knee": true}},
		{"a comment", "1b   2     .", "1b   2     .  # to the left", map[string]bool{"foot.left/side": true, "foot.left/knee": true}},
		{"a line of its own", "0b   0     0", "0b   0     0\n  # and so on", map[string]bool{"foot.left/side": true, "foot.left/knee": true}},
		{"another length", "cycle 4b", "cycle 5b", map[string]bool{"foot.left/side": false, "foot.left/knee": false, "foot.right/side": false}},
		{"another period", "track foot.left", "track foot.left every 2b", map[string]bool{"foot.left/side": false, "foot.left/knee": false}},
		{"the block in a layer", "track foot.left", "track foot.left in more", map[string]bool{"foot.left/side": false, "foot.left/knee": false}},
	} {
		t.Run(row.name, func(t *testing.T) {
			read := NewProject(func(string) (*grammar.File, error) { return nil, nil })
			file := grammar.Parse("a.motet", text)
			before := read.Resolve(file)
			require.Empty(t, before.Problems)
			edited := strings.Replace(text, row.old, row.new, 1)
			require.NotEqual(t, text, edited)
			now := read.ResolveAgain(before, grammar.Reparse(file, "a.motet", edited))
			anew := read.Resolve(grammar.Parse("a.motet", edited))
			for _, path := range []string{"foot.left/side", "foot.left/knee", "foot.right/side"} {
				taken, said := row.curves[path]
				old, c := before.Channel(path), now.Channel(path)
				if c.Base == nil {
					require.False(t, taken)
					continue
				}
				require.Equal(t, taken || !said, old.Base.Curve == c.Base.Curve, path)
				require.Equal(t, !said, old.Base == c.Base, path)
				require.Equal(t, anew.Channel(path).Base.Curve.Knots(), c.Base.Curve.Knots(), path)
				for i, k := range c.Base.Keys { // wherever its curve comes from, a key stands where the new text has it
					require.Equal(t, anew.Channel(path).Base.Keys[i].At.Text(), k.At.Text(), path)
				}
			}
		})
	}
}
