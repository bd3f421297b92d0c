package exchange

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// generator says in the files that are written who wrote them.
const generator = "motet"

// WriteGLB makes a .glb of takes on one rig: the rig's joints as a hierarchy of nodes at rest, and one animation a take.
// The nodes have the names, scales and turns of the file that the rig was read from. Lengths are metres.
func WriteGLB(takes []*Take) ([]byte, error) {
	rig := takes[0].Motion.Rig
	nodes := modelOf(rig)
	doc := gltf.NewDocument()
	doc.Asset.Generator = generator
	doc.Scenes[0].Name = rig.Name
	doc.Scenes[0].Nodes = nil
	for i := range rig.Joints {
		j := &rig.Joints[i]
		rest := nodes[i].own(restLocal(j))
		doc.Nodes = append(doc.Nodes, &gltf.Node{Name: nodes[i].name, Translation: rest.move, Rotation: rest.turn, Scale: rest.scale})
		if j.Parent < 0 {
			doc.Scenes[0].Nodes = append(doc.Scenes[0].Nodes, i)
		} else {
			up := doc.Nodes[j.Parent]
			up.Children = append(up.Children, i)
		}
	}
	alone := standInsOf(rig, nodes)
	if slices.ContainsFunc(takes, func(t *Take) bool { return len(t.weights) > 0 }) {
		alone.addTo(doc)
	}
	var body []byte
	for _, t := range takes {
		if !sameRig(t.Motion.Rig, rig) {
			return nil, fmt.Errorf("%s has the rig `%s` of %s, and %s the rig `%s` of %s; clips of one file need one rig", t.Motion.File.Path, t.Motion.Rig.Name, t.Motion.Rig.File.Path, takes[0].Motion.File.Path, rig.Name, rig.File.Path)
		}
		a := &animationWriter{body: body, accessors: len(doc.Accessors), views: len(doc.BufferViews)}
		weights, err := t.weightTracks(alone.blends, alone.nodes)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", t.Motion.File.Path, err)
		}
		whole := *t
		whole.tracks = append(t.tracks[:len(t.tracks):len(t.tracks)], t.rootsHeld()...)
		clip, err := a.write(&whole, weights, func(joint int) int { return joint }, func(joint int, own transform) transform { return nodes[joint].own(own) })
		if err != nil {
			return nil, err
		}
		doc.Animations = append(doc.Animations, clip)
		doc.Accessors, doc.BufferViews = append(doc.Accessors, a.newAccessors...), append(doc.BufferViews, a.newViews...)
		body = a.body
	}
	doc.Buffers = []*gltf.Buffer{{ByteLength: len(body)}}
	text, err := json.Marshal(doc)
	if err != nil {
		return nil, fmt.Errorf("writing the JSON of the .glb: %w", err)
	}
	return pack(text, body), nil
}

// sameRig tells whether two rigs are one, read twice.
func sameRig(a, b *motion.Rig) bool {
	return a == b || a.Name == b.Name && a.File.Path == b.File.Path && a.File.Text == b.File.Text
}

// own takes a joint's own transform from the rig's units to the node's.
func (n *modelNode) own(t transform) transform {
	for axis := range 3 {
		t.move[axis] /= n.fold[axis]
	}
	t.scale = t.scale.scaled(n.scale)
	return t
}

// An animationWriter appends the numbers of animations to a buffer, and the accessors and bufferViews that find them.
type animationWriter struct {
	body             []byte
	buffer           int
	accessors, views int // how many the file has already
	newAccessors     []*gltf.Accessor
	newViews         []*gltf.BufferView

	// The numbers of one take by width, each of which becomes one bufferView.
	columns [5]struct {
		data      []byte
		accessors []*gltf.Accessor
	}
	times map[string]*gltf.Accessor
}

// write appends one take with the weights of some nodes. node gives the node of a joint, and own its transform in that
// node's units.
func (a *animationWriter) write(t *Take, weights []track, node func(joint int) int, own func(joint int, t transform) transform) (*gltf.Animation, error) {
	extras, err := t.extras()
	if err != nil {
		return nil, err
	}
	clip := &gltf.Animation{Name: t.Name, Extras: extras}
	a.columns = [5]struct {
		data      []byte
		accessors []*gltf.Accessor
	}{}
	a.times = map[string]*gltf.Accessor{}
	var inputs, outputs []*gltf.Accessor
	for i := range t.tracks {
		track := &t.tracks[i]
		inputs = append(inputs, a.input(track.times))
		outputs = append(outputs, a.output(track, func(v transform) transform { return own(track.node, v) }))
		n := node(track.node)
		clip.Channels = append(clip.Channels, &gltf.AnimationChannel{Sampler: i, Target: gltf.AnimationChannelTarget{Node: &n, Path: gltf.TRSProperty(track.property)}})
	}
	kinds := make([]gltf.Interpolation, 0, len(t.tracks)+len(weights))
	for i := range t.tracks {
		kinds = append(kinds, t.tracks[i].kind)
	}
	for i := range weights {
		w := &weights[i]
		inputs = append(inputs, a.input(w.times))
		outputs = append(outputs, a.add(1, gltf.AccessorScalar, appendFloats(nil, w.values), len(w.values)))
		kinds = append(kinds, w.kind)
		clip.Channels = append(clip.Channels, &gltf.AnimationChannel{Sampler: len(t.tracks) + i, Target: gltf.AnimationChannelTarget{Node: &w.node, Path: gltf.TRSWeights}})
	}
	numbers := a.place()
	for i, kind := range kinds {
		clip.Samplers = append(clip.Samplers, &gltf.AnimationSampler{Input: numbers[inputs[i]], Output: numbers[outputs[i]], Interpolation: kind})
	}
	return clip, nil
}

