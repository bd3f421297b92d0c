package motion

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// manyVoices is a sheet in which each kind of thing that can move a channel moves one.
const manyVoices = `sheet s
  rig       figure
  rate      24 fps
  tempo     80 bpm
  cycle     4b
  advance   hips/side 3

track hips
  at   side  drop
  0b   0     1
  1b   3     2
  3b   -4    1
  4b   3     .

track spine
  at   lean
  1b   5
  3b   -5

track head in glance
  at   tilt
  0b   0
  2b   4

layer glance
  strength 60%

overlap
  spine  3f

follow head after spine
  lag   3f
  tilt  -0.5 of lean

follow wrist.left after head
  lag     2f
  spring  1.5 Hz damping 0.4
  turn    0.3 of tilt

quiver alive
  band 0.5..2 Hz
  seed 3
  hips/twist   0.5
  wrist.right/turn  1

breath rest
  count 1
  hips/drop  1

plant
  foot.left 1b..2b
` + limbRigBelow

// TestVoicesChangeWithWhatIsHeard edits one thing of a sheet. Channels of which the edit changes nothing keep their voice, the
// others get a new one; and whatever has the voice of before has the values of before, bit for bit.
func TestVoicesChangeWithWhatIsHeard(t *testing.T) {
	all := []string{"hips/side", "hips/drop", "hips/twist", "spine/lean", "head/tilt", "wrist.left/turn", "wrist.right/turn", "foot.left/side"}
	for _, row := range []struct {
		name, old, new string
		changed        []string
	}{
		{"a key", "1b   3     2", "1b   2     2", all[:1]},
		{"a key's shape", "1b   3     2", "1b   3^    2", all[:1]},
		{"a key of a leader", "3b   -5", "3b   -6", []string{"spine/lean", "head/tilt", "wrist.left/turn"}},
		{"a key of a leader's layer, which no follower reads", "2b   4", "2b   5", []string{"head/tilt", "wrist.left/turn"}},
		{"the layer's strength", "strength 60%", "strength 50%", []string{"head/tilt", "wrist.left/turn"}},
		{"the layer's mode", "strength 60%", "strength 60%\n  replaces", []string{"head/tilt", "wrist.left/turn"}},
		{"the layer's name, by which a curve is found again", "glance", "look", []string{"head/tilt", "wrist.left/turn"}},
		{"the lateness of a leader", "spine  3f", "spine  4f", []string{"spine/lean", "head/tilt", "wrist.left/turn"}},
		{"a lag", "lag   3f", "lag   4f", []string{"head/tilt", "wrist.left/turn"}},
		{"a gain", "-0.5 of lean", "-0.4 of lean", []string{"head/tilt", "wrist.left/turn"}},
		{"a spring", "damping 0.4", "damping 0.5", []string{"wrist.left/turn"}},
		{"a quiver's seed", "seed 3", "seed 4", []string{"hips/twist", "wrist.right/turn"}},
		{"a quiver's band", "0.5..2 Hz", "0.5..3 Hz", []string{"hips/twist", "wrist.right/turn"}},
		{"one of a quiver's amplitudes", "right/turn  1", "right/turn  2", []string{"wrist.right/turn"}},
		{"a quiver's name", "quiver alive", "quiver awake", nil},
		{"a breath's count", "count 1", "count 2", []string{"hips/drop"}},
		{"an advance", "side 3\n", "side 4\n", all[:1]},
		{"a length", "cycle     4b", "cycle     5b", all},
		{"a tempo", "tempo     80 bpm", "tempo     90 bpm", all},
		{"a rate", "rate      24 fps", "rate      25 fps", all},
		{"a plant, which no channel hears", "1b..2b", "1b..3b", nil},
		{"a comment", "track spine", "# of the back\ntrack spine", nil},
		{"a row's place", "  0b   0     1\n", "\n  0b   0     1\n", nil},
		{"a number's spelling", "1b   3     2", "1b   3.0   2", nil},
		{"a block's place", "follow head after spine\n  lag   3f\n  tilt  -0.5 of lean\n", "", []string{"head/tilt", "wrist.left/turn"}},
		{"the rig", "  height 100", "  height 101", all},
	} {
		t.Run(row.name, func(t *testing.T) {
			read := func() *Project { return NewProject(func(string) (*grammar.File, error) { return nil, nil }) }
			file := grammar.Parse("a.motet", manyVoices)
			before := read().Resolve(file)
			require.Empty(t, before.Problems)
			edited := strings.ReplaceAll(manyVoices, row.old, row.new)
			require.NotEqual(t, manyVoices, edited)
			for _, b := range grammar.Parse("a.motet", edited).Blocks {
				require.True(t, b.Plain, b.Lines)
			}
			now := read().ResolveAgain(before, grammar.Reparse(file, "a.motet", edited))
			require.Empty(t, now.Problems)
			anew := read().Resolve(grammar.Parse("a.motet", edited))
			var changed []string
			for _, path := range all {
				old, c, want := before.Channel(path), now.Channel(path), anew.Channel(path)
				require.NotNil(t, c.Voice)
				if c.Voice != old.Voice {
					changed = append(changed, path)
				}
				for frame := -3.5; frame < 95; frame += 0.7 {
					require.Equal(t, math.Float64bits(want.At(frame)), math.Float64bits(c.At(frame)), "%s at %g", path, frame)
					if c.Voice == old.Voice {
						require.Equal(t, math.Float64bits(old.At(frame)), math.Float64bits(c.At(frame)), "%s at %g", path, frame)
					}
				}
			}
			require.Equal(t, row.changed, changed)
		})
	}
}
