package exchange

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The whole cast becomes a file for each of its rigs, whose clips three plays as their sheets have them, and which the
// validator accepts.
func TestTheCastByItsRigs(t *testing.T) {
	long(t)
	sheets := cast(t)
	var takes []*Take
	for _, name := range slices.Sorted(maps.Keys(sheets)) {
		take, err := NewTake(sheets[name], TakeWish{})
		require.NoError(t, err)
		takes = append(takes, take)
	}
	var names, files []string
	var playings []playing
	for _, one := range ByRig(takes) {
		data, err := WriteGLB(one.Takes)
		require.NoError(t, err)
		file := filepath.Join(t.TempDir(), one.Name+".glb")
		require.NoError(t, os.WriteFile(file, data, 0o666))
		names, files = append(names, one.Name), append(files, file)
		for clip, take := range one.Takes {
			playings = append(playings, playing{take, file, clip, same})
		}
	}
	assert.Equal(t, []string{"apprentice", "quayfolk", "cooper"}, names)
	assert.Len(t, playings, len(sheets))
	requireValid(t, files...)
	place, turn := playedOff(t, playings...)
	for i, p := range playings {
		assert.Less(t, place[i], 1e-4, p.take.Name)
		assert.Less(t, turn[i], 1e-6, p.take.Name)
	}

	// Rigs of one name are told apart, also where only capitals do that.
	other := *takes[0].Motion.Rig
	other.Name = "QuayFolk"
	motion := *takes[0].Motion
	motion.Rig = &other
	twice := ByRig([]*Take{takes[1], {Motion: &motion, Name: "other"}, takes[1]})
	require.Len(t, twice, 2)
	assert.Equal(t, []string{"quayfolk", "QuayFolk-2"}, []string{twice[0].Name, twice[1].Name})
	assert.Len(t, twice[0].Takes, 2)
}
