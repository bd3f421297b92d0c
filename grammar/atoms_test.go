package grammar

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const (
	reNumber  = `[+-]?\d+(?:\.\d+)?`
	reTime    = `[+-]?(?:\d+(?:\.\d+|/\d+)?[fbs])(?:[+-]\d+(?:\.\d+|/\d+)?[fbs])*`
	reUnit    = `(?:(?i:cm/s|deg/s|cm|deg|hz|bpm|fps)|%|s|f)`
	reSegment = `(?:[\pL\pM\pN_-]*[\pL\pM\pN_])`
	reWord    = `\pL(?:[\pL\pM\pN_-]*[\pL\pM\pN_])?(?:\.` + reSegment + `)*`
)

// reCount is a unit of limits alone.
const reCount = `(?i:keys|joints|kB|x)`

// classes define the atoms: the first whose expression fits the whole atom counts. They are written down from the
// language's description, and Classify is held to them.
var classes = []struct {
	class Class
	expr  string
}{
	{Dot, `\.`},
	{Number, reNumber},
	{Marked, reNumber + `(?:[~^>=]|@` + reNumber + `(?:,` + reNumber + `)?)`},
	{TimeAtom, reTime},
	{Percent, reNumber + `%`},
	{Quantity, `(?:` + reNumber + `|\d+/\d+)` + reUnit},
	{Word, reWord},
	{Path, reWord + `/` + reWord},
	{Pattern, `[\pL\pM\pN_.*-]+(?:/[\pL\pM\pN_.*-]+)?`},
	{RangeAtom, `(?:` + reNumber + `|` + reTime + `)\.\.(?:` + reTime + `|` + reNumber + reUnit + `?)`},
	{Direction, `[+-][xyz]`},
	{Easing, reNumber + `(?:,` + reNumber + `){3}`},
	{Limits, reNumber + `(?:` + reUnit + `|` + reCount + `)(?:,` + reNumber + `(?:` + reUnit + `|` + reCount + `))+|` + reNumber + reCount},
	{Fraction, `\d+/\d+`},
	{Unit, `%`},
}

// byExpressions classifies an atom by the expressions.
func byExpressions() func(atom string) Class {
	compiled := make([]*regexp.Regexp, len(classes))
	for i, c := range classes {
		compiled[i] = regexp.MustCompile(`^(?:` + c.expr + `)$`)
	}
	return func(atom string) Class {
		for i, c := range classes {
			if compiled[i].MatchString(atom) && (c.class != Pattern || strings.Contains(atom, "*")) {
				return c.class
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
