package lint

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// mendedBy gives the text of an example with the first mend of a rule's first finding applied.
func mendedBy(t *testing.T, rule, text string) string {
	t.Helper()
	m := ResolveExample(text)
	for _, finding := range Check(m) {
		if finding.Rule == rule && len(finding.Mends) > 0 {
			mended, ok := Apply(m.File, finding.Mends[0])
			require.True(t, ok, finding.Message)
			return mended
		}
	}
	require.Fail(t, "no mend", "%s has none for\n%s", rule, text)
	return ""
}

func TestMendsOfLines(t *testing.T) {
	head := "sheet s\n  rig       small in \"small.motet\"\n  cycle     4s\n  grid      6f\n\n"
	for _, c := range []struct{ name, rule, text, want string }{
		{
			"a dropped key leaves an empty cell", "spare-key",
			"track head\n  at      nod     turn\n  0f      5       1\n  24f     5       -4\n  48f     5       .\n  72f     0       .\n",
			"track head\n  at      nod     turn\n  0f      5       1\n  24f     .       -4\n  48f     5       .\n  72f     0       .\n",
		},
		{
			"what was pushed aside comes back to its column", "spare-key",
			"track head\n  at      nod     turn    # to them\n  0f      5       1\n  24f     5@0,0.0000 -4\n  48f     5       .\n  72f     0       .\n",
			"track head\n  at      nod     turn    # to them\n  0f      5       1\n  24f     .       -4\n  48f     5       .\n  72f     0       .\n",
		},
		{
			"hand-set columns stay where they are", "spare-key",
			"track head\n  at   nod   turn\n  0f   5     1\n  24f  5     -4\n  48f  5     .\n  72f  0     .\n",
			"track head\n  at   nod   turn\n  0f   5     1\n  24f  .     -4\n  48f  5     .\n  72f  0     .\n",
		},
		{
			"the last row goes without a line end", "same-time",
			"track head\n  at      nod\n  48f     1\n  0f      5\n  48f     2",
			"track head\n  at      nod\n  0f      5\n  48f     2",
		},
		{
			"the comments above a row travel with it", "outside-cycle",
			"track head\n  at      nod\n  0f      5\n  48f     1\n  # over the rail\n  # and back\n  120f    2       # there\n",
			"track head\n  at      nod\n  0f      5\n  # over the rail\n  # and back\n  24f     2       # there\n  48f     1\n",
		},
		{
			"a row before the first comes to stand below the names", "outside-cycle",
			"track head\n  at      nod\n  24f     5\n  48f     1\n  102f    2\n",
			"track head\n  at      nod\n  6f      2\n  24f     5\n  48f     1\n",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, head+c.want, mendedBy(t, c.rule, head+c.text))
			// The same with the line ends of another system.
			crlf := strings.ReplaceAll(head+c.text, "\n", "\r\n")
			assert.Equal(t, strings.ReplaceAll(head+c.want, "\n", "\r\n"), mendedBy(t, c.rule, crlf))
		})
	}
}

func TestABlockGoesWithItsCommentsAndOneGap(t *testing.T) {
	sheet := "sheet s\n  rig       small in \"small.motet\"\n  cycle     4s\n\n"
	pose := "# kept for a storm\npose low\n  hips/drop         -2        # as low as she goes\n"
	track := "# the sway\ntrack hips\n  at      side\n  0s      2\n  2s      -2\n"
	assert.Equal(t, sheet+track, mendedBy(t, "unused-name", sheet+pose+"\n"+track))
	assert.Equal(t, sheet+track, mendedBy(t, "unused-name", sheet+track+"\n"+pose))
}

func TestAMendOfAnotherFileIsNotApplied(t *testing.T) {
	m := ResolveExample(seamGap().Doc.Bad)
	other := grammar.Parse("other.motet", m.File.Text)
	_, ok := Apply(other, Check(m)[0].Mends[0])
	assert.False(t, ok)
}
