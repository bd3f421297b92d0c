package motion

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// TestMisspeltBlocksAreReadAgain edits a block whose word is misspelt, and which nothing else has than what it may be meant to
// give: what rests on that is told as in a file that is read anew.
func TestMisspeltBlocksAreReadAgain(t *testing.T) {
	const sheet = "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n" + sway + "\ntrack tail\n  at wag\n  0b 1\n\n"
	rig := strings.Replace(limbRig, "\nchains\n", "\nchannals\n  channel joint drives gain unit range mirror positive\n  tail/wag . turn.y 1 deg -9..9 flip \"left\"\n\njonts\n  joint on x y z\n  tail hips 0 0 0\n\nchains\n", 1)
	rig = strings.Replace(rig, "  hips/twist       .  ", "  hips/twist       tail", 1)
	require.NotEqual(t, limbRig, rig)
	for _, edit := range [][2]string{{"  tail/wag", "  tial/wag"}, {"  tail hips", "  tial hips"}, {"channals", "chonnals"}} {
		read := func() *Project { return NewProject(func(string) (*grammar.File, error) { return nil, nil }) }
		file := grammar.Parse("a.motet", sheet+rig)
		m := read().Resolve(file)
		text := strings.Replace(sheet+rig, edit[0], edit[1], 1)
		require.NotEqual(t, sheet+rig, text)
		again := read().ResolveAgain(m, grammar.Reparse(file, "a.motet", text))
		anew := read().Resolve(grammar.Parse("a.motet", text))
		require.Equal(t, told(anew), told(again), edit[1])
		back := read().ResolveAgain(again, grammar.Reparse(again.File, "a.motet", sheet+rig))
		require.Equal(t, told(m), told(back), edit[0])
	}
}

func told(m *Motion) (out []string) {
	for _, p := range m.Problems {
		out = append(out, p.At.Text()+": "+p.Message)
	}
	return out
}
