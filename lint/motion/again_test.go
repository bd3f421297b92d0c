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

// TestAKeyThatSaysOtherwiseMakesAnotherCurve changes one thing that a key says, which a curve that was taken over would not know.
func TestAKeyThatSaysOtherwiseMakesAnotherCurve(t *testing.T) {
	const head = "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n"
	const track = "\n\ntrack hips\n  at side\n  0b 1\n  1b 2@1,3\n  1.1s 5"
	const pose = "pose one\n  hips/side 1\n\npose two\n  hips/side 5\n\nblocking\n  at pose until drift\n"
	for _, row := range []struct{ name, old, new string }{
		{"the slope in", "track hips\n  at side\n  0b 1\n  1b 2@1,3\n  2b 5", "track hips\n  at side\n  0b 1\n  1b 2@2,3\n  2b 5"},
		{"the slope out", "track hips\n  at side\n  0b 1\n  1b 2@1,3\n  2b 5", "track hips\n  at side\n  0b 1\n  1b 2@1,4\n  2b 5"},
		{"an easing that is written out", "track hips\n  at side ease\n  0b 1 0.3,0,0.1,1\n  1b 2 .", "track hips\n  at side ease\n  0b 1 0.3,0,0.2,1\n  1b 2 ."},
		{"an easing that has a name", "eases\n  heavy 0.3,0,0.1,1\n\ntrack hips\n  at side ease\n  0b 1 heavy\n  1b 2 .", "eases\n  heavy 0.3,0,0.5,1\n\ntrack hips\n  at side ease\n  0b 1 heavy\n  1b 2 ."},
		{"a mark at the seam", "track hips\n  at side\n  0b 1\n  2b 2\n  4b 1^", "track hips\n  at side\n  0b 1~\n  2b 2\n  4b 1^"},
		{"the beat alone", "  beat 18f\n  cycle 72f" + track, "  beat 12f\n  cycle 72f" + track},
		{"the rate alone", "  rate 24 fps\n  beat 18f\n  cycle 4b" + track, "  rate 30 fps\n  beat 18f\n  cycle 4b" + track},
		{"the length alone", "  beat 18f\n  cycle 4b" + track, "  beat 18f\n  cycle 5b" + track},
		{"a span alone", "  beat 18f\n  cycle 4b" + track, "  beat 18f\n  span 4b" + track},
		{"a gain", "  beat 18f\n  cycle 4b\n  advance hips/side 20" + track, "  beat 18f\n  cycle 4b\n  advance hips/side 30" + track},
		{"a value of a pose", pose + "  0b one . .\n  2b two . .", strings.Replace(pose, "side 5", "side 4", 1) + "  0b one . .\n  2b two . ."},
		{"the end of a hold", pose + "  0b one 1b 10%\n  2b two . .", pose + "  0b one 3/2b 10%\n  2b two . ."},
		{"the drift of a hold", pose + "  0b one 1b 10%\n  2b two . .", pose + "  0b one 1b 20%\n  2b two . ."},
	} {
		t.Run(row.name, func(t *testing.T) {
			begin := head
			if strings.HasPrefix(row.old, " ") { // it has a header of its own
				begin = "sheet s\n  rig figure\n"
			}
			old, edited := begin+row.old+"\n"+limbRigBelow, begin+row.new+"\n"+limbRigBelow
			read := NewProject(func(string) (*grammar.File, error) { return nil, nil })
			file := grammar.Parse("a.motet", old)
			before := read.Resolve(file)
			require.Empty(t, before.Problems)
			now := read.ResolveAgain(before, grammar.Reparse(file, "a.motet", edited)).Channel("hips/side").Base
			anew := read.Resolve(grammar.Parse("a.motet", edited)).Channel("hips/side").Base
			require.Equal(t, anew.Curve.Extent(), now.Curve.Extent())
			require.Equal(t, anew.Curve.Knots(), now.Curve.Knots())
			require.NotSame(t, before.Channel("hips/side").Base.Curve, now.Curve)
		})
	}
}
