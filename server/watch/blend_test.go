package watch

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bloom is a rig and a sheet as `motet import` writes them of bloomModel's clip: straight lines between the same keys.
const bloom = `rig bloom
  model     "bloom.glb"

joints
  joint           on              x       y       z       rx      ry      rz      part
  stem            .               0       0       0       0       0       0       root    # node 0 "Stem"
  tip             stem            0       100     0       0       0       0       other   # node 1 "Tip"

channels
  channel                 joint           drives          gain    unit    mirror  positive        rest
  tip/bend                .               turn.z          1       deg     flip
  shape/smile             .               morph.mouth-smile 1     %       keep                            # target "Mouth Smile"
  shape/leaf              .               morph.shape-2   1       %       keep    .               40      # target "2"
  shape/bud               .               morph.bud-2     1       %       keep                            # target "bud" on node 3 "Bud"

sheet bloom
  rate      24 fps
  tempo     120 bpm
  cycle     4b

track tip
  at      bend
  0f      0>
  24f     60>

track shape
  at      smile   bud
  0f      0>      80>
  12f     100>    .
  24f     50>     0>
  36f     .       30>
`

// bloomModel writes a skinned mesh of four targets, of which the sheet knows two, and another mesh beside it; both are bent
// and blended by one clip.
func bloomModel(t *testing.T, name string) {
	t.Helper()
	doc := gltf.NewDocument()
	mesh := func(weights []float64, names []any, shifts ...[3]float32) *gltf.Mesh {
		rest := [][3]float32{{-0.1, 0, 0}, {0.1, 0, 0}, {0.1, 1.5, 0}, {-0.1, 1.5, 0.1}}
		primitive := &gltf.Primitive{
			Indices: gltf.Index(modeler.WriteIndices(doc, []uint16{0, 1, 2, 0, 2, 3})),
			Attributes: gltf.PrimitiveAttributes{
				gltf.POSITION:  modeler.WritePosition(doc, rest),
				gltf.JOINTS_0:  modeler.WriteJoints(doc, [][4]uint16{{0, 1}, {0, 1}, {0, 1}, {0, 1}}),
				gltf.WEIGHTS_0: modeler.WriteWeights(doc, [][4]float32{{1, 0}, {1, 0}, {0.25, 0.75}, {0, 1}}),
			},
		}
		for _, shift := range shifts {
			primitive.Targets = append(primitive.Targets, gltf.PrimitiveAttributes{gltf.POSITION: modeler.WritePosition(doc, [][3]float32{shift, {}, shift, {0, shift[0], 0}})})
		}
		return &gltf.Mesh{Primitives: []*gltf.Primitive{primitive}, Weights: weights, Extras: map[string]any{"targetNames": names}}
	}
	doc.Meshes = []*gltf.Mesh{
		mesh([]float64{0, 0.7, 0.4, 0}, []any{"Mouth Smile", "bud", "", "bud"}, [3]float32{0.3, 0, 0}, [3]float32{0, 0.2, 0}, [3]float32{0, 0, 0.4}, [3]float32{0.1, 0.1, 0}),
		mesh(nil, []any{"bud"}, [3]float32{0, 0, 0.5}),
	}
	inverse := modeler.WriteAccessor(doc, gltf.TargetNone, [][4][4]float32{{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}, {{1, 0, 0, 0}, {0, 1, 0, -1}, {0, 0, 1, 0}, {0, 0, 0, 1}}})
	doc.Skins = []*gltf.Skin{{Joints: []int{0, 1}, InverseBindMatrices: &inverse}}
	doc.Nodes = []*gltf.Node{
		{Name: "Stem", Children: []int{1}},
		{Name: "Tip", Translation: [3]float64{0, 1, 0}},
		{Name: "Petals", Mesh: gltf.Index(0), Skin: gltf.Index(0)},
		{Name: "Bud", Mesh: gltf.Index(1), Skin: gltf.Index(0)},
	}
	doc.Scenes[0].Nodes = []int{0, 2, 3}
	clip := &gltf.Animation{Name: "bloom"}
	add := func(node int, path gltf.TRSProperty, times []float32, values any) {
		clip.Channels = append(clip.Channels, &gltf.AnimationChannel{Sampler: len(clip.Samplers), Target: gltf.AnimationChannelTarget{Node: gltf.Index(node), Path: path}})
		clip.Samplers = append(clip.Samplers, &gltf.AnimationSampler{Input: modeler.WriteAccessor(doc, gltf.TargetNone, times), Output: modeler.WriteAccessor(doc, gltf.TargetNone, values)})
	}
	turned := func(degrees float64) [4]float32 {
		sin, cos := math.Sincos(degrees * math.Pi / 360)
		return [4]float32{0, 0, float32(sin), float32(cos)}
	}
	add(1, gltf.TRSRotation, []float32{0, 1, 2}, [][4]float32{turned(0), turned(60), turned(0)})
	add(2, gltf.TRSWeights, []float32{0, 0.5, 1, 2}, []float32{0, 0.7, 0.4, 0, 1, 0.7, 0.4, 0, 0.5, 0.7, 0.4, 0, 0, 0.7, 0.4, 0})
	add(3, gltf.TRSWeights, []float32{0, 1, 1.5, 2}, []float32{0.8, 0, 0.3, 0.8})
	doc.Animations = []*gltf.Animation{clip}
	require.NoError(t, gltf.SaveBinary(doc, name))
}

// TestTheFaceMovesAsItsOwnClip compares the vertices of meshes whose morph targets the page blends by the sheet with those
// that three's AnimationMixer moves by the clip that the sheet is of. Targets that the sheet does not know, and those that it
// leaves alone, keep their weights, and names that occur twice are told apart.
func TestTheFaceMovesAsItsOwnClip(t *testing.T) {
	folder := t.TempDir()
	model := filepath.Join(folder, "bloom.glb")
	bloomModel(t, model)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "bloom.motet"), []byte(bloom), 0o666))
	frames := []float64{0, 6, 12, 21, 24, 33, 47}
	want := playedByThree(t, model, frames)
	page, host := serve(t, sourceOf(folder), nil)
	b := openIn(t, "http://"+host+page.Path(), "globalThis.motet?.state.model?.character || globalThis.motet?.state.model?.problem", true)
	require.Empty(t, value[string](b, "document.querySelector('#paper').textContent"))
	moved := 0.0
	for k, f := range frames {
		got := verticesAt(b, f)
		require.Len(t, got, len(want[k]))
		require.Len(t, got, 24)
		for i := range got {
			require.InDelta(t, want[k][i], got[i], 1e-5, "frame %g, number %d", f, i)
			moved = max(moved, math.Abs(want[k][i]-want[0][i]))
		}
	}
	assert.Greater(t, moved, 0.25)
	b.see("bloom")
	assert.Empty(t, b.complains, "the console stays empty")
}
