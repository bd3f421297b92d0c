package exchange

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// The example of the specification (EXT_meshopt_compression, appendix A, mode 0): sixteen deltas in ten bytes.
func TestDeltasOfTheSpecification(t *testing.T) {
	deltas := make([]byte, 16)
	rest, ok := readDeltas([]byte{2, 0x17, 0x5f, 0xf0, 0xbc, 0x77, 0xa9, 0x21, 0x00, 0x34, 0xb5}, deltas)
	require.True(t, ok)
	assert.Empty(t, rest)
	var got []int
	for _, d := range deltas {
		got = append(got, int(int8(d>>1^-(d&1))))
	}
	assert.Equal(t, []int{-1, -4, -3, 26, -91, 0, -6, 6, -4, -4, 5, -5, 1, -1, 0, 0}, got)
}

// packAttributes writes elements as the specification has it, in whole bytes and in groups of nothing.
func packAttributes(data []byte, stride int) []byte {
	count := len(data) / stride
	out := []byte{attributesHeader}
	before := func(element, k int) byte {
		if element == 0 {
			return data[k]
		}
		return data[(element-1)*stride+k]
	}
	most := min(8192/stride&^15, 256)
	for from := 0; from < count; from += most {
		elements := min(most, count-from)
		groups := (elements + groupElements - 1) / groupElements
		for k := range stride {
			headers, body := make([]byte, (groups+3)/4), []byte(nil)
			for g := range groups {
				var group [groupElements]byte
				for i := range group {
					if e := from + g*groupElements + i; e < from+elements {
						v := data[e*stride+k] - before(e, k)
						group[i] = v<<1 ^ -(v >> 7)
					}
				}
				if group != [groupElements]byte{} {
					headers[g/4] |= 3 << (g % 4 * 2)
					body = append(body, group[:]...)
				}
			}
			out = append(append(out, headers...), body...)
		}
	}
	out = append(out, make([]byte, max(0, leastTail-stride))...)
	return append(out, data[:stride]...)
}

// What is packed by the specification comes out again, however many elements of whatever size; and a stream that is cut
// short is refused.
func TestAttributesComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stride, count := 4*rapid.IntRange(1, 64).Draw(t, "words"), rapid.IntRange(1, 600).Draw(t, "elements")
		steady := rapid.Bool().Draw(t, "steady")
		data := make([]byte, stride*count)
		step := rapid.Uint64().Draw(t, "seed")
		for i := range data {
			step = step*6364136223846793005 + 1442695040888963407
			if data[i] = byte(step >> 56); steady && i >= stride {
				data[i] = data[i-stride]
			}
		}
		packed := packAttributes(data, stride)
		out, err := unpackAttributes(packed, count, stride)
		require.NoError(t, err)
		require.Equal(t, data, out)
		short := rapid.IntRange(0, len(packed)-1).Draw(t, "short")
		_, _ = unpackAttributes(packed[:short], count, stride) // no panic; deltas may end early by chance only
		if short < 1+max(leastTail, stride) {
			_, err = unpackAttributes(packed[:short], count, stride)
			require.Error(t, err)
		}
	})
}

// packedPuppet is a .gltf of the lamp keeper with all bufferViews packed, and what a test changes of what is said of them.
func packedPuppet(t testing.TB, change func(p map[string]any)) []byte {
	t.Helper()
	doc := lampKeeper(8, 24).document(t)
	body := doc.Buffers[0].Data
	var packed []byte
	for i, view := range doc.BufferViews {
		stride := view.ByteStride
		if stride == 0 {
			stride = 4
		}
		length := view.ByteLength / stride * stride
		bytes := packAttributes(body[view.ByteOffset:view.ByteOffset+length], stride)
		said := map[string]any{"buffer": 0, "byteOffset": len(packed), "byteLength": len(bytes), "byteStride": stride, "count": length / stride, "mode": "ATTRIBUTES"}
		if i == 0 && change != nil {
			change(said)
		}
		text, err := json.Marshal(said)
		require.NoError(t, err)
		view.Extensions = gltf.Extensions{meshoptName: json.RawMessage(text)}
		view.Buffer = 1
		packed = append(packed, bytes...)
	}
	doc.Buffers = []*gltf.Buffer{{ByteLength: len(packed), Data: packed}, {ByteLength: len(body)}}
	doc.Buffers[0].EmbeddedResource()
	text, err := json.Marshal(doc)
	require.NoError(t, err)
	return text
}

