package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

func TestTheModelOfARig(t *testing.T) {
	for line, want := range map[string]string{
		"":                             "",
		`  model "keeper.glb"`:         "cast/keeper.glb",
		`  model "models/keeper.gltf"`: "cast/models/keeper.gltf",
		`  model "../keeper.glb"`:      "keeper.glb",
		`  model "../../keeper.glb"`:   "",
		`  model "/keeper.glb"`:        "",
		`  model ""`:                   "",
	} {
		rig := NewProject(nil).Rig(grammar.Parse("cast/rig.motet", "rig quayfolk\n"+line+"\n"))
		require.NotNil(t, rig)
		assert.Equal(t, want, rig.Model, line)
	}
}

func TestTheNodeOfAJoint(t *testing.T) {
	none := [3]float64{1, 1, 1}
	for comment, want := range map[string]*ModelNode{
		"":                               nil,
		"# the left one":                 nil,
		"# node hips":                    nil,
		`# node -1 "hips"`:               nil,
		`# node 61 "Hips" scale 0.01`:    {61, "Hips", [3]float64{0.01, 0.01, 0.01}},
		`# node 0 ""`:                    {0, "", none},
		`# node 3 "a b" scale 1 2 3`:     {3, "a b", [3]float64{1, 2, 3}},
		`# node 3 "hips" scale 0`:        {3, "hips", none},
		`# node 3 "hips" scale NaN 1 1`:  {3, "hips", none},
		`# node 3 "hips" and its friend`: {3, "hips", none},
		`# node 3 "hips`:                 nil,
	} {
		got, ok := readNode(comment)
		assert.Equal(t, want != nil, ok, comment)
		if want != nil {
			assert.Equal(t, *want, got, comment)
		}
	}
}
