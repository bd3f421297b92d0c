package exchange

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// lamp is one node that turns about y by three keys.
func lamp() puppet {
	return puppet{
		nodes: []*gltf.Node{{Name: "Lamp", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}},
		clips: []clipSpec{{name: "Sway", tracks: []trackSpec{
			{path: gltf.TRSRotation, times: []float32{0, 0.5, 1}, values: [][]float32{{0, 0, 0, 1}, {0, 0.1, 0, 0.995}, {0, 0, 0, 1}}},
		}}},
	}
}

// spoilt gives the lamp's file as JSON with its buffer inside, changed by spoil.
func spoilt(t *testing.T, spoil func(file map[string]any)) []byte {
	t.Helper()
	doc := lamp().document(t)
	doc.Buffers[0].EmbeddedResource()
	text, err := json.Marshal(doc)
	require.NoError(t, err)
	var file map[string]any
	require.NoError(t, json.Unmarshal(text, &file))
	spoil(file)
	text, err = json.Marshal(file)
	require.NoError(t, err)
	return text
}

// entry is one object of an array of the file.
func entry(file map[string]any, array string, i int) map[string]any {
	return file[array].([]any)[i].(map[string]any)
}

func sampler(file map[string]any) map[string]any {
	return entry(file, "animations", 0)["samplers"].([]any)[0].(map[string]any)
}

func channelOf(file map[string]any) map[string]any {
	return entry(file, "animations", 0)["channels"].([]any)[0].(map[string]any)
}

// floats replaces the numbers that an accessor of the lamp's file reads.
func floats(file map[string]any, accessor int, values ...float32) {
	data := []byte{}
	for _, v := range values {
		data = append(data, float32Bytes(v)...)
	}
	buffers := file["buffers"].([]any)
	file["buffers"] = append(buffers, map[string]any{"byteLength": len(data), "uri": "data:application/octet-stream;base64," + base64.StdEncoding.EncodeToString(data)})
	views := file["bufferViews"].([]any)
	file["bufferViews"] = append(views, map[string]any{"buffer": len(buffers), "byteLength": len(data)})
	entry(file, "accessors", accessor)["bufferView"] = len(views)
	entry(file, "accessors", accessor)["byteOffset"] = 0
}

