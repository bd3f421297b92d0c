package watch

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// skin is a rig and a sheet as `motet import` writes them of assimp's simple_skin.gltf, whose clip turns its last node.
const skin = `rig simple-skin
  model     "simple_skin.gltf"

joints
  joint           on              x       y       z       rx      ry      rz      part
  joint           .               0       0       0       0       0       0       other   # node 0 ""
  joint-2         joint           0       100     0       0       0       0       other   # node 1 ""
  joint-3         joint-2         0       0       0       0       0       0       other   # node 2 ""

channels
  channel                 joint           drives          gain    unit    mirror  positive
  joint-3/turn-z          .               turn.z          1       deg     flip

sheet simple-skin
  rate      24 fps
  tempo     120 bpm
  cycle     11b

track joint-3
  at      turn-z
  0f      0>
  24f     90>
  36f     90>
  60f     0>
  72f     0>
  96f     -90>
  108f    -90>
  120f    -45>
`

// vertices are where the vertices of all skinned meshes on the page are, in metres.
const vertices = `(() => {
	const places = [], character = motet.state.model.character;
	character.pose(motet.state.sheet.motion, motet.state.time, motet.state.out);
	character.root.traverse(mesh => {
		if (!mesh.isSkinnedMesh) return;
		for (let i = 0; i < mesh.geometry.attributes.position.count; i++) {
			const place = mesh.getVertexPosition(i, mesh.position.clone()).applyMatrix4(mesh.matrixWorld);
			places.push(place.x, place.y, place.z);
		}
	});
	return places;
})()`

// playedByThree is where the vertices of a model's skinned meshes are as three's AnimationMixer plays its first clip, at some
// frames of 24 fps: x, y, z of one after the other, in metres.
func playedByThree(t *testing.T, model string, frames []float64) (places [][]float64) {
	t.Helper()
	var at []float64
	for _, f := range frames {
		at = append(at, f/24)
	}
	reference.Ask(t, "skin.mjs", map[string]any{"path": model, "clip": 0, "at": at}, &places)
	return places
}

// verticesAt is where they are on the page at a frame, once it has drawn that.
func verticesAt(b *browser, frame float64) []float64 {
	b.run(fmt.Sprintf("motet.seek(%g)", frame))
	drawn := value[float64](b, "motet.state.drawn")
	b.await(fmt.Sprintf("motet.state.drawn > %g", drawn+1))
	return value[[]float64](b, vertices)
}

// TestTheCharacterMovesAsItsOwnClip compares the vertices of a character that the page moves by the sheet with those that
// three's AnimationMixer moves by the clip from which the sheet was made.
func TestTheCharacterMovesAsItsOwnClip(t *testing.T) {
	const model = "/usr/share/assimp/models/glTF2/simple_skin/simple_skin.gltf" // Debian's assimp-testmodels
	text, err := os.ReadFile(model)
	if err != nil {
		reference.Lacks(t, "assimp-testmodels is not installed")
	}
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "simple_skin.gltf"), text, 0o666))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "skin.motet"), []byte(skin), 0o666))
	frames := []float64{0, 6, 24, 50, 96, 113.5}
	want := playedByThree(t, model, frames)
	page, host := serve(t, sourceOf(folder), nil)
	b := openIn(t, "http://"+host+page.Path(), "globalThis.motet?.state.model?.character || globalThis.motet?.state.model?.problem", true)
	require.Empty(t, value[string](b, "document.querySelector('#paper').textContent"))
	for k, f := range frames {
		got := verticesAt(b, f)
		require.Len(t, got, len(want[k]))
		for i := range got {
			// Between frames the page takes straight lines, which cut a corner of 3.75° by a twentieth of a per cent.
			assert.InDelta(t, want[k][i], got[i], 1e-3, "frame %g, number %d", f, i)
		}
	}
	b.see("skin")
	assert.Empty(t, b.complains, "the console stays empty")
}

