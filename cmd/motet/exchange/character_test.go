package exchange

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// character is a real skinned file (npm @dcl/wearable-preview) with the clips of two more of its kind, a mesh on its skin,
// and what no export may touch.
func character(t *testing.T) []byte {
	t.Helper()
	host, err := gltf.Open(emote(t, "run.glb"))
	require.NoError(t, err)
	nodes := map[string]int{}
	for i, n := range host.Nodes {
		nodes[n.Name] = i
	}
	for _, name := range []string{"walk.glb", "jump.glb"} {
		from, err := gltf.Open(emote(t, name))
		require.NoError(t, err)
		clip := &gltf.Animation{Name: from.Animations[0].Name, Extras: map[string]any{"by": "hand"}}
		for _, c := range from.Animations[0].Channels {
			at, has := nodes[from.Nodes[*c.Target.Node].Name]
			require.True(t, has)
			s := from.Animations[0].Samplers[c.Sampler]
			times, err := modeler.ReadAccessor(from, from.Accessors[s.Input], nil)
			require.NoError(t, err)
			values, err := modeler.ReadAccessor(from, from.Accessors[s.Output], nil)
			require.NoError(t, err)
			clip.Samplers = append(clip.Samplers, &gltf.AnimationSampler{Interpolation: s.Interpolation, Input: modeler.WriteAccessor(host, gltf.TargetNone, times), Output: modeler.WriteAccessor(host, gltf.TargetNone, values)})
			clip.Channels = append(clip.Channels, &gltf.AnimationChannel{Sampler: len(clip.Samplers) - 1, Target: gltf.AnimationChannelTarget{Node: gltf.Index(at), Path: c.Target.Path}})
		}
		host.Animations = append(host.Animations, clip)
	}
	mesh := &gltf.Mesh{Name: "Coat", Extras: map[string]any{"cloth": "tweed"}, Primitives: []*gltf.Primitive{{Attributes: gltf.PrimitiveAttributes{
		gltf.POSITION:  modeler.WritePosition(host, [][3]float32{{0, 0, 0}, {0.1, 0, 0}, {0, 0.1, 0}}),
		gltf.JOINTS_0:  modeler.WriteJoints(host, [][4]uint8{{0}, {0}, {1}}),
		gltf.WEIGHTS_0: modeler.WriteWeights(host, [][4]float32{{1}, {1}, {1}}),
	}}}}
	host.Meshes = append(host.Meshes, mesh)
	host.Nodes = append(host.Nodes, &gltf.Node{Name: "Coat", Mesh: gltf.Index(0), Skin: gltf.Index(0)})
	host.Scenes[0].Nodes = append(host.Scenes[0].Nodes, len(host.Nodes)-1)
	var data bytes.Buffer
	encoder := gltf.NewEncoder(&data)
	encoder.AsBinary = true
	require.NoError(t, encoder.Encode(host))
	return data.Bytes()
}

// An animator's own character goes through a round of edits: its three clips become sheets over one rig, one is changed, and
// all go back into their places, which the validator accepts and three plays as the sheets have them. Nothing else of the
// file changes, and it does not grow from round to round.
func TestACharacterGoesThroughARoundOfEdits(t *testing.T) {
	long(t)
	data := character(t)
	all, err := ImportAll(AllOptions{Paths: []string{"folk.glb"}, Options: Options{ReadFile: inMemory(map[string][]byte{"folk.glb": data})}})
	require.NoError(t, err)
	require.Len(t, all.Clips, 3)
	texts := map[string]*grammar.File{}
	for i, c := range all.Clips {
		require.NoError(t, c.Err)
		assert.False(t, c.Outside)
		requireWithin(t, DefaultWithin(), compareNamed(t, c.Result, data, i))
		for _, f := range c.Files() {
			texts[f.Name] = grammar.Parse(f.Name, f.Text)
		}
	}
	// The walker carries its head lower.
	edited := texts["walk-male.motet"].Text + "\ntrack head in tired\n  at      nod\n  0b      9\n"
	texts["walk-male.motet"] = grammar.Parse("walk-male.motet", pageOf(edited).text("walk-male.motet"))
	project := motion.NewProject(func(path string) (*grammar.File, error) { return texts[path], nil })
	var takes []*Take
	for _, name := range []string{"jump.motet", "run-male.motet", "walk-male.motet"} {
		m := project.Resolve(texts[name])
		require.Empty(t, m.Problems, name)
		take, err := NewTake(m, TakeWish{})
		require.NoError(t, err)
		takes = append(takes, take)
	}
	out, lines, err := IntoAll("folk.glb", data, takes)
	require.NoError(t, err)
	assert.Equal(t, []string{`jump takes the place of the clip "Jump"`, `run-male takes the place of the clip "Run_Male"`, `walk-male takes the place of the clip "Walk_Male"`}, lines)
	file := filepath.Join(t.TempDir(), "folk.glb")
	require.NoError(t, os.WriteFile(file, out, 0o666))

	// Everything else is what it was, and the clips keep their places and names.
	before, after := jsonOf(t, data), jsonOf(t, out)
	for _, part := range []string{"asset", "nodes", "meshes", "skins", "scenes"} {
		assert.JSONEq(t, string(before[part]), string(after[part]), part)
	}
	d := read(t, file)
	var names []string
	for i := range d.Clips {
		names = append(names, d.Clips[i].Name)
	}
	assert.Equal(t, []string{"Run_Male", "Walk_Male", "Jump"}, names)

	requireValid(t, file)
	var playings []playing
	for clip, n := range []int{1, 2, 0} {
		seats, err := seat(takes[n], d.nodes)
		require.NoError(t, err)
		playings = append(playings, playing{takes[n], file, clip, func(joint int) int { return seats.seats[joint].node }})
	}
	place, _ := playedOff(t, playings...)
	for i := range place {
		assert.Less(t, place[i], 1e-4, names[i])
	}

	// The next round takes the place of the last one in the buffer too, and the sheets come back as they are.
	again, _, err := IntoAll("folk.glb", out, takes)
	require.NoError(t, err)
	assert.Equal(t, len(out), len(again))
	back, err := ImportAll(AllOptions{Paths: []string{"folk.glb"}, Options: Options{ReadFile: inMemory(map[string][]byte{"folk.glb": again})}})
	require.NoError(t, err)
	for _, f := range back.Files {
		assert.Equal(t, texts[f.Name].Text, f.Text, f.Name)
	}
	assert.Len(t, back.Files, 4)

	// Two sheets for one clip are told of.
	twice := *takes[0]
	_, _, err = IntoAll("folk.glb", data, []*Take{takes[0], &twice})
	assert.EqualError(t, err, `folk.glb: jump.motet and jump.motet would both take the place of the clip "Jump"; export one of them alone, with --clip and another name`)
}

func jsonOf(t *testing.T, data []byte) map[string]json.RawMessage {
	t.Helper()
	text, _, err := unpack(data)
	require.NoError(t, err)
	out := map[string]json.RawMessage{}
	require.NoError(t, json.Unmarshal(text, &out))
	return out
}
