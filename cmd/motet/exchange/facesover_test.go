package exchange

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A clip that comes later finds its face among the dials of the rig that there is; what none of them can do is named.
func TestFacesOverARig(t *testing.T) {
	first, _ := importFile(t, smiling(t), Options{})
	over := overRig(t, first.RigFile, strings.Replace(first.RigText, "mouth/smile ", "head/smile  ", 2))
	doc := smiling(t)
	data := glb(t, doc)
	all, err := ImportAll(AllOptions{Paths: []string{"lamp.glb"}, Over: over, Options: Options{ReadFile: inMemory(map[string][]byte{"lamp.glb": data})}})
	require.NoError(t, err)
	require.NoError(t, all.Clips[0].Err)
	assert.Equal(t, over.Text, all.Rig.Text, "it needs nothing more")
	r := withRig(all, &all.Clips[0])
	m := resolve(t, r)
	requireWeights(t, m, data, 0, 0.5)
	assert.Equal(t, 1, strings.Count(r.SheetText, "track head\n"), "joints and targets of one control share a track")
	assert.NotContains(t, strings.Join(all.Report, "\n"), "morph target")

	// Without its pout, and with the beard on a dial that moves the mouth otherwise.
	less := strings.Replace(over.Text, "morph.pout ", "morph.sulk ", 1)
	less = strings.Replace(less, "morph.Beard.Smile 1", "morph.Beard.Smile 0.5", 1)
	all, err = ImportAll(AllOptions{Paths: []string{"lamp.glb"}, Over: overRig(t, over.File, less), Options: Options{ReadFile: inMemory(map[string][]byte{"lamp.glb": data})}})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(all.Report, "\n"), "3 morph targets are left out, since no dial of the rig moves them so: Mouth Smile, pout, Beard.Smile")
}
