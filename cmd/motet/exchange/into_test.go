package exchange

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion"
)

// characterJSON is an animator's file with all that an export must leave alone: an armature that no rig knows, a matrix
// node, a skinned mesh with a material and a texture, extras, an extension nobody has heard of, a number with more
// digits than 64 bits have, and another clip.
const characterJSON = `{
  "asset": {"version": "2.0", "generator": "by hand", "extras": {"n": 0.1234567890123456789}},
  "extensionsUsed": ["ACME_moss"],
  "scene": 0,
  "scenes": [{"nodes": [0, 4], "extras": "quay"}],
  "nodes": [
    {"name": "Armature", "rotation": [-0.70710678118654757, 0, 0, 0.70710678118654757], "scale": [0.01, 0.01, 0.01], "children": [1]},
    {"name": "hips", "translation": [0, 0, 90], "rotation": [0.70710678118654757, 0, 0, 0.70710678118654757], "children": [2], "extensions": {"ACME_moss": {"on": "north"}}},
    {"name": "chest", "matrix": [1,0,0,0, 0,1,0,0, 0,0,1,0, 0,30,0,1], "children": [3]},
    {"name": "hat", "translation": [0, 25, 0], "extras": {"loose": true}},
    {"name": "coat", "mesh": 0, "skin": 0}
  ],
  "skins": [{"joints": [1, 2], "inverseBindMatrices": 4}],
  "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "JOINTS_0": 2, "WEIGHTS_0": 3}, "indices": 1, "material": 0}]}],
  "materials": [{"name": "tweed", "pbrMetallicRoughness": {"metallicFactor": 0.25}, "extensions": {"ACME_moss": {"depth": 2, "texture": 0}}}],
  "textures": [{"source": 0}],
  "images": [{"bufferView": 7, "mimeType": "image/png"}],
  "animations": [{"name": "bow", "samplers": [{"input": 5, "output": 6}], "channels": [{"sampler": 0, "target": {"node": 2, "path": "weights"}}], "extras": {"by": "hand"}}],
  "accessors": [
    {"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3", "min": [0,0,0], "max": [1,1,0]},
    {"bufferView": 1, "componentType": 5123, "count": 3, "type": "SCALAR"},
    {"bufferView": 2, "componentType": 5121, "count": 3, "type": "VEC4"},
    {"bufferView": 3, "componentType": 5126, "count": 3, "type": "VEC4"},
    {"bufferView": 4, "componentType": 5126, "count": 2, "type": "MAT4"},
    {"bufferView": 5, "componentType": 5126, "count": 2, "type": "SCALAR", "min": [0], "max": [1]},
    {"bufferView": 6, "componentType": 5126, "count": 2, "type": "VEC3"}
  ],
  "bufferViews": [
    {"buffer": 0, "byteOffset": 0, "byteLength": 36, "byteStride": 12},
    {"buffer": 0, "byteOffset": 36, "byteLength": 6},
    {"buffer": 0, "byteOffset": 44, "byteLength": 12},
    {"buffer": 0, "byteOffset": 56, "byteLength": 48},
    {"buffer": 0, "byteOffset": 104, "byteLength": 128},
    {"buffer": 0, "byteOffset": 232, "byteLength": 8},
    {"buffer": 0, "byteOffset": 240, "byteLength": 24},
    {"buffer": 0, "byteOffset": 264, "byteLength": 70}
  ],
  "buffers": [{"byteLength": 334%s}]
}`

