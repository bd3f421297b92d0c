package exchange

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/require"
)

// A puppet is a small glTF file for a test: nodes on one another, and clips.
type puppet struct {
	nodes []*gltf.Node
	clips []clipSpec
}

type clipSpec struct {
	name   string
	tracks []trackSpec
}

// A trackSpec is one channel with its sampler. values hold one element a time, or three for
// CUBICSPLINE; data, when given, stands for them as it is (other component types).
type trackSpec struct {
	node   int
	path   gltf.TRSProperty
	kind   gltf.Interpolation
	times  []float32
	values [][]float32
	data   any
}

// document builds the file with qmuntal/gltf.
func (p puppet) document(t testing.TB) *gltf.Document {
	t.Helper()
	doc := gltf.NewDocument()
	doc.Nodes = p.nodes
	child := map[int]bool{}
	for _, n := range p.nodes {
		for _, c := range n.Children {
			child[c] = true
		}
	}
	for i := range p.nodes {
		if !child[i] {
			doc.Scenes[0].Nodes = append(doc.Scenes[0].Nodes, i)
		}
	}
	for _, c := range p.clips {
		animation := &gltf.Animation{Name: c.name}
		for _, track := range c.tracks {
			data := track.data
			if data == nil {
				data = elements(track.values)
			}
			output := modeler.WriteAccessor(doc, gltf.TargetNone, data)
			switch data.(type) {
			case [][4]int16, [][4]int8, [][3]uint8:
				doc.Accessors[output].Normalized = true
			}
			animation.Samplers = append(animation.Samplers, &gltf.AnimationSampler{
				Input:         modeler.WriteAccessor(doc, gltf.TargetNone, track.times),
				Output:        output,
				Interpolation: track.kind,
			})
			animation.Channels = append(animation.Channels, &gltf.AnimationChannel{
				Sampler: len(animation.Samplers) - 1,
				Target:  gltf.AnimationChannelTarget{Node: gltf.Index(track.node), Path: track.path},
			})
		}
		doc.Animations = append(doc.Animations, animation)
	}
	return doc
}

func elements(values [][]float32) any {
	switch len(values[0]) {
	case 4:
		var out [][4]float32
		for _, v := range values {
			out = append(out, [4]float32(v))
		}
		return out
	case 3:
		var out [][3]float32
		for _, v := range values {
			out = append(out, [3]float32(v))
		}
		return out
	}
	var out []float32
	for _, v := range values {
		out = append(out, v[0])
	}
	return out
}

// glb is the file as bytes.
func glb(t testing.TB, doc *gltf.Document) []byte {
	t.Helper()
	var out bytes.Buffer
	encoder := gltf.NewEncoder(&out)
	encoder.AsBinary = true
	require.NoError(t, encoder.Encode(doc))
	return out.Bytes()
}

// inMemory reads from a map of files by path.
func inMemory(files map[string][]byte) func(string) ([]byte, error) {
	return func(path string) ([]byte, error) {
		data, ok := files[path]
		if !ok {
			return nil, fmt.Errorf("there is no file %s", path)
		}
		return data, nil
	}
}

// readPuppet reads a puppet back from a .glb.
func readPuppet(t testing.TB, p puppet) *Document {
	t.Helper()
	d, err := Read("folk/lamp.glb", inMemory(map[string][]byte{"folk/lamp.glb": glb(t, p.document(t))}))
	require.NoError(t, err)
	return d
}

// importPuppet imports a puppet from a .glb.
func importPuppet(t testing.TB, p puppet, o Options) (*Result, []byte) {
	t.Helper()
	data := glb(t, p.document(t))
	o.Path, o.ReadFile = "folk/lamp.glb", inMemory(map[string][]byte{"folk/lamp.glb": data})
	r, err := Import(o)
	require.NoError(t, err)
	return r, data
}

