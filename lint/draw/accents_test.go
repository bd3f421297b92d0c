package draw

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// The whole body goes along with the hips, so how far it is apart is what the dial says; the rig is 168 cm tall, of which
// a twentieth is 8.4.
func TestAccentsAreWhereTheBodyIsElsewhere(t *testing.T) {
	rig, err := os.ReadFile("../../testdata/quay/quayfolk.motet")
	require.NoError(t, err)
	trees := func(name string) (*grammar.File, error) { return grammar.Parse(name, string(rig)), nil }
	const head = "sheet a\n  rig quayfolk in \"quayfolk.motet\"\n  tempo 60 bpm\n  cycle 4b\n\n"
	for _, row := range []struct {
		name, text string
		most       int
		want       []moment
	}{
		{"an extreme beside the start, and one that is hardly elsewhere", "track hips\n  at side\n  0b 0\n  1b 10\n  2b -8\n", 6, []moment{{0, ""}, {24, "hips/side"}}},
		{"both", "track hips\n  at side\n  0b 0\n  1b 10\n  2b -9\n", 6, []moment{{0, ""}, {24, "hips/side"}, {48, "hips/side"}}},
		{"no more than are asked for: the furthest", "track hips\n  at side\n  0b 0\n  1b 10\n  2b -9\n", 2, []moment{{0, ""}, {24, "hips/side"}}},
		{"a key that is passed through is none", "track hips\n  at side\n  0b 0\n  1b 10>\n  2b 20\n", 6, []moment{{0, ""}, {48, "hips/side"}}},
		{"rows of the blocking, and what goes beyond them", "pose up\n  hips/drop 1\n\nblocking\n  at pose\n  0b up\n  2b up\n  4b up\n\ntrack hips\n  at ahead\n  0b 0\n  5/2b 0\n  3b 12\n", 6, []moment{{0, "up"}, {48, "up"}, {72, "hips/ahead"}}},
		{"all rows of the blocking, however many", "pose up\n  hips/drop 1\n\nblocking\n  at pose\n  0b up\n  2b up\n", 1, []moment{{0, "up"}, {48, "up"}}},
		{"a table that repeats", "track hips every 2b\n  at side\n  0b 0\n  1b 10\n\ntrack spine\n  at lean\n  0b 0\n  5/2b 0\n  3b 50\n  7/2b 0\n", 6, []moment{{0, ""}, {24, "hips/side"}, {72, "spine/lean"}}},
		{"eyes dart when they like", "track eyes\n  at side\n  0b 0=\n  1b 20=\n", 6, []moment{{0, ""}, {24, ""}, {48, ""}, {72, ""}}},
		{"nothing has a key", "", 6, []moment{{0, ""}, {24, ""}, {48, ""}, {72, ""}}},
	} {
		m := motion.NewProject(trees).Resolve(grammar.Parse("a.motet", head+row.text))
		require.True(t, m.Whole(), row.name)
		assert.Equal(t, row.want, accents(m, row.most), row.name)
	}
}