// characterBody is the numbers of characterJSON.
func characterBody() []byte {
	var out []byte
	floats := func(values ...float64) { out = appendFloats(out, values) }
	floats(0, 0, 0, 1, 0, 0, 0, 1, 0)
	out = append(out, 0, 0, 1, 0, 2, 0, 0, 0)
	out = append(out, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
	for range 3 {
		floats(1, 0, 0, 0)
	}
	for range 2 {
		floats(1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1)
	}
	floats(0, 1)
	floats(0, 30, 0, 0, 31, 0)
	picture, _ := base64.StdEncoding.DecodeString("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==")
	return append(out, picture...)
}

// characters is the file in the three forms that glTF has: a .glb, a .gltf with its numbers inside, and one with the
// numbers in a file beside it. The last clip moves a matrix node's weights, which three would not read, so the clip moves
// the hat here.
func characters() map[string][]byte {
	text := strings.Replace(characterJSON, `"node": 2, "path": "weights"`, `"node": 3, "path": "translation"`, 1)
	body := characterBody()
	return map[string][]byte{
		"character.glb":   pack(fmt.Appendf(nil, text, ""), body),
		"inside.gltf":     fmt.Appendf(nil, text, `, "uri": "data:application/octet-stream;base64,`+base64.StdEncoding.EncodeToString(body)+`"`),
		"character.gltf":  fmt.Appendf(nil, text, `, "uri": "character.bin"`),
		"character.bin":   body,
		"no-numbers.gltf": []byte(`{"asset": {"version": "2.0"}, "nodes": [{"name": "hips", "children": [1]}, {"name": "chest", "translation": [0, 0.3, 0]}], "scenes": [{"nodes": [0]}], "scene": 0}`),
		"no-numbers.glb":  pack([]byte(`{"asset": {"version": "2.0"}, "nodes": [{"name": "hips", "children": [1]}, {"name": "chest", "translation": [0, 0.3, 0]}], "scenes": [{"nodes": [0]}], "scene": 0}`), nil),
	}
}

const coatRig = `rig coat

joints
  joint           on              x       y       z
  hips            .               0       90      0
  chest           hips            0       30      0

channels
  channel                 joint           drives          gain    unit
  hips/side               .               move.x          1       cm
  hips/turn               .               turn.y          1       deg
  chest/lean              .               turn.x          1       deg
  chest/tilt              .               turn.z          1       deg
`

// coatSheet moves the character.
func coatSheet(t testing.TB, name string) *motion.Motion {
	return sheetOf(t, map[string]string{"coat.motet": coatRig, "sheet.motet": "sheet " + name + `
  rig       coat in "coat.motet"
  rate      24 fps
  cycle     48f

track hips
  at      side    turn
  0f      -3      10
  24f     3       -20

track chest
  at      lean    tilt
  0f      5       0
  12f     .       8
  30f     -5      -6
`}, "sheet.motet")
}

// anything is a JSON text as values, numbers as they are written.
func anything(t testing.TB, text []byte) map[string]any {
	t.Helper()
	in := json.NewDecoder(bytes.NewReader(text))
	in.UseNumber()
	var out map[string]any
	require.NoError(t, in.Decode(&out))
	return out
}

// requireOnlyAdded holds that a file is another one with a clip more: every member the same, lists longer at their ends
// only, the buffer's first bytes the same, and the matrix node the same by its parts.
func requireOnlyAdded(t testing.TB, before, after []byte) {
	t.Helper()
	textBefore, bodyBefore, err := unpack(before)
	require.NoError(t, err)
	textAfter, bodyAfter, err := unpack(after)
	require.NoError(t, err)
	b, a := anything(t, textBefore), anything(t, textAfter)
	if bodyBefore != nil {
		require.True(t, bytes.HasPrefix(bodyAfter, bodyBefore), "the buffer")
		first := func(m map[string]any) map[string]any { return m["buffers"].([]any)[0].(map[string]any) }
		delete(first(b), "byteLength")
		delete(first(a), "byteLength")
	}
	for i, node := range b["nodes"].([]any) {
		there := a["nodes"].([]any)[i].(map[string]any)
		if _, matrix := node.(map[string]any)["matrix"]; matrix && there["matrix"] == nil {
			assert.Equal(t, []any{json.Number("0"), json.Number("30"), json.Number("0")}, there["translation"])
			assert.Equal(t, []any{json.Number("0"), json.Number("0"), json.Number("0"), json.Number("1")}, there["rotation"])
			assert.Equal(t, []any{json.Number("1"), json.Number("1"), json.Number("1")}, there["scale"])
			delete(node.(map[string]any), "matrix")
			delete(there, "translation")
			delete(there, "rotation")
			delete(there, "scale")
		}
	}
	for name, value := range b {
		list, isList := value.([]any)
		if !isList {
			assert.Equal(t, value, a[name], name)
			continue
		}
		longer := a[name].([]any)
		require.GreaterOrEqual(t, len(longer), len(list), name)
		assert.Equal(t, list, longer[:len(list)], name)
	}
	for name := range a {
		if _, had := b[name]; !had {
			assert.Contains(t, []string{"animations", "accessors", "bufferViews", "buffers"}, name)
		}
	}
}

// A clip goes into every form of file, and nothing else of the file changes. What three plays of it is the sheet's
// motion, though the armature above turns and shrinks everything, and the validator has nothing to say.
func TestIntoLeavesEverythingElse(t *testing.T) {
	folder := t.TempDir()
	take, err := NewTake(coatSheet(t, "coat-wait"), TakeWish{})
	require.NoError(t, err)
	all := characters()
	var files []string
	var playings []playing
	require.NoError(t, os.WriteFile(filepath.Join(folder, "character.bin"), all["character.bin"], 0o666))
	delete(all, "character.bin")
	for name, data := range all {
		path := filepath.Join(folder, name)
		out, err := Into(name, data, take)
		require.NoError(t, err, name)
		requireOnlyAdded(t, data, out)
		require.NoError(t, os.WriteFile(path, out, 0o666))
		d, err := Read(path, os.ReadFile)
		require.NoError(t, err, name)
		assert.Equal(t, "coat-wait", d.Clips[len(d.Clips)-1].Name)
		if name == "character.glb" {
			files = append(files, path)
			playings = append(playings, playing{take, path, 1, func(joint int) int { return joint + 1 }})
		}
		// Again with another motion of the same name: the old numbers go, and the file does not grow.
		again, err := Into(name, out, take)
		require.NoError(t, err)
		requireOnlyAdded(t, data, again)
		if strings.HasSuffix(name, ".glb") {
			// Members may come in another order, since lists that become empty are left out for a while.
			textOut, bodyOut, _ := unpack(out)
			textAgain, bodyAgain, _ := unpack(again)
			assert.Equal(t, anything(t, textOut), anything(t, textAgain), "the same clip in its own place is the same file")
			assert.Equal(t, bodyOut, bodyAgain)
		}
	}
	requireValid(t, files...)
	place, _ := playedOff(t, playings...)
	for _, off := range place {
		assert.Less(t, off, 1e-4)
	}
}

// A clip that is not the last one is replaced where it stands, and the numbers of the others stay theirs.
func TestIntoReplacesAClipAmongOthers(t *testing.T) {
	data := characters()["character.glb"]
	for _, name := range []string{"one", "two", "one"} {
		take, err := NewTake(coatSheet(t, name), TakeWish{})
		require.NoError(t, err)
		before := data
		data, err = Into("character.glb", data, take)
		require.NoError(t, err)
		if name != "one" {
			requireOnlyAdded(t, before, data)
		}
	}
	path := filepath.Join(t.TempDir(), "character.glb")
	require.NoError(t, os.WriteFile(path, data, 0o666))
	d := read(t, path)
	var names []string
	for _, clip := range d.Clips {
		names = append(names, clip.Name)
	}
	assert.Equal(t, []string{"bow", "one", "two"}, names)
	requireValid(t, path)
}

// What can't be done says which joint or node is in the way.
func TestIntoRefusals(t *testing.T) {
	take, err := NewTake(coatSheet(t, "wait"), TakeWish{})
	require.NoError(t, err)
	file := func(nodes string) []byte {
		return []byte(`{"asset": {"version": "2.0"}, "nodes": [` + nodes + `]}`)
	}
	tests := map[string]struct {
		data []byte
		want string
	}{
		"no such joint":    {file(`{"name": "hips"}`), "joint `chest` moves, but the file has no node \"chest\""},
		"two of a name":    {file(`{"name": "hips"}, {"name": "hips"}, {"name": "chest"}`), "joint `hips`: nodes 0 and 1 are both called \"hips\""},
		"not on the other": {file(`{"name": "hips"}, {"name": "chest"}`), "joint `chest`: node 1 \"chest\" does not hang on node 0 \"hips\""},
		"uneven between":   {file(`{"name": "hips", "children": [1]}, {"name": "spacer", "scale": [1, 2, 1], "children": [2]}, {"name": "chest"}`), "node 1 \"spacer\", which the rig does not know, has a scale that differs by axis"},
		"twice a member":   {[]byte(`{"asset": {"version": "2.0"}, "nodes": [{"name": "hips", "children": [1]}, {"name": "chest"}], "nodes": [{"name": "hips", "children": [1]}, {"name": "chest"}]}`), "the JSON has the member \"nodes\" twice"},
		"not glTF":         {[]byte("glory"), "no glTF"},
		"cut short":        {characters()["character.glb"][:400], "it was cut short"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := Into("a.gltf", test.data, take)
			require.ErrorContains(t, err, test.want)
			assert.True(t, strings.HasPrefix(err.Error(), "a.gltf: "))
		})
	}
}

