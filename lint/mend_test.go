package lint

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/motet-sheet/motet/grammar"
)

// TestErrorsAreMendedFirst has a key that is spare only as long as the closing row is wrong: mended together, the two
// would leave nothing of the motion.
func TestErrorsAreMendedFirst(t *testing.T) {
	text := ExampleSheet("track hips\n  at      side\n  0b      2\n  2b      3\n  4b      4\n")
	trees := func(path string) (*grammar.File, error) { return grammar.Parse(path, ExampleRig), nil }
	mended := MendAll(grammar.Parse("example.motet", text), trees, nil)
	assert.Equal(t, ExampleSheet("track hips\n  at      side\n  0b      2\n  2b      3\n  4b      2\n"), mended.File.Text)
	if assert.Len(t, mended.Done, 1) {
		assert.Equal(t, "seam-gap", mended.Done[0].Rule)
	}
	assert.Empty(t, mended.Left)
}

// TestALineIsReadWhateverItShows has a comma whose mend lets the seam be reported, which was open all the time.
func TestALineIsReadWhateverItShows(t *testing.T) {
	trees := func(path string) (*grammar.File, error) { return grammar.Parse(path, ExampleRig), nil }
	text := ExampleSheet("track hips\n  at      side\n  0b      2\n  2b      3\n  4b      1,5\n")
	mended := MendAll(grammar.Parse("example.motet", text), trees, nil)
	if assert.Len(t, mended.Done, 2) {
		assert.Equal(t, "write `1.5`", mended.Done[0].Title)
		assert.Equal(t, "seam-gap", mended.Done[1].Rule)
	}
}

// TestAMendThatDoesHarmHoldsUpNoOther has a gap at the seam, behind which its speed jumps too, and rows out of order.
func TestAMendThatDoesHarmHoldsUpNoOther(t *testing.T) {
	text := ExampleSheet("track hips\n  at      side\n  0b      2.1@-1,2\n  2b      -3\n  4b      4^\n\ntrack head\n  at      nod\n  2b      3\n  0b      1\n")
	trees := func(path string) (*grammar.File, error) { return grammar.Parse(path, ExampleRig), nil }
	mended := MendAll(grammar.Parse("example.motet", text), trees, nil)
	assert.Contains(t, mended.File.Text, "  4b      4^\n")
	assert.Contains(t, mended.File.Text, "  0b      1\n  2b      3\n")
	assert.Len(t, mended.Held, 1)
	for _, f := range mended.Left {
		if f.Rule == "seam-gap" {
			assert.True(t, mended.Held[Held{f.Rule, f.Message, f.Mends[0].Title}])
		}
	}
}

// TestSlipsOfOneLineAreMendedTogether has rows with two slips each, and one whose second fault nobody can mend.
func TestSlipsOfOneLineAreMendedTogether(t *testing.T) {
	trees := func(path string) (*grammar.File, error) { return grammar.Parse(path, ExampleRig), nil }
	for broken, want := range map[string]string{
		"-1,5  -0,5":  "-1.5  -0.5",
		"−1    −0,5":  "-1    -0.5",
		"1,    0,5":   "1    0.5",
		"1,    5b":    "1    5b",
		"1,5 2; slow": "1.5 2 # slow",
	} {
		head := "track hips\n  at      side  tilt\n  0b      0  0\n  1b      "
		tail := "\n  3b      -3  2\n"
		mended := MendAll(grammar.Parse("example.motet", ExampleSheet(head+broken+tail)), trees, nil)
		assert.Equal(t, ExampleSheet(head+want+tail), mended.File.Text)
		assert.Len(t, mended.Done, 1)
		assert.Empty(t, MendAll(mended.File, trees, nil).Done, "the second time")
	}
}