// input adds the times of a track, or finds the same ones of another.
func (a *animationWriter) input(times []float64) *gltf.Accessor {
	data := appendFloats(nil, times)
	if same := a.times[string(data)]; same != nil {
		return same
	}
	out := a.add(1, gltf.AccessorScalar, data, len(times))
	out.Min, out.Max = []float64{times[0]}, []float64{times[len(times)-1]}
	a.times[string(data)] = out
	return out
}

// output adds the values of a track, in the node's units. Slopes take the same way as values do, less what it does to
// nothing.
func (a *animationWriter) output(t *track, own func(transform) transform) *gltf.Accessor {
	zero := own(transform{turn: quat{0, 0, 0, 1}}).of(t.property)
	if t.property == turns {
		zero = quat{}
	}
	data := make([]byte, 0, 4*len(t.values))
	for k := 0; k < len(t.values); k += t.width {
		var v quat
		copy(v[:], t.values[k:k+t.width])
		slope := t.kind == gltf.InterpolationCubicSpline && k/t.width%3 != 1
		moved := transform{}
		moved.set(t.property, v)
		v = own(moved).of(t.property)
		if slope {
			v = v.plus(zero.times(-1))
		}
		data = appendFloats(data, v[:t.width])
	}
	kind := gltf.AccessorVec3
	if t.width == 4 {
		kind = gltf.AccessorVec4
	}
	return a.add(t.width, kind, data, len(t.values)/t.width)
}

func (a *animationWriter) add(width int, kind gltf.AccessorType, data []byte, elements int) *gltf.Accessor {
	column := &a.columns[width]
	out := &gltf.Accessor{ComponentType: gltf.ComponentFloat, Type: kind, Count: elements, ByteOffset: len(column.data)}
	column.data = append(column.data, data...)
	column.accessors = append(column.accessors, out)
	return out
}

// place puts the columns into the buffer and gives each accessor its number.
func (a *animationWriter) place() map[*gltf.Accessor]int {
	numbers := map[*gltf.Accessor]int{}
	for width := range a.columns {
		column := &a.columns[width]
		if len(column.data) == 0 {
			continue
		}
		for len(a.body)%4 != 0 {
			a.body = append(a.body, 0)
		}
		view := a.views + len(a.newViews)
		a.newViews = append(a.newViews, &gltf.BufferView{Buffer: a.buffer, ByteOffset: len(a.body), ByteLength: len(column.data)})
		a.body = append(a.body, column.data...)
		for _, accessor := range column.accessors {
			accessor.BufferView = &view
			numbers[accessor] = a.accessors + len(a.newAccessors)
			a.newAccessors = append(a.newAccessors, accessor)
		}
	}
	return numbers
}

func appendFloats(to []byte, values []float64) []byte {
	for _, v := range values {
		x := float32(v)
		if x == 0 {
			x = 0 // and not minus nothing
		}
		to = binary.LittleEndian.AppendUint32(to, math.Float32bits(x))
	}
	return to
}

// pack makes a .glb container of a JSON text and a binary chunk (glTF 2.0 specification, GLB file format).
func pack(text, body []byte) []byte {
	const magic, version, jsonChunk, binChunk = 0x46546C67, 2, 0x4E4F534A, 0x004E4942
	var out bytes.Buffer
	pad := func(n int) int { return (4 - n%4) % 4 }
	total := 12 + 8 + len(text) + pad(len(text))
	if body != nil {
		total += 8 + len(body) + pad(len(body))
	}
	word := func(v int) { out.Write(binary.LittleEndian.AppendUint32(nil, uint32(v))) }
	out.Grow(total)
	word(magic)
	word(version)
	word(total)
	word(len(text) + pad(len(text)))
	word(jsonChunk)
	out.Write(text)
	out.WriteString("   "[:pad(len(text))])
	if body != nil {
		word(len(body) + pad(len(body)))
		word(binChunk)
		out.Write(body)
		out.Write(make([]byte, pad(len(body))))
	}
	return out.Bytes()
}
