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

// TestSampledAgainWhereAChannelComesToRest: a joint that keeps still is placed in one step with what it stands on, which rounds
// otherwise than step by step.
func TestSampledAgainWhereAChannelComesToRest(t *testing.T) {
	const head = "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\ntrack hips\n  at   side  twist\n  0b   0.3   7\n  1b   3.1   -11\n  3b   -4.7  13\n\ntrack head\n  at  tilt\n  0b  3\n  2b  -7\n\n"
	texts := []string{}
	for _, one := range []string{"7.3", "9.1"} { // a spine that moves for some frames, or stays bent
		texts = append(texts, head+"track spine\n  at  lean\n  0b  7.3=\n  1b  "+one+"=\n  5/4b 7.3=\n"+limbRigBelow)
	}
	for from := range texts {
		read := NewProject(func(string) (*grammar.File, error) { return nil, nil })
		file := grammar.Parse("a.motet", texts[from])
		m := read.Resolve(file)
		require.Empty(t, m.Problems)
		sampled := m.SampledByFrame()
		for joint := range m.Rig.Joints {
			sampled.Place(joint, 0)
		}
		now := read.ResolveAgain(m, grammar.Reparse(file, "a.motet", texts[1-from]))
		require.True(t, sameSamples(now.SampledByFrame(), now.SampledAgain(sampled)), "from %d", from)
	}
}