// A packed file is read as the same file unpacked, and one that says what can't be is refused with the bufferView's number.
func TestPackedBufferViews(t *testing.T) {
	reading := func(data []byte) (*Document, error) {
		return Read("a.gltf", func(string) ([]byte, error) { return data, nil })
	}
	d, err := reading(packedPuppet(t, nil))
	require.NoError(t, err)
	plain := readPuppet(t, lampKeeper(8, 24))
	assert.Equal(t, plain.Clips[0].tracks, d.Clips[0].tracks)
	for want, change := range map[string]func(p map[string]any){
		`its mode is "TRIANGLES"`:                                func(p map[string]any) { p["mode"] = "TRIANGLES" },
		`its filter is "OCTAHEDRAL"`:                             func(p map[string]any) { p["filter"] = "OCTAHEDRAL" },
		"its filter is for elements of 8 bytes":                  func(p map[string]any) { p["filter"] = "QUATERNION" },
		"its stride is 3":                                        func(p map[string]any) { p["byteStride"] = 3 },
		"which has":                                              func(p map[string]any) { p["byteLength"] = 1 << 40 },
		"which can't hold them":                                  func(p map[string]any) { p["count"] = 1 << 40 },
		"bytes end before its":                                   func(p map[string]any) { p["count"] = 5000 },
		"its stream begins with 0x":                              func(p map[string]any) { p["byteOffset"] = 1 },
		"what EXT_meshopt_compression says of it does not parse": func(p map[string]any) { p["count"] = "many" },
		"it lies in buffer 7":                                    func(p map[string]any) { p["buffer"] = 7 },
	} {
		_, err := reading(packedPuppet(t, change))
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, "bufferView 0")
	}
}

// What `meshoptimizer` packs, with its filters too, three plays as the importer reads it, and is still the sheet's motion.
func TestMeshoptClipsAreReadAsThreeReadsThem(t *testing.T) {
	m := cast(t)["keeper"]
	takes, file := exported(t, TakeWish{Bake: Rate{30, 1}}, m)
	folder := t.TempDir()
	requests := []packing{
		{Path: file, Out: filepath.Join(folder, "bytes.glb"), Tolerance: 1e-4, Meshopt: "quantize"},
		{Path: file, Out: filepath.Join(folder, "filters.glb"), Tolerance: 1e-4, Bits: 16, Meshopt: "filter"},
	}
	var answers []packed
	reference.Ask(t, "pack.mjs", requests, &answers)
	var asked []map[string]any
	var at []float64
	for k := range 40 {
		at = append(at, takes[0].Seconds*float64(k)/39.7)
	}
	for _, request := range requests {
		asked = append(asked, map[string]any{"path": request.Out, "clip": 0, "at": at})
	}
	var played [][][][7]float64
	reference.Ask(t, "clip.mjs", asked, &played)
	for n, request := range requests {
		data, err := os.ReadFile(request.Out)
		require.NoError(t, err)
		assert.Contains(t, string(data), meshoptName)
		if n == 1 {
			assert.Contains(t, string(data), `"filter":"QUATERNION"`)
			assert.Contains(t, string(data), `"filter":"EXPONENTIAL"`)
		}
		d := read(t, request.Out)
		stage := newNodeStage(d, &d.Clips[0], allNodes(d))
		for k, seconds := range at {
			stage.stand(seconds)
			for i := range d.nodes {
				there := played[n][k][i]
				require.Less(t, stage.world[i].place.to(vec3{there[0], there[1], there[2]}.times(100)), 1e-3, "%s: node %s at %g s", request.Out, d.nodes[i].name, seconds)
			}
		}
		l, err := LikenessToSheet(m, d, "")
		require.NoError(t, err)
		assert.True(t, l.Within(DefaultLikeness()))
		t.Logf("%s: %d bytes", filepath.Base(request.Out), len(data))
	}
}

func allNodes(d *Document) (out []int) {
	for i := range d.nodes {
		out = append(out, i)
	}
	return out
}

// A clip that moves nothing but morph weights is no motion of joints.
func TestLikenessOfAClipWithoutJoints(t *testing.T) {
	d := readPuppet(t, lampKeeper(8, 24))
	d.Clips = append(d.Clips, Clip{Name: "wait"})
	_, err := LikenessToSheet(coatSheet(t, "wait"), d, "")
	require.ErrorContains(t, err, `clip "wait": the clip moves no node`)
	_, err = LikenessOfClips(d, "wait", d, "wait")
	require.ErrorContains(t, err, "the clip moves no node")
	require.True(t, strings.HasPrefix(fmt.Sprint(err), d.Path))
}
