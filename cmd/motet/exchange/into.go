package exchange

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"github.com/qmuntal/gltf"
)

// Into puts a take into an animator's own file, .glb or .gltf, as a clip of its name: in the place of the clip that has
// that name, or behind the others. Everything else stays as it is, byte for byte in the JSON and in the buffers: meshes,
// skins, materials, textures, extras, extensions, other clips. The numbers of a clip that an earlier Into wrote are taken
// out, and only the numbers by which clips behind it find theirs change for that; those of any other that is replaced stay
// in the buffer, since something else may use them.
//
// The joints find their nodes by the numbers that an import left in the rig, or by their names. Where the rig's rest is
// not the node's own, the clip holds the node in the rig's. name is the file's, for messages.
func Into(name string, data []byte, take *Take) ([]byte, error) {
	out, err := into(data, take)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return out, nil
}

// UnevenNodes are the names of the nodes of a file, .glb or .gltf, that carry joints of a take and have scales that differ
// by axis, which the take's rig does not know: what is below them stands only nearly where the sheet has it.
func UnevenNodes(data []byte, take *Take) ([]string, error) {
	c, err := openHost(data)
	if err != nil {
		return nil, err
	}
	nodes := c.nodes
	known, joints := modelOf(take.Motion.Rig), take.Motion.Rig.Joints
	var out []string
	for i := range joints {
		up := joints[i].Parent
		if up < 0 || known[up].number >= 0 {
			continue // an import has read it, and holds the scale, or the take says that it does not
		}
		n, err := findNode(&known[up], nodes)
		if err != nil {
			return nil, err
		}
		if n >= 0 && !nearlyEqual(nodes[n].own.scale) && !slices.Contains(out, nodes[n].name) {
			out = append(out, nodes[n].name)
		}
	}
	return out, nil
}

// hostParts are what somebody's file is made of.
type hostParts struct {
	text, body []byte // JSON, and the binary chunk of a .glb
	file       *gltf.Document
	nodes      []node
}

func openHost(data []byte) (p hostParts, err error) {
	if p.text, p.body, err = unpack(data); err != nil {
		return hostParts{}, err
	}
	if p.file, err = parse(p.text); err != nil {
		return hostParts{}, err
	}
	p.nodes, err = readNodes(p.file)
	return p, err
}

func into(data []byte, take *Take) ([]byte, error) {
	c, err := openHost(data)
	if err != nil {
		return nil, err
	}
	file, nodes := c.file, c.nodes
	t, err := seat(take, nodes)
	if err != nil {
		return nil, err
	}
	if t.weights, err = take.weightTracks(readBlends(file), nodes); err != nil {
		return nil, err
	}
	h := &host{file: file, body: c.body, isGLB: len(c.text) != len(data)}
	if h.object, err = readObject(c.text); err != nil {
		return nil, err
	}
	if err := h.takeOut(take.Name); err != nil {
		return nil, err
	}
	if err := h.add(t); err != nil {
		return nil, err
	}
	if err := h.freeMatrices(t, nodes); err != nil {
		return nil, err
	}
	return h.whole()
}

// A seated take is a take and the nodes of a file that its joints are.
type seated struct {
	*Take
	tracks  []track
	weights []track // by nodes of the file
	seats   []jointSeat
}

// A jointSeat is how a joint of the rig stands in a file.
type jointSeat struct {
	node int // -1 for none
	// modelNode has the scale at rest, and the fold for the node's own translation.
	modelNode
	// between is what stands between the node and the rig's joint that carries it, which the rig does not know: its
	// turn, its scale the same in all directions, and its move in the units of the carrying node.
	turn  quat
	size  float64
	shift vec3
}

// own takes a joint's own transform from the rig's units to the node's.
func (s *jointSeat) own(t transform) transform {
	for axis := range 3 {
		t.move[axis] = t.move[axis]/s.fold[axis] - s.shift[axis]
	}
	if s.turn != (quat{0, 0, 0, 1}) {
		t.move = s.turn.inverse().turn(t.move)
		t.turn = s.turn.inverse().after(t.turn)
	}
	t.move = t.move.times(1 / s.size)
	t.scale = t.scale.scaled(s.scale)
	return t
}