// baked samples motion at every frame from first to last, as exporters do.
func baked(node int, path gltf.TRSProperty, rate float64, first, last int, at func(frame float64) []float64) trackSpec {
	spec := trackSpec{node: node, path: path}
	for frame := first; frame <= last; frame++ {
		spec.times = append(spec.times, float32(float64(frame)/rate))
		var element []float32
		for _, v := range at(float64(frame - first)) {
			element = append(element, float32(v))
		}
		spec.values = append(spec.values, element)
	}
	return spec
}

// aboutAxis is a quaternion x y z w.
func aboutAxis(axis int, turnDeg float64) []float64 {
	q := []float64{0, 0, 0, math.Cos(turnDeg / 2 * math.Pi / 180)}
	q[axis] = math.Sin(turnDeg / 2 * math.Pi / 180)
	return q
}

// wave is a sine over a cycle of n frames.
func wave(frame, n, harmonic, size float64) float64 {
	return size * math.Sin(2*math.Pi*harmonic*frame/n)
}

// lampKeeper is a figure of the kind that packages export: a root scaled by 0.01 and turned
// by 90°, bones in centimetres below it, names with a prefix and sides inside, quaternions
// that change sign, a clip that starts at frame 2, and bones moved by float noise.
func lampKeeper(frames int, rate float64) puppet {
	n := float64(frames)
	flip := func(frame float64, q []float64) []float64 {
		if int(frame)%3 == 1 {
			return []float64{-q[0], -q[1], -q[2], -q[3]}
		}
		return q
	}
	node := func(name string, move [3]float64, children ...int) *gltf.Node {
		return &gltf.Node{Name: name, Translation: move, Children: children, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Matrix: gltf.DefaultMatrix}
	}
	p := puppet{nodes: []*gltf.Node{
		node("Stand", [3]float64{}, 1),
		node("Keeper_Hips", [3]float64{0, 0, -96}, 2, 4, 6),
		node("Keeper_Spine", [3]float64{0, 0, -14}, 3, 8, 10),
		node("Keeper_Head", [3]float64{0, 0, -50}),
		node("Keeper_LeftUpLeg", [3]float64{9, 0, 5}, 5),
		node("Keeper_LeftFoot", [3]float64{0, 0, 88}),
		node("Keeper_RightUpLeg", [3]float64{-9, 0, 5}, 7),
		node("Keeper_RightFoot", [3]float64{0, 0, 88}),
		node("Keeper_LeftArm", [3]float64{18, 0, -35}, 9),
		node("Keeper_LeftHand", [3]float64{50, 0, 0}),
		node("Keeper_RightArm", [3]float64{-18, 0, -35}, 11),
		node("Keeper_RightHand", [3]float64{-50, 0, 0}),
	}}
	half := math.Sqrt(0.5)
	p.nodes[0].Rotation, p.nodes[0].Scale = [4]float64{half, 0, 0, half}, [3]float64{0.01, 0.01, 0.01}
	turn := func(node, axis int, harmonic, size float64) trackSpec {
		return baked(node, gltf.TRSRotation, rate, 2, 2+frames, func(f float64) []float64 {
			return flip(f, aboutAxis(axis, wave(f, n, harmonic, size)))
		})
	}
	p.clips = []clipSpec{{name: "Stand|Wait_For_Tide|Base", tracks: []trackSpec{
		baked(1, gltf.TRSTranslation, rate, 2, 2+frames, func(f float64) []float64 {
			return []float64{wave(f, n, 1, 3.2), 0, -96 + wave(f, n, 2, 1.4)}
		}),
		turn(1, 1, 1, 3), turn(2, 0, 2, -4), turn(3, 2, 1, 8),
		baked(3, gltf.TRSTranslation, rate, 2, 2+frames, func(f float64) []float64 {
			return []float64{1e-5 * math.Sin(7*f), 0, -50 + 1e-5*math.Cos(5*f)}
		}),
		turn(8, 1, 1, 12), turn(9, 1, 1, 6), turn(10, 1, 1, 10), turn(11, 2, 3, 5),
	}}}
	return p
}
