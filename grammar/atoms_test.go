package grammar

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// byExpressions classifies an atom by the expressions.
func byExpressions() func(atom string) Class {
	classes := Expressions()
	compiled := make([]*regexp.Regexp, len(classes))
	for i, c := range classes {
		compiled[i] = regexp.MustCompile(`^(?:` + c.Expression + `)$`)
	}
	return func(atom string) Class {
		for i, c := range classes {
			if compiled[i].MatchString(atom) {
				return c.Class
			}
		}
		return Illegal
	}
}

func TestClassifyIsWhatTheExpressionsSay(t *testing.T) {
	define := byExpressions()
	for _, atom := range oddAtoms {
		assert.Equal(t, define(atom), Classify(atom), "%q", atom)
	}
	pieces := []string{
		"0", "1", "12", "3.5", "1/2", ".", "..", "-", "+", "/", ",", "*", "@", "~", "^", ">", "=", "%", "_", "f", "b", "s",
		"x", "z", "a", "hips", "arm.left", "cm", "deg", "DEG/S", "cm/s", "hz", "Hz", "bpm", "fps", "é", "e\u0301", "港", "½", "٣", "ſ", "K",
		"\u00a0", "\u200b", "\xff", "−", "\ufeff", "F", "1f", "2b", "0.5s",
	}
	rapid.Check(t, func(t *rapid.T) {
		atom := strings.Join(rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 8).Draw(t, "pieces"), "")
		require.Equal(t, define(atom), Classify(atom), "%q", atom)
	})
}

func FuzzClassify(f *testing.F) {
	for _, atom := range oddAtoms {
		f.Add(atom)
	}
	define := byExpressions()
	f.Fuzz(func(t *testing.T, atom string) {
		assert.Equal(t, define(atom), Classify(atom), "%q", atom)
	})
}