// FuzzInto puts a clip into whatever bytes it is given: it may refuse them, but it may not panic, and what it gives can
// be read again and holds the clip.
func FuzzInto(f *testing.F) {
	for _, data := range characters() {
		f.Add(data)
	}
	take, err := NewTake(coatSheet(f, "wait"), TakeWish{})
	require.NoError(f, err)
	first, err := Into("a.glb", characters()["character.glb"], take)
	require.NoError(f, err)
	f.Add(first)
	other, err := NewTake(coatSheet(f, "other"), TakeWish{})
	require.NoError(f, err)
	for name, data := range characters() {
		if strings.HasSuffix(name, ".bin") {
			continue
		}
		// A clip among others, which is taken out from the middle.
		for _, take := range []*Take{take, other} {
			data, err = Into(name, data, take)
			require.NoError(f, err)
		}
		f.Add(data)
	}
	f.Add(glb(f, faceFile(f)))
	faces, err := NewTake(faceKeeper(f), TakeWish{Name: "wait"})
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, data []byte) {
		if out, err := Into("a.glb", data, faces); err == nil {
			_, err = Read("a.glb", inMemory(map[string][]byte{"a.glb": out}))
			if _, before := Read("a.glb", inMemory(map[string][]byte{"a.glb": data})); before == nil {
				require.NoError(t, err, "what could be read still can")
			}
			require.LessOrEqual(t, len(out), 3*len(data)+(1<<16)+4*mostWeights)
		}
		out, err := Into("a.glb", data, take)
		if err != nil {
			return
		}
		require.LessOrEqual(t, len(out), 3*len(data)+(1<<16), "memory stays a multiple of the file's size")
		text, body, err := unpack(out)
		require.NoError(t, err)
		file, err := parse(text)
		require.NoError(t, err)
		found := false
		for _, a := range file.Animations {
			found = found || a.Name == "wait"
		}
		require.True(t, found)
		if body != nil {
			require.LessOrEqual(t, file.Buffers[0].ByteLength, len(body))
		}
	})
}

