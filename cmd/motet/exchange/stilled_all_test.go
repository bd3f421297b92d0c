package exchange

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// jitterClips is a file in which a docker's feet jitter in one clip, stand in another, and swing in the air in a third.
func jitterClips() puppet {
	p := dockerClips()
	jitter := jittering(0.1, false).puppet().clips[0]
	jitter.name = "Jitter"
	p.clips[1] = jitter
	p.clips = p.clips[:3]
	return p
}

// Feet that jitter in one of several clips are planted where that is asked for, in a new rig and over one that there is; the
// other clips are what they are without. How far the sheet is from the clip is what its report says, by an evaluation that
// shares nothing with the importer.
func TestStillFeetOfSeveralClips(t *testing.T) {
	files := map[string]puppet{"docker.glb": jitterClips()}
	plain, _ := importPuppets(t, files, []string{"docker.glb"}, AllOptions{})
	asked := Options{StillCM: 0.2}
	made, data := importPuppets(t, files, []string{"docker.glb"}, AllOptions{Options: asked})
	over, _ := importPuppets(t, files, []string{"docker.glb"}, AllOptions{Options: asked, Over: overRig(t, made.Rig.Name, made.Rig.Text)})
	for i := range plain.Clips {
		require.NoError(t, plain.Clips[i].Err)
		if plain.Clips[i].SheetName != "jitter" {
			assert.Equal(t, plain.Clips[i].Plants, made.Clips[i].Plants)
			requireWithin(t, DefaultWithin(), compare(t, made.Clips[i].Result, data["docker.glb"], i))
			continue
		}
		assert.Empty(t, plain.Clips[i].Plants)
		for _, all := range []*AllResult{made, over} {
			c := &all.Clips[i]
			require.NoError(t, c.Err)
			said := strings.Join(c.Report, "\n")
			assert.False(t, c.Outside, said)
			requirePlants(t, []PlantReport{{Goal: "foot.left", From: 0, To: 72}, {Goal: "foot.right", From: 0, To: 72}}, c.Plants, 3)
			off := compare(t, withRig(all, c), data["docker.glb"], i)
			assert.InDelta(t, off.turnDeg, c.Off.TurnDeg, 0.03)
			assert.InDelta(t, off.worldCM, c.Off.WorldCM, 0.05)
			assert.Greater(t, off.turnDeg, DefaultWithin().TurnDeg)
			assert.Contains(t, said, "held still where it stays within 0.2 cm: foot.left ")
			assert.Contains(t, said, "own turn "+roundUp(c.Off.TurnDeg, 3)+"°")
			assert.Contains(t, c.SheetText, "of it, with what stays within 0.2 cm held still.\n")
		}
	}

	// What moves farther than was asked is left as it is.
	moving := jitterClips()
	moving.clips = moving.clips[1:]
	files = map[string]puppet{"docker.glb": moving}
	plain, _ = importPuppets(t, files, []string{"docker.glb"}, AllOptions{})
	none, _ := importPuppets(t, files, []string{"docker.glb"}, AllOptions{Options: Options{StillCM: 0.01}})
	assert.Equal(t, plain.Rig.Text, none.Rig.Text)
	for i := range plain.Clips {
		assert.Equal(t, plain.Clips[i].SheetText, none.Clips[i].SheetText)
	}
}