// seat finds the nodes of a take's joints and holds those in the rig's rest that stand otherwise in the file.
func seat(take *Take, nodes []node) (*seated, error) {
	rig := take.Motion.Rig
	t := &seated{Take: take, tracks: slices.Clone(take.tracks), seats: make([]jointSeat, len(rig.Joints))}
	known := modelOf(rig)
	moves := make([]bool, len(rig.Joints))
	written := map[[2]int]bool{}
	for i := range take.tracks {
		moves[take.tracks[i].node] = true
		written[[2]int{take.tracks[i].node, int(take.tracks[i].property)}] = true
	}
	jointOf := map[int]int{}
	for i := range rig.Joints {
		s := &t.seats[i]
		s.modelNode, s.turn, s.size = known[i], quat{0, 0, 0, 1}, 1
		var err error
		if s.node, err = findNode(&known[i], nodes); err != nil {
			return nil, fmt.Errorf("joint `%s`: %w", rig.Joints[i].Name, err)
		}
		up := rig.Joints[i].Parent
		switch other, taken := jointOf[s.node]; {
		case s.node < 0 && moves[i]:
			return nil, fmt.Errorf("joint `%s` moves, but the file has no node %q; name the joint as the node, or import the rig from this file", rig.Joints[i].Name, known[i].name)
		case s.node < 0:
			continue
		case taken:
			return nil, fmt.Errorf("the joints `%s` and `%s` are both node %d %q; each needs its own", rig.Joints[other].Name, rig.Joints[i].Name, s.node, nodes[s.node].name)
		case up >= 0 && t.seats[up].node < 0:
			return nil, fmt.Errorf("joint `%s` is node %d %q, but `%s`, which carries it, is no node of the file; name that joint as its node", rig.Joints[i].Name, s.node, nodes[s.node].name, rig.Joints[up].Name)
		}
		jointOf[s.node] = i
		if err := t.stand(i, nodes); err != nil {
			return nil, fmt.Errorf("joint `%s`: %w", rig.Joints[i].Name, err)
		}
	}
	if len(jointOf) == 0 {
		return nil, fmt.Errorf("none of the rig's joints is a node of the file; name the joints as its nodes")
	}
	t.holdRest(nodes, written)
	return t, nil
}

// findNode finds a joint's node: the one of its number if that has its name, or else the only one of its name; -1 where
// there is none.
func findNode(known *modelNode, nodes []node) (int, error) {
	if n := known.number; n >= 0 && n < len(nodes) && sameName(nodes[n].name, known.name) {
		return n, nil
	}
	found := -1
	for n := range nodes {
		switch {
		case !sameName(nodes[n].name, known.name) || known.name == "":
		case found >= 0:
			return -1, fmt.Errorf("nodes %d and %d are both called %q; give them names of their own", found, n, known.name)
		default:
			found = n
		}
	}
	return found, nil
}

// sameName compares a node's name with one that a rig's comment could hold.
func sameName(node, known string) bool { return node == known || quoted(node) == `"`+known+`"` }

// stand works out what lies between a joint's node and the node of the joint that carries it.
func (t *seated) stand(i int, nodes []node) error {
	s := &t.seats[i]
	if s.number < 0 {
		// No import has read this rig from the file: the node keeps its own scale.
		s.scale = nodes[s.node].own.scale
	}
	top := -1
	s.fold = vec3{100, 100, 100}
	if up := t.Motion.Rig.Joints[i].Parent; up >= 0 {
		carrier := &t.seats[up]
		top = carrier.node
		s.fold = carrier.fold.scaled(carrier.scale).times(carrier.size)
	}
	for n := nodes[s.node].parent; n != top; n = nodes[n].parent {
		if n < 0 {
			return fmt.Errorf("node %d %q does not hang on node %d %q, as the rig has it; mend the rig's `on`", s.node, nodes[s.node].name, top, nodes[top].name)
		}
		own := nodes[n].own
		if !nearlyEqual(own.scale) || own.scale[0] == 0 {
			return fmt.Errorf("node %d %q, which the rig does not know, has a scale that differs by axis; add it to the rig as a joint", n, nodes[n].name)
		}
		s.shift = own.move.plus(own.turn.turn(s.shift.times(own.scale[0])))
		s.turn = own.turn.after(s.turn)
		s.size *= own.scale[0]
	}
	return nil
}

// holdRest adds a track of one key where a joint at rest is not where the file has its node: the sheet was made for the
// rig's rest.
func (t *seated) holdRest(nodes []node, written map[[2]int]bool) {
	// What rounding in a rig's table may be off: half of a thousandth of a centimetre and of a degree, three times over.
	limits := [...]float64{2e-3, 3.5e-5, 1e-5}
	for i := range t.seats {
		s := &t.seats[i]
		if s.node < 0 {
			continue
		}
		rest, here := restLocal(&t.Motion.Rig.Joints[i]), nodes[s.node].own
		there := s.own(rest)
		for p := moves; p <= scales; p++ {
			off := p.apart(there.of(p), here.of(p))
			if p == moves {
				off *= math.Abs(s.fold[0]) * s.size
			}
			if p == scales {
				off /= math.Max(1e-9, here.scale.length())
			}
			if written[[2]int{i, int(p)}] || off <= limits[p] {
				continue
			}
			held := track{node: i, property: p, kind: gltf.InterpolationLinear, times: []float64{0}, width: 3}
			if p == turns {
				held.width = 4
			}
			v := rest.of(p)
			held.values = append(held.values, v[:held.width]...)
			t.tracks = append(t.tracks, held)
		}
	}
}

