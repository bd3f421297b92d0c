package main

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// swayClip is a glTF file of our own: hips that sway 4 cm to each side in a second, at 24 keys a second, with a head on
// them. Units are metres, as glTF has them.
func swayClip(t *testing.T) []byte {
	t.Helper()
	const frames = 24
	var data []byte
	number := func(v float64) { data = binary.LittleEndian.AppendUint32(data, math.Float32bits(float32(v))) }
	for i := range frames + 1 {
		number(float64(i) / 24)
	}
	for i := range frames + 1 {
		number(0.04 * math.Sin(2*math.Pi*float64(i%frames)/frames))
		number(0.96)
		number(0)
	}
	type object = map[string]any
	list := func(items ...object) []object { return items }
	text, err := json.Marshal(object{
		"asset":  object{"version": "2.0"},
		"scene":  0,
		"scenes": list(object{"nodes": []int{0}}),
		"nodes": list(
			object{"name": "hips", "translation": []float64{0, 0.96, 0}, "children": []int{1}},
			object{"name": "head", "translation": []float64{0, 0.6, 0}},
		),
		"animations": list(object{
			"name":     "sway",
			"samplers": list(object{"input": 0, "output": 1}),
			"channels": list(object{"sampler": 0, "target": object{"node": 0, "path": "translation"}}),
		}),
		"buffers": list(object{
			"byteLength": len(data),
			"uri":        "data:application/octet-stream;base64," + base64.StdEncoding.EncodeToString(data),
		}),
		"bufferViews": list(
			object{"buffer": 0, "byteLength": 4 * (frames + 1)},
			object{"buffer": 0, "byteOffset": 4 * (frames + 1), "byteLength": 12 * (frames + 1)},
		),
		"accessors": list(
			object{"bufferView": 0, "componentType": 5126, "count": frames + 1, "type": "SCALAR", "min": []float64{0}, "max": []float64{1}},
			object{"bufferView": 1, "componentType": 5126, "count": frames + 1, "type": "VEC3"},
		),
	})
	require.NoError(t, err)
	return text
}
