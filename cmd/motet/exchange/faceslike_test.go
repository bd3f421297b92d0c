package exchange

import (
	"slices"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// dimmed is a take whose weights are a share of what they were.
func dimmed(take *Take, share float64) *Take {
	out := *take
	out.weights = nil
	for _, w := range take.weights {
		w.values = slices.Clone(w.values)
		for i := range w.values {
			w.values[i] *= share
		}
		out.weights = append(out.weights, w)
	}
	return &out
}

// A clip is held to its sheet by its weights too: on the meshes that stand in for others, and on the animator's own.
func TestLikenessOfWeights(t *testing.T) {
	m := faceKeeper(t)
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	bake, err := NewTake(m, TakeWish{Bake: Rate{24, 1}})
	require.NoError(t, err)
	for name, one := range map[string]*Take{"fitted": take, "baked": bake} {
		l := likenessOf(t, m, one, nil)
		assert.Len(t, l.Weights, 8, name)
		weight, _ := l.LargestWeight()
		assert.LessOrEqual(t, weight.Largest, 0.11, name)
		assert.LessOrEqual(t, l.Seam.WeightPercent, 0.01, name)
		assert.True(t, l.Within(DefaultLikeness()), name)
	}
	into, err := Into("keeper.glb", glb(t, faceFile(t)), take)
	require.NoError(t, err)
	l, err := LikenessToSheet(m, changed(t, into, nil), "")
	require.NoError(t, err)
	assert.Len(t, l.Weights, 8)
	weight, _ := l.LargestWeight()
	assert.LessOrEqual(t, weight.Largest, 0.11)

	// A tenth less of everything: of what each shows at most.
	l = likenessOf(t, m, dimmed(take, 0.9), nil)
	assert.False(t, l.Within(DefaultLikeness()))
	off := map[string]float64{}
	for _, w := range l.Weights {
		off[w.Target] = w.Weight.Largest
		assert.LessOrEqual(t, w.Weight.Mean, w.Weight.Largest)
	}
	assert.InDelta(t, 10, off["eyeBlinkLeft"], 0.01)
	assert.InDelta(t, 10, off["eyeBlinkRight"], 0.01)
	assert.InDelta(t, 4, off["jawOpen"], 0.1)
	assert.InDelta(t, 0, off["pout"], 0.01)
}

// Builds respell names and drop them. A target that nothing drives any more is lost where it moved, and else only missing.
func TestTargetsThatABuildRenames(t *testing.T) {
	m := faceKeeper(t)
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	l := likenessOf(t, m, take, func(file *gltf.Document) {
		names := file.Meshes[0].Extras.(map[string]any)["targetNames"].([]any)
		for i := range names {
			names[i] = strings.ToLower(strings.ReplaceAll(names[i].(string), " ", "_"))
		}
	})
	assert.Empty(t, l.MissingTargets)
	assert.True(t, l.Within(DefaultLikeness()))
	l = likenessOf(t, m, take, func(file *gltf.Document) {
		names := file.Meshes[0].Extras.(map[string]any)["targetNames"].([]any)
		names[slices.Index(names, any("pout"))], names[slices.Index(names, any("jawOpen"))] = "sulk", "gape"
	})
	assert.Equal(t, []string{"pout", "jawOpen"}, l.MissingTargets)
	assert.Equal(t, []string{"jawOpen"}, l.LostTargets)
	assert.False(t, l.Within(DefaultLikeness()))

	// Of two clips the targets without names are told by their places.
	d := changed(t, mustGLB(t, take), nil)
	bare := changed(t, mustGLB(t, take), func(file *gltf.Document) { file.Meshes[0].Extras, file.Meshes[1].Extras = nil, nil })
	l, err = LikenessOfClips(d, "", bare, "")
	require.NoError(t, err)
	assert.Empty(t, l.MissingTargets)
	assert.Len(t, l.Weights, 8)
	assert.True(t, l.Within(LikenessLimits{TurnDeg: 1e-4, PlaceCM: 1e-4, WeightPercent: 1e-4, Frames: 0.01}))
	l, err = LikenessOfClips(d, "", changed(t, mustGLB(t, dimmed(take, 0.5)), nil), "")
	require.NoError(t, err)
	weight, target := l.LargestWeight()
	assert.InDelta(t, 50, weight.Largest, 0.1)
	assert.Equal(t, "eyeBlinkLeft of morphs", target)
}

// A clip that carries its sheet gives it back as long as the face is the sheet's too.
func TestACarriedSheetIsHeldToItsFace(t *testing.T) {
	take, err := NewTake(faceKeeper(t), TakeWish{})
	require.NoError(t, err)
	for share, fitted := range map[float64]bool{1: false, 0.9: true} {
		data := mustGLB(t, dimmed(take, share))
		r, err := Import(Options{Path: "clip.glb", ReadFile: func(string) ([]byte, error) { return data, nil }})
		require.NoError(t, err)
		if !fitted {
			assert.Equal(t, faceSheet, r.SheetText)
			continue
		}
		assert.NotEqual(t, faceSheet, r.SheetText)
		assert.Contains(t, r.Report[0], "is not its motion any more (the weight of eyeBlink")
	}
}