// dressed writes a character for a rig: a box round each bone, skinned to its two joints. Its nodes have the joints' names and
// stand where they do, but are turned by a right angle about z, since the axes of an animator's own character are its own.
func dressed(t *testing.T, rig *motion.Rig, name string) (rest [][3]float32, weights [][2]int) {
	t.Helper()
	doc := gltf.NewDocument()
	world := rig.RestWorld()
	var joints []int
	for i := range rig.Joints {
		at := world[i].Position()
		if up := rig.Joints[i].Parent; up >= 0 {
			above := world[up].Position()
			for k := range at {
				at[k] -= above[k]
			}
		}
		node := &gltf.Node{Name: rig.Joints[i].Name, Translation: [3]float64{at[1] / 100, -at[0] / 100, at[2] / 100}}
		if rig.Joints[i].Parent < 0 {
			node.Translation, node.Rotation = [3]float64{at[0] / 100, at[1] / 100, at[2] / 100}, [4]float64{0, 0, math.Sqrt2 / 2, math.Sqrt2 / 2}
		}
		doc.Nodes = append(doc.Nodes, node)
		joints = append(joints, i)
		if up := rig.Joints[i].Parent; up >= 0 {
			doc.Nodes[up].Children = append(doc.Nodes[up].Children, i)
		}
	}
	var bind [][4][4]float32
	var indices []uint16
	for i := range rig.Joints {
		at := world[i].Position()
		bind = append(bind, [4][4]float32{{0, 1, 0, float32(-at[1] / 100)}, {-1, 0, 0, float32(at[0] / 100)}, {0, 0, 1, float32(-at[2] / 100)}, {0, 0, 0, 1}}) // row by row
		up := rig.Joints[i].Parent
		if up < 0 {
			continue
		}
		from := world[up].Position()
		first := uint16(len(rest))
		for _, end := range []struct {
			at    [3]float64
			joint int
		}{{from, up}, {at, i}} {
			for _, corner := range [][2]float32{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				const half = 0.04
				rest = append(rest, [3]float32{float32(end.at[0]/100) + half*corner[0], float32(end.at[1] / 100), float32(end.at[2]/100) + half*corner[1]})
				weights = append(weights, [2]int{end.joint, up})
			}
		}
		for k := range uint16(4) {
			next := (k + 1) % 4
			indices = append(indices, first+k, first+next, first+4+next, first+k, first+4+next, first+4+k)
		}
	}
	var bound [][4]uint16
	var shares [][4]float32
	for _, w := range weights {
		bound = append(bound, [4]uint16{uint16(w[0]), uint16(w[1])})
		shares = append(shares, [4]float32{0.75, 0.25})
	}
	inverse := modeler.WriteAccessor(doc, gltf.TargetNone, bind)
	doc.Skins = []*gltf.Skin{{Joints: joints, InverseBindMatrices: &inverse}}
	doc.Meshes = []*gltf.Mesh{{Primitives: []*gltf.Primitive{{
		Indices: gltf.Index(modeler.WriteIndices(doc, indices)),
		Attributes: gltf.PrimitiveAttributes{
			gltf.POSITION: modeler.WritePosition(doc, rest), gltf.TEXCOORD_0: modeler.WriteTextureCoord(doc, make([][2]float32, len(rest))), gltf.JOINTS_0: modeler.WriteJoints(doc, bound), gltf.WEIGHTS_0: modeler.WriteWeights(doc, shares),
		},
		Material: gltf.Index(0),
	}}}}
	// A picture inside the file is read by way of a blob, which the page's policy has to let through.
	paint := image.NewRGBA(image.Rect(0, 0, 1, 1))
	paint.Set(0, 0, color.RGBA{222, 160, 90, 255})
	var picture bytes.Buffer
	require.NoError(t, png.Encode(&picture, paint))
	source, err := modeler.WriteImage(doc, "paint", "image/png", &picture)
	require.NoError(t, err)
	doc.Textures = []*gltf.Texture{{Source: &source}}
	doc.Materials = []*gltf.Material{{DoubleSided: true, PBRMetallicRoughness: &gltf.PBRMetallicRoughness{BaseColorTexture: &gltf.TextureInfo{}, MetallicFactor: gltf.Float(0)}}}
	doc.Nodes = append(doc.Nodes, &gltf.Node{Mesh: gltf.Index(0), Skin: gltf.Index(0)})
	doc.Scenes[0].Nodes = []int{0, len(doc.Nodes) - 1}
	require.NoError(t, gltf.SaveBinary(doc, name))
	return rest, weights
}

// TestTheCharacterStandsOnTheRig moves a character that no import has seen, and holds its vertices to the engine's joints:
// each goes as its joints have gone since they were at rest (linear blend skinning, glTF 2.0, 3.7.3.3).
func TestTheCharacterStandsOnTheRig(t *testing.T) {
	folder, source := quay(t)
	sheets, _, err := source(Ask{})
	require.NoError(t, err)
	m := byPath(sheets)["keeper.motet"].Motion
	rest, weights := dressed(t, m.Rig, filepath.Join(folder, "keeper.glb"))
	change(t, filepath.Join(folder, "quayfolk.motet"), "  height    168\n", "  height    168\n  model     \"keeper.glb\"\n")
	page, host := serve(t, source, nil)
	b := openIn(t, "http://"+host+page.Path()+Fragment("keeper.motet", 40), "globalThis.motet?.state.sheet?.path == 'keeper.motet' && (motet.state.model?.character || motet.state.model?.problem) && motet.state.time == 40", true)
	require.Empty(t, value[string](b, "document.querySelector('#paper').textContent"))
	drawn := value[float64](b, "motet.state.drawn")
	b.await(fmt.Sprintf("motet.state.drawn > %g", drawn+1))
	got := value[[]float64](b, vertices)
	require.Len(t, got, 3*len(rest))
	before, now := m.Rig.RestWorld(), m.World(40)
	for i, at := range rest {
		cm := [3]float64{100 * float64(at[0]), 100 * float64(at[1]), 100 * float64(at[2])}
		var want [3]float64
		for k, share := range []float64{0.75, 0.25} {
			joint := weights[i][k]
			moved := now[joint].Apply(before[joint].Undo(cm))
			for axis := range want {
				want[axis] += share * moved[axis] / 100
			}
		}
		for axis := range want {
			require.InDelta(t, want[axis], got[3*i+axis], 1e-4, "vertex %d", i)
		}
	}
	b.see("character")
	b.press("t", "")
	b.press("g", "")
	drawn = value[float64](b, "motet.state.drawn")
	b.await(fmt.Sprintf("motet.state.drawn > %g", drawn+1))
	b.see("character-round")

	t.Run("a save moves the character that is there", func(t *testing.T) {
		b.run("globalThis.same = motet.state.model.character; undefined")
		since := value[float64](b, "motet.state.shown.since")
		change(t, filepath.Join(folder, "keeper.motet"), "hips/side         5.4", "hips/side         9")
		b.await(fmt.Sprintf("motet.state.shown.since > %g", since))
		assert.True(t, value[bool](b, "globalThis.same === motet.state.model.character"), "it is not loaded again")
		assert.NotEqual(t, got, value[[]float64](b, vertices))
	})
	assert.Empty(t, b.complains, "the console stays empty")
}