// A host is a file that takes a clip in. The library's reading of it follows what is taken out, but not what is added.
type host struct {
	file   *gltf.Document
	object *rawObject
	body   []byte
	isGLB  bool
	// replaces is the index of the clip whose place the new one takes, -1 for none.
	replaces int
}

// whole is the file as its bytes.
func (h *host) whole() ([]byte, error) {
	text := h.object.text()
	if !h.isGLB {
		return text, nil
	}
	if len(text)+len(h.body) > math.MaxUint32-64 {
		return nil, fmt.Errorf("the file would have more than the 4 GiB that a .glb can")
	}
	return pack(text, h.body), nil
}

// add puts the clip and its numbers in.
func (h *host) add(t *seated) error {
	buffers, err := h.object.list("buffers")
	if err != nil {
		return err
	}
	inBody := h.isGLB && (len(buffers) == 0 || h.file.Buffers[0].URI == "" && h.body != nil)
	w := &animationWriter{accessors: len(h.file.Accessors), views: len(h.file.BufferViews), buffer: len(buffers)}
	if inBody {
		w.buffer = 0
		if len(buffers) > 0 {
			length := h.file.Buffers[0].ByteLength
			if length < 0 || length > len(h.body) {
				return fmt.Errorf("buffer 0 states %d bytes, but the .glb has %d; it was cut short, export it again", length, len(h.body))
			}
			w.body = slices.Clone(h.body[:length])
		}
	}
	seated := *t.Take
	seated.tracks = t.tracks
	clip, err := w.write(&seated, t.weights, func(joint int) int { return t.seats[joint].node }, func(joint int, own transform) transform { return t.seats[joint].own(own) })
	if err != nil {
		return err
	}
	if inBody {
		h.body = w.body
		if err := h.setBodyLength(buffers); err != nil {
			return err
		}
	} else {
		uri := ownBuffer + base64.StdEncoding.EncodeToString(w.body)
		if err := appendTo(h.object, "buffers", []*gltf.Buffer{{ByteLength: len(w.body), URI: uri}}); err != nil {
			return err
		}
	}
	if err := appendTo(h.object, "accessors", w.newAccessors); err != nil {
		return err
	}
	if err := appendTo(h.object, "bufferViews", w.newViews); err != nil {
		return err
	}
	if h.replaces < 0 {
		return appendTo(h.object, "animations", []*gltf.Animation{clip})
	}
	clips, err := h.object.list("animations")
	if err != nil {
		return err
	}
	if clips[h.replaces], err = json.Marshal(clip); err != nil {
		return fmt.Errorf("writing the animation: %w", err)
	}
	h.object.setList("animations", clips)
	return nil
}

// setBodyLength writes the length of the buffer that is the binary chunk.
func (h *host) setBodyLength(buffers []json.RawMessage) error {
	buffer := &rawObject{values: map[string]json.RawMessage{}}
	if len(buffers) == 0 {
		buffers = make([]json.RawMessage, 1)
	} else {
		var err error
		if buffer, err = readObject(buffers[0]); err != nil {
			return fmt.Errorf("buffer 0: %w", err)
		}
	}
	buffer.set("byteLength", fmt.Appendf(nil, "%d", len(h.body)))
	buffers[0] = buffer.text()
	h.object.setList("buffers", buffers)
	return nil
}

// freeMatrices writes the nodes that the clip moves as translation, rotation and scale where they are matrices, which
// no clip may move (glTF 2.0 specification, section on animations).
func (h *host) freeMatrices(t *seated, nodes []node) error {
	list, err := h.object.list("nodes")
	if err != nil {
		return err
	}
	changed := false
	for i := range t.tracks {
		n := t.seats[t.tracks[i].node].node
		object, err := readObject(list[n])
		if err != nil {
			return fmt.Errorf("node %d: %w", n, err)
		}
		if _, has := object.values["matrix"]; !has {
			continue
		}
		own := nodes[n].own
		object.drop("matrix")
		for _, part := range []struct {
			name    string
			numbers []float64
		}{{"translation", own.move[:]}, {"rotation", own.turn[:]}, {"scale", own.scale[:]}} {
			text, err := json.Marshal(part.numbers)
			if err != nil {
				return fmt.Errorf("node %d: %w", n, err)
			}
			object.set(part.name, text)
		}
		list[n], changed = object.text(), true
	}
	if changed {
		h.object.setList("nodes", list)
	}
	return nil
}
