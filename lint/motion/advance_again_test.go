package motion

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// TestSampledAgainWhereAnAdvanceComesAndGoes: a figure that advances is worked out as a whole, and one that does not joint by
// joint, so neither can stand for the other.
func TestSampledAgainWhereAnAdvanceComesAndGoes(t *testing.T) {
	const before = "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n"
	for _, gain := range []string{"hips/side 20", "head/tilt 20", "hips/side 0"} { // of a channel with keys, and of one without
		texts := []string{before + "\n" + sway + limbRigBelow, before + "  advance " + gain + "\n\n" + sway + limbRigBelow}
		for from := range texts {
			read := NewProject(func(string) (*grammar.File, error) { return nil, nil })
			file := grammar.Parse("a.motet", texts[from])
			m := read.Resolve(file)
			require.True(t, m.Whole())
			sampled := m.SampledByFrame()
			sampled.Place(0, 0) // one joint alone
			now := read.ResolveAgain(m, grammar.Reparse(file, "a.motet", texts[1-from]))
			require.True(t, sameSamples(now.SampledByFrame(), now.SampledAgain(sampled)), "advance %s, from %d", gain, from)
		}
	}
}
