package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

func TestAFamilyFindsItsMembers(t *testing.T) {
	files := map[string]string{
		"rig.motet": limbRig, "cast/base.motet": "sheet keeper-wait\n  rig  figure in \"../rig.motet\"\n  cycle  4b\n",
		"cast/b.motet":      "sheet cooper-wait\n  from  keeper-wait in \"base.motet\"\n  tempo  72 bpm\n\nchange\n  offset  head   3\n\ntrack hips\n  at  side\n  0b  1\n  2b  2\n\namend head\n  at  tilt\n  0b  1\n",
		"cast/broken.motet": "sheet",
		"sheet.motet":       "family quay\n  members  \"cast/*.motet\"\n  each     wait glance\n  name     \"{who}-{clip}\"\n  distinct  50%\n",
	}
	trees := inMemory(files)
	file, err := trees("sheet.motet")
	require.NoError(t, err)
	listed := ""
	list := func(folder string) []string {
		listed = folder
		return []string{"cast/broken.motet", "cast/b.motet", "cast/base.motet", "cast/gone.motet"}
	}
	f := NewProject(trees).WithListing(list).Resolve(file).Family()
	require.NotNil(t, f)
	assert.Equal(t, "cast", listed)
	var names []string
	for _, m := range f.Members {
		names = append(names, m.Name)
	}
	assert.Equal(t, []string{"cooper-wait", "keeper-wait"}, names)
	assert.InDelta(t, 0.5, f.Distinct, 1e-12)
	who, clip, ok := f.Person("cooper-wait")
	assert.Equal(t, []any{"cooper", "wait", true}, []any{who, clip, ok})
	_, _, ok = f.Person("cooper-walk")
	assert.False(t, ok)
	assert.Equal(t, []string{"72 bpm", "offset head 3", "own track hips", "amend head"}, f.Members[0].Motion.Differs())
	assert.Equal(t, 3, f.Members[0].Motion.KeyCount())
	assert.Nil(t, NewProject(trees).Resolve(grammar.Parse("x.motet", "sheet x\n")).Family())
}