// TestWithoutTheCharacterThereIsPaper says why it is not shown.
func TestWithoutTheCharacterThereIsPaper(t *testing.T) {
	folder, source := quay(t)
	change(t, filepath.Join(folder, "quayfolk.motet"), "  height    168\n", "  height    168\n  model     \"nobody.glb\"\n")
	page, host := serve(t, source, nil)
	b := openIn(t, "http://"+host+page.Path()+Fragment("keeper.motet", 0), "globalThis.motet?.state.sheet?.motion", true)
	b.await("document.querySelector('#paper').textContent")
	assert.Equal(t, "drawn in paper, since nobody.glb can’t be shown: there is no such file", value[string](b, "document.querySelector('#paper').textContent"))
	b.see("paper")
	for _, test := range []struct{ file, script, why string }{
		{"", "", "it can’t be read as glTF 2.0 ("},
		{"glTF but no more than that", "", "it can’t be read as glTF 2.0 ("},
		{`{"asset": {"version": "2.0"}}`, "", "it has no scene"},
		{`{"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"name": "crate"}]}`, "", "none of its nodes has the name of a joint; name the joints as its nodes, or import the rig from it"},
		{"{}", "HTMLCanvasElement.prototype.getContext = () => null; undefined", "this browser draws nothing in three dimensions (WebGL 2)"},
	} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, "nobody.glb"), []byte(test.file), 0o666))
		if test.script != "" {
			b.run("motet.state.playing = false; " + strings.ReplaceAll(test.script, "() => null", "(kind => kind === 'webgl2' ? null : undefined)"))
		}
		b.run("motet.state.model = null; document.querySelector('#paper').textContent = ''; document.querySelector('#sheets button[aria-current=true]').click()")
		b.await("document.querySelector('#paper').textContent")
		assert.Contains(t, value[string](b, "document.querySelector('#paper').textContent"), test.why)
	}
}

// TestWhatOfAModelIsGiven holds that nothing but what a model is made of, and nothing outside its folder, leaves the disk.
func TestWhatOfAModelIsGiven(t *testing.T) {
	folder, source := quay(t)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "keeper.glb"), []byte("glTF"), 0o666))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "secret.txt"), []byte("the tide tables"), 0o666))
	outside := filepath.Join(t.TempDir(), "outside.png")
	require.NoError(t, os.WriteFile(outside, []byte("PNG"), 0o666))
	require.NoError(t, os.Symlink(outside, filepath.Join(folder, "link.png")))
	require.NoError(t, os.Mkdir(filepath.Join(folder, "folder.png"), 0o777))
	page := New(source, nil)
	get := func(file string) int { return ask(page, page.Path()+"model?path=keeper.motet&file="+file, nil).Code }
	assert.Equal(t, http.StatusNotFound, get("keeper.glb"), "the rig names no model")
	change(t, filepath.Join(folder, "quayfolk.motet"), "  height    168\n", "  height    168\n  model     \"keeper.glb\"\n")
	page.Refresh(filepath.Join(folder, "quayfolk.motet"))
	got := ask(page, page.Path()+"model?path=keeper.motet&file=keeper.glb", nil)
	assert.Equal(t, http.StatusOK, got.Code)
	assert.True(t, bytes.Equal([]byte("glTF"), got.Body.Bytes()))
	for _, file := range []string{"", "secret.txt", "keeper.motet", "link.png", "folder.png", "nobody.png", "../keeper.glb", "/etc/hosts.png", strings.Repeat("a", 9000) + ".png"} {
		assert.Equal(t, http.StatusNotFound, get(file), file)
	}
}
