package exchange

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// Over a rig without chains nothing can be planted: a line says which feet stand, and the rows that it gives make chains of
// their legs, with which they are planted. A clip in which no foot stands has no such line.
func TestARigWithoutChainsIsToldOf(t *testing.T) {
	files := map[string]puppet{"docker.glb": dockerClips()}
	bare, _ := importPuppets(t, files, []string{"docker.glb"}, AllOptions{Options: Options{NoPlants: true}})
	require.NotContains(t, bare.Rig.Text, "chains")

	all, _ := importPuppets(t, files, []string{"docker.glb"}, AllOptions{Over: overRig(t, bare.Rig.Name, bare.Rig.Text)})
	row := regexp.MustCompile("`(foot[^`]*)`")
	rows := map[string]bool{}
	for _, c := range all.Clips {
		require.NoError(t, c.Err)
		require.Empty(t, c.Plants)
		said := strings.Join(c.Report, "\n")
		want := map[string]string{
			"stand": "not planted, though standing still: foot.left from frame 0 to 48, foot.right from frame 0 to 48; the rig `docker` has no chain for that: write `foot.left ",
			"half":  "not planted, though standing still: foot.left from frame 0 to 36; the rig",
		}[c.SheetName]
		if want == "" {
			assert.NotContains(t, said, "not planted")
			continue
		}
		assert.Contains(t, said, want)
		for _, found := range row.FindAllStringSubmatch(said, -1) {
			rows[found[1]] = true
		}
	}
	require.Len(t, rows, 2)

	text := bare.Rig.Text + "\nchains\n  goal  root  middle  end  bends\n"
	for r := range rows {
		text += "  " + r + "\n"
	}
	text = grammar.Format(grammar.Parse(bare.Rig.Name, text))
	all, data := importPuppets(t, files, []string{"docker.glb"}, AllOptions{Over: overRig(t, bare.Rig.Name, text)})
	for i := range all.Clips {
		c := &all.Clips[i]
		require.NoError(t, c.Err)
		assert.NotContains(t, strings.Join(c.Report, "\n"), "not planted")
		assert.Len(t, c.Plants, map[string]int{"stand": 2, "half": 1}[c.SheetName], "%s: %s", c.SheetName, strings.Join(c.Report, "\n"))
		if c.SheetName == "stand" {
			requireWithin(t, DefaultWithin(), compare(t, withRig(all, c), data["docker.glb"], i))
		}
	}
}