// Real clips go back into their own files beside the clip that they came from, and the two are one motion to a witness
// that shares nothing with the export.
func TestRealClipsGoBackIntoTheirFiles(t *testing.T) {
	long(t)
	var files []string
	for _, path := range emotes(t) {
		r := imported(t, path)
		take, err := NewTake(resolve(t, r), TakeWish{Name: "back again"})
		require.NoError(t, err)
		assert.LessOrEqual(t, take.Off.TurnDeg, ExportWithin().TurnDeg)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		out, err := Into(path, data, take)
		require.NoError(t, err)
		requireOnlyAdded(t, data, out)
		file := filepath.Join(t.TempDir(), filepath.Base(path))
		require.NoError(t, os.WriteFile(file, out, 0o666))
		files = append(files, file)
		assert.Less(t, clipsApart(t, out, take), DefaultWithin().WorldCM+ExportWithin().WorldCM, path)
		l, err := LikenessToSheet(take.Motion, read(t, file), take.Name)
		require.NoError(t, err)
		place, _, joint, _ := l.Largest()
		assert.Less(t, place.Largest, ExportWithin().WorldCM, "%s: %s, at moments between those that the export looks at too", path, joint)
	}
	requireValid(t, files[:3]...)
}

// clipsApart is how far the first and the last clip of a file are apart in the world, in centimetres, at whole frames.
func clipsApart(t testing.TB, data []byte, take *Take) (worst float64) {
	t.Helper()
	first, last := newWitness(t, data, 0), newWitness(t, data, lastClip(t, data))
	start, end := first.span()
	rate := take.Motion.Sheet.Rate.Float()
	frames := int(math.Round((end - start) * rate))
	for frame := 0; frame <= frames; frame += 1 + frames/40 {
		if float64(frame) >= take.Motion.Sheet.Length.Float() {
			break
		}
		a, _ := first.places(start + float64(frame)*(end-start)/float64(frames))
		b, _ := last.places(float64(frame) / rate)
		for i := range a {
			worst = math.Max(worst, vec3(a[i]).to(vec3(b[i])))
		}
	}
	return worst
}

