package server

import (
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
)

// Each way that is read from a usage, written out with atoms for its holes, must be a line that the grammar takes.
func TestEveryWayOfEveryUsageParses(t *testing.T) {
	atoms := map[string]string{"VALUE": "4", "AMPLITUDE": "4", "DEPTH": "4", "CONTROL/CHANNEL": "hips/side", "…": "glance"}
	for _, info := range grammar.Blocks() {
		check := func(kind grammar.LineKindInfo, before string) {
			ways := usageWays(kind)
			require.NotEmpty(t, ways, kind.Usage)
			for _, way := range ways {
				var line []string
				for _, p := range way {
					text := p.text
					if atom, ok := atoms[text]; ok {
						text = atom
					}
					line = append(line, text)
				}
				text := before + strings.Join(line, " ") + "\n"
				for _, b := range grammar.Parse("a.motet", text).Blocks {
					for i := range b.Lines {
						require.Nil(t, b.Lines[i].Fault, "%q: %v", text, b.Lines[i].Fault)
					}
				}
			}
		}
		check(info.Opener, "")
		opener, _ := sample(usageWays(info.Opener)[0])
		for _, kind := range info.Lines {
			check(kind, opener+"\n  ")
		}
	}
}

func TestNextParts(t *testing.T) {
	for _, row := range []struct {
		block grammar.BlockKind
		word  string
		line  string
		want  string
	}{
		{grammar.SheetBlock, "tempo", "tempo", "80 bpm"},
		{grammar.SheetBlock, "tempo", "tempo 72", "bpm"},
		{grammar.SheetBlock, "view", "view", "front side three-quarter round"},
		{grammar.SheetBlock, "from", "from", "NAME"},
		{grammar.SheetBlock, "from", "from keeper-wait", `in "FILE"`},
		{grammar.SheetBlock, "leaves", "leaves keeper-wait", `at 2b in "FILE" at 2b`},
		{grammar.FollowBlock, "spring", "spring", "1.8 Hz damping 0.45 arrives 5f overshoot 15%"},
		{grammar.FollowBlock, "spring", "spring arrives 7f", "overshoot 15%"},
		{grammar.FollowBlock, "", "swing 0.8", "of CHANNEL"},
		{grammar.ChangeBlock, "without", "without", "track CONTROL quiver NAME breath NAME follow CONTROL layer NAME plant notes blocking overlap"},
		{grammar.ChangeBlock, "without", "without track head", "in LAYER"},
		{grammar.PlantBlock, "", "foot.left 0b..4b", "on JOINT"},
		{grammar.SheetBlock, "tempo", "tempo 72 bpm", ""},
		{grammar.SheetBlock, "tempo", "tempo fast", ""},
	} {
		var kind grammar.LineKindInfo
		for _, k := range grammar.InfoOf(row.block).Lines {
			if k.Word == row.word {
				kind = k
			}
		}
		var got []string
		for _, parts := range nextParts(kind, atomsOf(row.line), row.line) {
			text, _ := sample(parts)
			got = append(got, text)
		}
		require.Equal(t, row.want, strings.Join(got, " "), row.line)
	}
	_, snippet := sample(usageWays(grammar.InfoOf(grammar.PoseBlock).Opener)[1])
	require.Equal(t, "pose ${1:NAME} mirrors ${2:OTHER}", snippet)
}