// In the lamp's file accessor 0 holds the rotations and accessor 1 the times.
func TestFilesThatAreWrongSaySo(t *testing.T) {
	set := func(object map[string]any, key string, value any) { object[key] = value }
	for name, c := range map[string]struct {
		spoil func(file map[string]any)
		want  string
	}{
		"accessor that is not there": {func(f map[string]any) { set(sampler(f), "output", 7) }, "accessor 7 is asked for, but the file has 2"},
		"negative accessor":          {func(f map[string]any) { set(sampler(f), "input", -1) }, "accessor -1 is asked for"},
		"sampler that is not there":  {func(f map[string]any) { set(channelOf(f), "sampler", 3) }, `animation 0 "Sway", channel 0: it uses sampler 3, but the animation has 1`},
		"node that is not there":     {func(f map[string]any) { set(channelOf(f)["target"].(map[string]any), "node", 9) }, "it moves node 9, but the file has 1 nodes"},
		"unknown path":               {func(f map[string]any) { set(channelOf(f)["target"].(map[string]any), "path", "rotated") }, `moves "rotated", which glTF 2.0 does not know`},
		"unknown interpolation":      {func(f map[string]any) { set(sampler(f), "interpolation", "SMOOTH") }, `interpolation "SMOOTH", which glTF 2.0 does not know`},
		"unknown component type":     {func(f map[string]any) { set(entry(f, "accessors", 1), "componentType", 5130) }, "accessor 1 has component type 5130"},
		"count beyond the buffer":    {func(f map[string]any) { set(entry(f, "accessors", 0), "count", 2_000_000_000) }, "accessor 0: it states 2000000000 elements of 16 bytes"},
		"count of nothing":           {func(f map[string]any) { set(entry(f, "accessors", 0), "count", 0) }, "accessor 0: its count is 0"},
		"count without a bufferView": {func(f map[string]any) {
			delete(entry(f, "accessors", 0), "bufferView")
			set(entry(f, "accessors", 0), "count", 1<<30)
		}, "has no bufferView to hold them"},
		"offset beyond the view":       {func(f map[string]any) { set(entry(f, "accessors", 0), "byteOffset", 1<<40) }, "accessor 0: it states 3 elements of 16 bytes from byte 1099511627776"},
		"negative offset":              {func(f map[string]any) { set(entry(f, "accessors", 0), "byteOffset", -8) }, "from byte -8"},
		"view beyond the buffer":       {func(f map[string]any) { set(entry(f, "bufferViews", 0), "byteLength", 9999) }, "bufferView 0 states bytes 0 to 9999 of buffer 0, which has"},
		"view in no buffer":            {func(f map[string]any) { set(entry(f, "bufferViews", 0), "buffer", 5) }, "it lies in buffer 5, but the file has 1"},
		"stride smaller than elements": {func(f map[string]any) { set(entry(f, "bufferViews", 0), "byteStride", 8) }, "bufferView 0 has stride 8 for elements of 16 bytes"},
		"buffer cut short":             {func(f map[string]any) { set(entry(f, "buffers", 0), "byteLength", 99999) }, "buffer 0 states 99999 bytes, but there are"},
		"buffer that is not base64":    {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "data:text/plain,hello") }, "is a data URI that is not base64"},
		"buffer of broken base64":      {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "data:application/octet-stream;base64,@@@") }, "does not decode"},
		"buffer without an address":    {func(f map[string]any) { delete(entry(f, "buffers", 0), "uri") }, "buffer 0 has no uri"},
		"buffer above the folder":      {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "../secret.bin") }, `lies at "../secret.bin", and only files inside the glTF's own folder are read`},
		"buffer above, written as %2e": {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "%2e%2e/secret.bin") }, "only files inside the glTF's own folder"},
		"buffer at the root":           {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "/etc/passwd") }, "only files inside the glTF's own folder"},
		"buffer on the web":            {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "https://example.org/a.bin") }, "only files inside the glTF's own folder"},
		"buffer by a Windows path":     {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", `..\secret.bin`) }, "only files inside the glTF's own folder"},
		"buffer that is missing":       {func(f map[string]any) { set(entry(f, "buffers", 0), "uri", "lamp.bin") }, "buffer 0: there is no file folk/lamp.bin; put the file beside the glTF"},
		"compressed view": {func(f map[string]any) {
			set(entry(f, "bufferViews", 0), "extensions", map[string]any{"EXT_meshopt_compression": map[string]any{}})
		}, "packed with EXT_meshopt_compression: its mode is \"\", and the numbers of a clip have ATTRIBUTES"},
		"times that do not rise":    {func(f map[string]any) { floats(f, 1, 0, 0.5, 0.5) }, "accessor 1: time 2 (0.5 s) is not later than the one before it (0.5 s)"},
		"time that is no number":    {func(f map[string]any) { floats(f, 1, 0, nan32(), 1) }, "accessor 1: element 1 holds NaN"},
		"rotation without a length": {func(f map[string]any) { floats(f, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 1) }, "accessor 0: the rotation at element 1 has no length"},
		"endless rotation":          {func(f map[string]any) { floats(f, 0, 0, 0, 0, 1, inf32(), 0, 0, 0, 0, 0, 0, 1) }, "accessor 0: element 1 holds +Inf"},
		"fewer values than times":   {func(f map[string]any) { set(entry(f, "accessors", 0), "count", 2) }, "accessor 0: it holds 2 values, but 3 times (accessor 1) need 3"},
		"cubic without its slopes":  {func(f map[string]any) { set(sampler(f), "interpolation", "CUBICSPLINE") }, "3 times (accessor 1) need 9"},
		"vectors for rotations":     {func(f map[string]any) { set(entry(f, "accessors", 0), "type", "VEC3") }, "accessor 0: it has 3 numbers an element, and a rotation has 4"},
		"vectors for times":         {func(f map[string]any) { set(sampler(f), "input", 0) }, "accessor 0: it has 4 numbers an element, and a time is one"},
		"matrices for times":        {func(f map[string]any) { set(entry(f, "accessors", 1), "type", "MAT4") }, "accessor 1: its type is a matrix"},
		"two channels of one thing": {func(f map[string]any) {
			a := entry(f, "animations", 0)
			a["channels"] = append(a["channels"].([]any), a["channels"].([]any)[0])
		}, `moves the rotation of node 0 "Lamp" a second time`},
		"child that is not there": {func(f map[string]any) { set(entry(f, "nodes", 0), "children", []int{4}) }, `node 0 "Lamp" has child 4, but the file has 1 nodes`},
		"node on itself":          {func(f map[string]any) { set(entry(f, "nodes", 0), "children", []int{0}) }, `node 0 "Lamp" is its own ancestor`},
		"child twice": {func(f map[string]any) {
			f["nodes"] = append(f["nodes"].([]any), map[string]any{"children": []int{0}})
			set(entry(f, "nodes", 1), "children", []int{0, 0})
		}, `node 0 "Lamp" is a child of both node 1 and node 1`},
		"node of null":    {func(f map[string]any) { f["nodes"].([]any)[0] = nil }, "node 0 is null"},
		"buffer of null":  {func(f map[string]any) { f["buffers"].([]any)[0] = nil }, "buffer 0 is null"},
		"channel of null": {func(f map[string]any) { entry(f, "animations", 0)["channels"].([]any)[0] = nil }, `animation 0, channel 0 moves ""`},
		"sheared matrix": {func(f map[string]any) {
			set(entry(f, "nodes", 0), "matrix", []int{1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
		}, "its matrix shears"},
		"flat matrix": {func(f map[string]any) {
			set(entry(f, "nodes", 0), "matrix", []int{1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
		}, "its matrix flattens an axis to nothing"},
		"place beyond anything":         {func(f map[string]any) { set(entry(f, "nodes", 0), "translation", []float64{0, 1e300, 0}) }, `node 0 "Lamp": its transform holds 1e+300`},
		"no asset":                      {func(f map[string]any) { delete(f, "asset") }, "states no asset version"},
		"glTF 1.0":                      {func(f map[string]any) { set(f["asset"].(map[string]any), "version", "1.0") }, `the asset states version "1.0", and only glTF 2.0 is read`},
		"text where a number should be": {func(f map[string]any) { set(entry(f, "accessors", 0), "count", "three") }, "the JSON holds a value of the wrong kind (string) at accessors.count"},
		"sparse index beyond the count": {func(f map[string]any) { sparse(f, 9) }, "its sparse index 0 points at element 9 of 3"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read("folk/lamp.gltf", inMemory(map[string][]byte{"folk/lamp.gltf": spoilt(t, c.spoil), "secret.bin": {1}, "/etc/passwd": {1}}))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			assert.True(t, strings.HasPrefix(err.Error(), "folk/lamp.gltf: "), "the file is named: %s", err)
		})
	}
}

// sparse makes the times a sparse accessor over zeros that substitutes one element.
func sparse(f map[string]any, index byte) {
	floats(f, 1, 0.25)
	view := entry(f, "accessors", 1)["bufferView"]
	delete(entry(f, "accessors", 1), "bufferView")
	buffers := f["buffers"].([]any)
	f["buffers"] = append(buffers, map[string]any{"byteLength": 1, "uri": "data:application/octet-stream;base64," + base64.StdEncoding.EncodeToString([]byte{index})})
	views := f["bufferViews"].([]any)
	f["bufferViews"] = append(views, map[string]any{"buffer": len(buffers), "byteLength": 1})
	entry(f, "accessors", 1)["sparse"] = map[string]any{
		"count":   1,
		"indices": map[string]any{"bufferView": len(views), "componentType": 5121},
		"values":  map[string]any{"bufferView": view},
	}
}

func TestSparseAccessors(t *testing.T) {
	doc := lamp().document(t)
	// Times of nothing but zeros, of which elements 1 and 2 are put in by the sparse part.
	doc.Accessors[1].BufferView = nil
	extra := lamp().document(t)
	doc.Accessors[1].Sparse = &gltf.Sparse{Count: 2}
	at := len(doc.Buffers[0].Data)
	data := append([]byte{1, 2, 0, 0}, append(float32Bytes(0.5), float32Bytes(1)...)...)
	doc.Buffers[0].Data = append(doc.Buffers[0].Data, data...)
	doc.Buffers[0].ByteLength = len(doc.Buffers[0].Data)
	doc.BufferViews = append(doc.BufferViews,
		&gltf.BufferView{ByteOffset: at, ByteLength: 2},
		&gltf.BufferView{ByteOffset: at + 4, ByteLength: 8})
	doc.Accessors[1].Sparse.Indices = gltf.SparseIndices{BufferView: len(doc.BufferViews) - 2, ComponentType: gltf.ComponentUbyte}
	doc.Accessors[1].Sparse.Values = gltf.SparseValues{BufferView: len(doc.BufferViews) - 1}

	want, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": glb(t, extra)}))
	require.NoError(t, err)
	got, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": glb(t, doc)}))
	require.NoError(t, err)
	assert.Equal(t, want.Clips, got.Clips)
}

func TestContainersThatAreCut(t *testing.T) {
	whole := glb(t, lamp().document(t))
	for cut := range len(whole) {
		_, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": whole[:cut]}))
		require.Error(t, err, "cut after %d bytes", cut)
	}
	_, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": whole[:len(whole)-4]}))
	assert.ErrorContains(t, err, "it was cut short, export it again")
}

// One file in three shapes reads the same.
func TestShapesOfAFile(t *testing.T) {
	doc := lamp().document(t)
	want, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": glb(t, doc)}))
	require.NoError(t, err)

	data := doc.Buffers[0].Data
	for name, address := range map[string]string{
		"beside":           "lamp sway.bin",
		"escaped":          "lamp%20sway.bin",
		"from here":        "./lamp%20sway.bin",
		"octet stream":     "data:application/octet-stream;base64," + base64.StdEncoding.EncodeToString(data),
		"gltf buffer type": "data:application/gltf-buffer;base64," + base64.StdEncoding.EncodeToString(data),
		"without padding":  "data:application/octet-stream;base64," + base64.RawStdEncoding.EncodeToString(data),
	} {
		t.Run(name, func(t *testing.T) {
			doc := lamp().document(t)
			doc.Buffers[0].URI = address
			text, err := json.Marshal(doc)
			require.NoError(t, err)
			got, err := Read("folk/a.gltf", inMemory(map[string][]byte{"folk/a.gltf": text, "folk/lamp sway.bin": data}))
			require.NoError(t, err)
			assert.Equal(t, want.Clips, got.Clips)
		})
	}
}

// A buffer that no clip uses may be missing: textures and meshes are nobody's business here.
func TestUnusedBuffersAreNotRead(t *testing.T) {
	doc := lamp().document(t)
	doc.Buffers = append(doc.Buffers, &gltf.Buffer{URI: "mesh.bin", ByteLength: 1 << 40})
	doc.Buffers[0].EmbeddedResource()
	text, err := json.Marshal(doc)
	require.NoError(t, err)
	_, err = Read("a.gltf", inMemory(map[string][]byte{"a.gltf": text}))
	assert.NoError(t, err)
}

// Many channels that share one long sampler must not copy its numbers each.
func TestSharedAccessorsAreDecodedOnce(t *testing.T) {
	p := lamp()
	for len(p.nodes) < 400 {
		p.nodes = append(p.nodes, &gltf.Node{Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale})
	}
	doc := p.document(t)
	for node := 1; node < len(p.nodes); node++ {
		doc.Animations[0].Channels = append(doc.Animations[0].Channels, &gltf.AnimationChannel{Target: gltf.AnimationChannelTarget{Node: gltf.Index(node), Path: gltf.TRSRotation}})
	}
	d, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": glb(t, doc)}))
	require.NoError(t, err)
	require.Len(t, d.Clips[0].tracks, 400)
	for _, track := range d.Clips[0].tracks {
		require.Same(t, &d.Clips[0].tracks[0].values[0], &track.values[0])
	}
}

func TestAClipThatIsTooLong(t *testing.T) {
	p := lamp()
	p.clips[0].tracks[0].times = []float32{0, 0.5, 9e8}
	_, err := Import(Options{Path: "a.glb", ReadFile: inMemory(map[string][]byte{"a.glb": glb(t, p.document(t))})})
	assert.ErrorContains(t, err, "export a shorter piece or a lower rate")
}

// A deep chain of nodes is walked without recursion.
func TestADeepTree(t *testing.T) {
	p := lamp()
	p.nodes = nil
	for i := range 15_000 {
		n := &gltf.Node{Name: fmt.Sprintf("Link%d", i), Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}
		if i < 14_999 {
			n.Children = []int{i + 1}
		}
		p.nodes = append(p.nodes, n)
	}
	d := readPuppet(t, p)
	assert.Len(t, List(d), 1)
	p.nodes = append(p.nodes, make([]*gltf.Node, mostNodes)...)
	for i := 15_000; i < len(p.nodes); i++ {
		p.nodes[i] = &gltf.Node{}
	}
	_, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": glb(t, p.document(t))}))
	assert.ErrorContains(t, err, "more than the 20000 that are read")
}

// Debian's package assimp-testmodels carries small, odd and broken files. Whatever they
// hold, each reads or says what is wrong with it.
func TestAssimpModels(t *testing.T) {
	const folder = "/usr/share/assimp/models"
	if _, err := os.Stat(folder); err != nil {
		reference.Lacks(t, "Debian's assimp-testmodels is not installed")
	}
	wrong := map[string]string{
		"glTF2/RecursiveNodes/RecursiveNodes.gltf":               "is its own ancestor",
		"glTF2/SchemaFailures/sceneWrongType.gltf":               "wrong kind (string) at scene",
		"glTF2/wrongTypes/badArray.gltf":                         "wrong kind",
		"glTF2/wrongTypes/badNumber.gltf":                        "wrong kind",
		"glTF2/wrongTypes/badObject.gltf":                        "wrong kind",
		"glTF2/wrongTypes/badString.gltf":                        "wrong kind",
		"glTF/BoxTextured-glTF-Binary/BoxTextured.glb":           `version`,
		"glTF/CesiumMilkTruck/CesiumMilkTruck.gltf":              "only glTF 2.0 is read",
		"glTF/TwoBoxes/TwoBoxes.gltf":                            "only glTF 2.0 is read",
		"glTF/BoxTextured-glTF/BoxTextured.gltf":                 "only glTF 2.0 is read",
		"glTF/BoxTextured-glTF-Embedded/BoxTextured.gltf":        "only glTF 2.0 is read",
		"glTF/BoxTextured-glTF-MaterialsCommon/BoxTextured.gltf": "only glTF 2.0 is read",
		"glTF/IncorrectVertexArrays/Cube_v1.gltf":                "only glTF 2.0 is read",
	}
	read := 0
	require.NoError(t, filepath.WalkDir(folder, func(path string, _ os.DirEntry, err error) error {
		if ext := filepath.Ext(path); err != nil || ext != ".gltf" && ext != ".glb" {
			return err
		}
		name, err := filepath.Rel(folder, path)
		require.NoError(t, err)
		d, err := Read(path, os.ReadFile)
		if want, bad := wrong[filepath.ToSlash(name)]; bad {
			assert.ErrorContains(t, err, want, name)
			return nil
		}
		require.NoError(t, err, name)
		List(d)
		read++
		return nil
	}))
	assert.Greater(t, read, 30)
}