func lastClip(t testing.TB, data []byte) int {
	t.Helper()
	text, _, err := unpack(data)
	require.NoError(t, err)
	file, err := parse(text)
	require.NoError(t, err)
	return len(file.Animations) - 1
}

// The lengths that a .glb states are those that it has.
func TestPackedLengths(t *testing.T) {
	for n := range 5 {
		out := pack([]byte(strings.Repeat(" ", n)+"{}"), make([]byte, n))
		assert.Equal(t, uint32(len(out)), binary.LittleEndian.Uint32(out[8:]))
		assert.Zero(t, len(out)%4)
	}
}

// A scale at rest that differs by axis skews what is turned below it. The rig holds it as a channel, so that the sheet is
// the clip by the witness, three plays the export as the sheet has it, and a sheet without that channel says what it is
// off.
func TestUnevenScalesAtRest(t *testing.T) {
	p := lampKeeper(24, 24)
	p.nodes[2].Scale, p.nodes[4].Scale = [3]float64{1, 1.2, 0.9}, [3]float64{0.95, 0.95, 1.05}
	p.nodes[8].Rotation = [4]float64(aboutAxis(2, 35))
	r, data := importPuppet(t, p, Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	for _, line := range []string{"spine/scale-y", "spine/scale-z", "up-leg.left/scale-z"} {
		assert.Contains(t, r.RigText, line)
	}
	m := resolve(t, r)
	takes, file := exported(t, TakeWish{}, m)
	assert.NotContains(t, takes[0].Report(), "differs by axis")
	place, _ := playedOff(t, playing{takes[0], file, 0, same})
	assert.Less(t, place[0], 1e-4)
	requireValid(t, file)
	back, err := Into("lamp.glb", data, takes[0])
	require.NoError(t, err)
	d, err := Read("lamp.glb", func(string) ([]byte, error) { return back, nil })
	require.NoError(t, err)
	l, err := LikenessToSheet(m, d, takes[0].Name)
	require.NoError(t, err)
	far, _, _, _ := l.Largest()
	assert.Less(t, far.Largest, 0.011)

	// A rig that holds the scale in a comment only, as older ones do.
	r.RigText = strings.Replace(r.RigText, `"Keeper_Spine"`, `"Keeper_Spine" scale 1 1.2 0.9`, 1)
	older := sheetOf(t, map[string]string{r.RigFile: r.RigText, r.SheetFile: r.SheetText}, r.SheetFile)
	takes, file = exported(t, TakeWish{}, older)
	assert.Contains(t, takes[0].Report(), "since the node of `spine` has a scale that differs by axis")
	place, _ = playedOff(t, playing{takes[0], file, 0, same})
	assert.InDelta(t, takes[0].Off.WorldCM, 100*place[0], 0.05*takes[0].Off.WorldCM)

	// A rig that somebody wrote by hand for a file with such a node.
	names, err := UnevenNodes([]byte(`{"asset": {"version": "2.0"}, "nodes": [{"name": "hips", "scale": [1, 2, 1], "children": [1]}, {"name": "chest"}]}`), &Take{Motion: coatSheet(t, "wait")})
	require.NoError(t, err)
	assert.Equal(t, []string{"hips"}, names)
}
