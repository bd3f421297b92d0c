package exchange

import (
	"encoding/base64"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// A face is a mesh with morph targets that a test hangs on a puppet's node.
type face struct {
	name  string
	on    int
	names []string // none for a mesh without names
	count int      // where there are none
	rest  []float64
}

// withFaces is a puppet's file with faces, whose nodes are numbered behind the puppet's own, and the clip's weights as
// more of its tracks: numbers by key, each key's by target.
func withFaces(t testing.TB, p puppet, faces []face, weights ...trackSpec) *gltf.Document {
	t.Helper()
	for i := range faces {
		f := &faces[i]
		if f.count = max(f.count, len(f.names)); f.on >= 0 {
			p.nodes[f.on].Children = append(p.nodes[f.on].Children, len(p.nodes))
		}
		p.nodes = append(p.nodes, &gltf.Node{Name: f.name, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale})
	}
	for _, w := range weights {
		var flat []float32
		for _, v := range w.values {
			flat = append(flat, v...)
		}
		if w.data == nil {
			w.data = flat
		}
		w.path = gltf.TRSWeights
		p.clips[0].tracks = append(p.clips[0].tracks, w)
	}
	doc := p.document(t)
	for i, f := range faces {
		primitive := &gltf.Primitive{Attributes: gltf.PrimitiveAttributes{
			gltf.POSITION: modeler.WritePosition(doc, [][3]float32{{0, 0, 0}, {0.1, 0, 0}, {0, 0.1, 0.02}}),
		}, Indices: gltf.Index(modeler.WriteIndices(doc, []uint16{0, 1, 2}))}
		for k := range f.count {
			x := float32(k+1) / 100
			primitive.Targets = append(primitive.Targets, gltf.PrimitiveAttributes{gltf.POSITION: modeler.WritePosition(doc, [][3]float32{{x, 0, 0}, {0, -x, x / 2}, {0, 0, x}})})
		}
		mesh := &gltf.Mesh{Name: f.name, Primitives: []*gltf.Primitive{primitive}, Weights: f.rest}
		if len(f.names) > 0 {
			mesh.Extras = map[string]any{"targetNames": f.names}
		}
		doc.Nodes[len(p.nodes)-len(faces)+i].Mesh = gltf.Index(len(doc.Meshes))
		doc.Meshes = append(doc.Meshes, mesh)
	}
	return doc
}

// weighed samples weights, as fractions, at every frame.
func weighed(node int, frames int, rate float64, at ...func(frame float64) float64) trackSpec {
	return baked(node, gltf.TRSWeights, rate, 2, 2+frames, func(f float64) []float64 {
		var out []float64
		for _, one := range at {
			out = append(out, one(f))
		}
		return out
	})
}

func still(weight float64) func(float64) float64 { return func(float64) float64 { return weight } }

func importFile(t testing.TB, doc *gltf.Document, o Options) (*Result, []byte) {
	t.Helper()
	data := glb(t, doc)
	o.Path, o.ReadFile = "folk/lamp.glb", inMemory(map[string][]byte{"folk/lamp.glb": data})
	r, err := Import(o)
	require.NoError(t, err)
	return r, data
}

// smiling is the lamp keeper with a face and teeth: the mouth on both meshes, blinks of two sides, brows of which one side
// alone moves, a target that stays elsewhere than where the file has it, and one that never moves.
func smiling(t testing.TB) *gltf.Document {
	const frames, rate = 60, 30
	n := float64(frames)
	smile := func(f float64) float64 { return 0.4 + wave(f, n, 1, 0.3) }
	blink := func(f float64) float64 { return math.Max(0, 1-math.Abs(f-20)/4) }
	return withFaces(t, lampKeeper(frames, rate), []face{
		{name: "Face", on: 3, names: []string{"Mouth Smile", "eyeBlinkLeft", "eyeBlinkRight", "browUp_L", "browUp_R", "pout", "sneer"}},
		{name: "Teeth", on: 3, names: []string{"Mouth Smile", "open"}, rest: []float64{0, 0.25}},
		{name: "Beard", on: 3, names: []string{"Beard.Smile"}},
	},
		weighed(12, frames, rate, smile, blink, func(f float64) float64 { return blink(f) / 2 }, func(f float64) float64 { return 0.5 + wave(f, n, 2, 0.2) }, still(0), still(0.3), still(0)),
		weighed(13, frames, rate, smile, func(f float64) float64 { return 0.25 + wave(f, n, 3, 0.1) }),
		weighed(14, frames, rate, smile))
}

var spaces = regexp.MustCompile(` +`)

func plainLines(text string) string { return spaces.ReplaceAllString(text, " ") }

func TestImportOfAFace(t *testing.T) {
	r, data := importFile(t, smiling(t), Options{})
	rig := plainLines(r.RigText)
	for _, row := range []string{
		` channel joint drives gain unit mirror positive rest`,
		` mouth/smile . morph.mouth-smile 1 % keep # target "Mouth Smile"`,
		` mouth/smile . morph.Beard.Smile 1`,
		` eye.left/blink . morph.eyeBlinkLeft 1 % keep`,
		` eye.right/blink . morph.eyeBlinkRight 1 % keep`,
		` brow.left/up . morph.browUp_L 1 % keep`,
		` face/pout . morph.pout 1 % keep . 30`,
		` face/open . morph.open 1 % keep . 25`,
	} {
		assert.Contains(t, rig, "\n"+row+"\n")
	}
	assert.NotContains(t, rig, "sneer")
	assert.NotContains(t, rig, "browUp_R")
	assert.NotContains(t, r.SheetText, "pout")
	assert.Contains(t, strings.Join(r.Report, "\n"), "6 morph targets in 5 dials, off by at most 0.")
	assert.Contains(t, strings.Join(r.Report, "\n"), "1 morph target held elsewhere than where the file has them, in the rig's `rest`")
	assert.LessOrEqual(t, r.Off.WeightPercent, 0.5)
	m := resolve(t, r)
	requireWeights(t, m, data, 0, 0.5)
	assert.Equal(t, "eye.right", m.Rig.Mirrored("eye.left"))
}

// requireWeights holds a sheet's weights to those of all nodes of a clip's file, at the clip's frames, within so many per
// cent.
func requireWeights(t testing.TB, m *motion.Motion, data []byte, clip int, within float64) {
	t.Helper()
	d, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": data}))
	require.NoError(t, err)
	c := &d.Clips[clip]
	tracks := map[int]*track{}
	for i := range c.weights {
		tracks[c.weights[i].node] = &c.weights[i]
	}
	places := map[[2]int][]int{}
	for i := range m.Rig.Morphs {
		found, err := blendsOf(&m.Rig.Morphs[i].Target, d.blends, d.nodes)
		require.NoError(t, err)
		require.NotEmpty(t, found, m.Rig.Morphs[i].Word)
		for _, at := range found {
			places[at] = append(places[at], i)
		}
	}
	require.NotEmpty(t, places)
	for frame := range int(m.Sheet.Length.Float()) {
		weights := m.Rig.Weights(m.Values(float64(frame), nil), nil)
		for at, targets := range places {
			got, want := 0.0, d.blends[at[0]].restOf(at[1])
			for _, i := range targets {
				got += weights[i]
			}
			if track := tracks[at[0]]; track != nil {
				want = track.weight(at[1], c.Start+float64(frame)/m.Sheet.Rate.Float())
			}
			if math.Abs(want-got) > within/100 {
				require.InDelta(t, want, got, within/100, "%s at frame %d", m.Rig.Morphs[targets[0]].Word, frame)
			}
		}
	}
}

// Targets of one name that do not do the same on all meshes that have it are told apart by their nodes.
func TestImportOfMeshesThatDisagree(t *testing.T) {
	const frames, rate = 48, 24
	doc := withFaces(t, lampKeeper(frames, rate), []face{
		{name: "Face", on: 3, names: []string{"smile", "x"}}, {name: "Teeth \"B\"", on: 3, names: []string{"smile"}}, {name: "Brows", on: 3, names: []string{"smile"}},
	},
		weighed(12, frames, rate, func(f float64) float64 { return 0.5 + wave(f, frames, 1, 0.3) }, func(f float64) float64 { return 0.5 + wave(f, frames, 1, 0.2) }),
		weighed(13, frames, rate, func(f float64) float64 { return 0.5 + wave(f, frames, 2, 0.3) }))
	r, data := importFile(t, doc, Options{})
	rig := plainLines(r.RigText)
	assert.Contains(t, rig, ` face/smile . morph.smile 1 % keep # target "smile" on node 12 "Face"`)
	assert.Contains(t, rig, ` face/smile-2 . morph.smile-2 1 % keep # target "smile" on node 13 "Teeth 'B'"`)
	assert.Contains(t, rig, ` face/x . morph.shape-x 1 % keep # target "x"`)
	assert.NotContains(t, rig, "Brows")
	requireWeights(t, resolve(t, r), data, 0, 0.5)
}

// The interpolations, on weights of meshes without names; normalised integers by the specification's equations.
func TestImportOfWeightsByInterpolation(t *testing.T) {
	for name, c := range map[string]struct {
		track trackSpec
		rows  []string
	}{
		"held": {
			track: trackSpec{kind: gltf.InterpolationStep, times: []float32{0, 0.5, 1.25, 2}, values: [][]float32{{0, 0}, {0.25, 0}, {1, 0}, {0, 0}}},
			rows:  []string{"0f 0=", "12f 25=", "30f 100="},
		},
		"straight": {
			track: trackSpec{times: []float32{0, 0.5, 1.25, 2}, values: [][]float32{{0, 0}, {0.25, 0}, {1, 0}, {0, 0}}},
			rows:  []string{"0f 0>", "12f 25>", "30f 100>"},
		},
		"curved": {
			track: trackSpec{kind: gltf.InterpolationCubicSpline, times: []float32{0, 1, 2}, values: [][]float32{
				{0, 0}, {0.5, 0}, {0, 0}, {0, 0}, {1, 0}, {0, 0}, {0, 0}, {0.5, 0}, {0, 0},
			}},
			rows: []string{"0f 50", "24f 100"},
		},
		"of one byte": {
			track: trackSpec{times: []float32{0, 1, 2}, data: []uint8{51, 0, 255, 0, 51, 0}},
			rows:  []string{"0f 20>", "24f 100>"},
		},
		"of two bytes": {
			track: trackSpec{times: []float32{0, 1, 2}, data: []uint16{13107, 0, 65535, 0, 13107, 0}},
			rows:  []string{"0f 20>", "24f 100>"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := puppet{nodes: []*gltf.Node{{Name: "Lamp", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}}, clips: []clipSpec{{name: "Glow"}}}
			c.track.node = 1
			doc := withFaces(t, p, []face{{name: "Glass", on: 0, count: 2}}, c.track)
			if c.track.data != nil {
				doc.Accessors[doc.Animations[0].Samplers[0].Output].Normalized = true
			}
			r, data := importFile(t, doc, Options{})
			assert.Contains(t, plainLines(r.RigText), `shape/shape-0 . morph.shape-0 1 % keep # target "0"`)
			for _, row := range c.rows {
				assert.Contains(t, plainLines(r.SheetText), row)
			}
			requireWeights(t, resolve(t, r), data, 0, 0.5)
		})
	}
}

// A face that does not come back to where it began is no loop, whatever the body does.
func TestTheEndsOfWeights(t *testing.T) {
	const frames, rate = 48, 24
	for name, c := range map[string]struct {
		at   func(f float64) float64
		want Ending
		gap  float64
	}{
		"open":           {func(f float64) float64 { return f / frames }, Open, 100},
		"joined":         {func(f float64) float64 { return 0.5 + wave(f, frames, 1, 0.3) + 0.02*f/frames }, Joined, 2},
		"closes":         {func(f float64) float64 { return 0.5 + wave(f, frames, 1, 0.3) }, Closes, 0},
		"lacks its last": {func(f float64) float64 { return 0.5 + wave(f, frames+1, 1, 0.3) }, LacksFrame, 3.9},
	} {
		t.Run(name, func(t *testing.T) {
			p := puppet{nodes: []*gltf.Node{{Name: "Lamp", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}}, clips: []clipSpec{{name: "Glow"}}}
			r, _ := importFile(t, withFaces(t, p, []face{{name: "Glass", on: 0, names: []string{"glow"}}}, weighed(1, frames, rate, c.at)), Options{})
			assert.Equal(t, c.want, r.Loop)
			assert.InDelta(t, c.gap, r.Gap.Weight, 0.1)
			if c.want != Closes {
				assert.Contains(t, r.Report[1], `% of the morph target "glow"`)
			}
			assert.LessOrEqual(t, r.Off.WeightPercent, 0.5)
		})
	}
}

// A sample of the Khronos group, as Debian's assimp-testmodels has it: a cube that two targets without names bend.
func TestImportOfTheMorphCube(t *testing.T) {
	const file = "/usr/share/assimp/models/glTF2/glTF-Sample-Models/AnimatedMorphCube-glTF/AnimatedMorphCube.gltf"
	if _, err := os.Stat(file); err != nil {
		reference.Lacks(t, "assimp-testmodels is not installed")
	}
	r, err := Import(Options{Path: file, ReadFile: os.ReadFile})
	require.NoError(t, err)
	assert.Equal(t, Closes, r.Loop)
	assert.Len(t, r.Channels, 2)
	assert.Less(t, r.Keys, 20)
	assert.LessOrEqual(t, r.Off.WeightPercent, 0.5)

	// Against an evaluator that shares nothing with the import: three plays the file, and the sheet is within the limit.
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	body, err := os.ReadFile(strings.TrimSuffix(file, "gltf") + "bin")
	require.NoError(t, err)
	var doc gltf.Document
	require.NoError(t, json.Unmarshal(text, &doc))
	doc.Buffers[0].URI = "data:application/octet-stream;base64," + base64.StdEncoding.EncodeToString(body)
	whole, err := json.Marshal(&doc)
	require.NoError(t, err)
	alone := filepath.Join(t.TempDir(), "cube.gltf")
	require.NoError(t, os.WriteFile(alone, whole, 0o666))
	m := resolve(t, r)
	var at []float64
	for frame := range int(m.Sheet.Length.Float()) {
		at = append(at, read(t, alone).Clips[0].Start+float64(frame)/m.Sheet.Rate.Float())
	}
	var played [][][][]float64
	reference.Ask(t, "weights.mjs", []map[string]any{{"path": alone, "clip": 0, "at": at}}, &played)
	for frame := range at {
		assert.InDeltaSlice(t, played[0][frame][0], m.Rig.Weights(m.Values(float64(frame), nil), nil), 0.0051, "frame %d", frame)
	}
}

// What is wrong with weights is said with its accessor, and costs nothing.
func TestBrokenWeights(t *testing.T) {
	lamp := func() puppet {
		return puppet{nodes: []*gltf.Node{{Name: "Lamp", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}}, clips: []clipSpec{{name: "Glow"}}}
	}
	faces := func() []face { return []face{{name: "Glass", on: 0, names: []string{"glow", "dim"}}} }
	for name, c := range map[string]struct {
		track trackSpec
		want  string
	}{
		"a number too few": {trackSpec{node: 1, times: []float32{0, 1}, data: []float32{0, 1, 2}}, `animation 0 "Glow", channel 0: accessor 0: it holds 3 weights, but 2 times (accessor 1) and the 2 morph targets of node 1 "Glass" need 4; export the file again`},
		"no slopes":        {trackSpec{node: 1, kind: gltf.InterpolationCubicSpline, times: []float32{0, 1}, data: []float32{0, 1, 2, 3}}, "need 12"},
		"vectors":          {trackSpec{node: 1, times: []float32{0, 1}, data: [][3]float32{{}, {}}}, "accessor 0: it has 3 numbers an element, and a weight is one"},
		"not a number":     {trackSpec{node: 1, times: []float32{0, 1}, data: []float32{0, 1, float32(math.NaN()), 3}}, "accessor 0: element 2 holds NaN"},
		"times that fall":  {trackSpec{node: 1, times: []float32{1, 0}, data: []float32{0, 1, 2, 3}}, "accessor 1: time 1 (0 s) is not later"},
		"moved two times":  {trackSpec{node: 1, times: []float32{0, 1}, data: []float32{0, 1, 2, 3}}, `moves the weights of node 1 "Glass" a second time`},
	} {
		t.Run(name, func(t *testing.T) {
			tracks := []trackSpec{c.track}
			if name == "moved two times" {
				tracks = append(tracks, c.track)
			}
			data := glb(t, withFaces(t, lamp(), faces(), tracks...))
			_, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": data}))
			require.ErrorContains(t, err, c.want)
		})
	}
}

// Ten thousand targets, names that occur twice, names that are no text, more names than targets: all are told apart.
func TestOddTargets(t *testing.T) {
	assert.Equal(t, []string{"a", "1", "b", "3"}, targetNames(map[string]any{"targetNames": []any{"a", "a", "b", 7, "e"}}, 4))
	assert.Equal(t, []string{"0", "1''", "1'", "1"}, targetNames(map[string]any{"targetNames": []any{"", "", "1'", "1"}}, 4))
	assert.Equal(t, []string{"0", "1"}, targetNames("smile", 2))

	const targets = 10_000
	names, weights := make([]string, targets), make([]float32, 2*targets)
	for i := range names {
		names[i] = []string{"glow", "dim \xff\x00\n\"", "größer", ""}[i%4]
		weights[targets+i] = float32(i%10/9) / 2
	}
	p := puppet{nodes: []*gltf.Node{{Name: "Lamp", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}}, clips: []clipSpec{{name: "Glow"}}}
	doc := withFaces(t, p, []face{{name: "Glass", on: 0, names: []string{"glow"}}}, trackSpec{node: 1, times: []float32{0, 1}, data: weights})
	mesh := doc.Meshes[0]
	for len(mesh.Primitives[0].Targets) < targets {
		mesh.Primitives[0].Targets = append(mesh.Primitives[0].Targets, mesh.Primitives[0].Targets[0])
	}
	mesh.Extras = map[string]any{"targetNames": names}
	r, data := importFile(t, doc, Options{})
	assert.Len(t, r.Channels, 1000)
	m := resolve(t, r)
	assert.Len(t, m.Rig.Morphs, 1000)
	requireWeights(t, m, data, 0, 0.5)
}
