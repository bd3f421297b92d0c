package exchange

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// morphReels are the weights of a sheet's morph targets that move, as fractions: properties of no joint.
func (s *sampled) morphReels() []*reel {
	var out []*reel
	for target := range s.motion.Rig.Morphs {
		r := &reel{sampled: s, joint: -1, property: weighs, morph: target}
		advances := false
		for i := range s.motion.Channels {
			dial := s.motion.Channels[i].Dial
			if s.values[i] != nil && slices.ContainsFunc(dial.Morphs, func(d motion.MorphDrive) bool { return d.Target == target }) {
				r.channels = append(r.channels, i)
				advances = advances || s.motion.Sheet.Advance[dial.Path] != 0
			}
		}
		if len(r.channels) == 0 {
			continue
		}
		r.readChannels()
		r.joinEnds(advances)
		out = append(out, r)
	}
	return out
}

// weightParts is the weight of a reel's target for values of the reel's channels, by their places among these.
func (r *reel) weightParts(value func(n int) float64) vec3 {
	m := r.sampled.motion
	sum, next := 0.0, 0
	for i := range m.Rig.Channels {
		dial := &m.Rig.Channels[i]
		moves := next < len(r.channels) && r.channels[next] == i
		for _, d := range dial.Morphs {
			switch {
			case d.Target != r.morph:
			case moves:
				sum += d.Gain * dial.WeightOf(value(next))
			default:
				sum += d.Gain * dial.WeightOf(dial.Rest)
			}
		}
		if moves {
			next++
		}
	}
	return vec3{sum, 0, 0}
}

// weightRates are its slopes for those of the channels.
func (r *reel) weightRates(slope func(n int) float64) quat {
	sum := 0.0
	for n, i := range r.channels {
		for _, d := range r.sampled.motion.Channels[i].Dial.Morphs {
			if d.Target == r.morph {
				sum += d.Gain * slope(n) / 100
			}
		}
	}
	return quat{sum, 0, 0, 0}
}

// fitWeights chooses the tracks of all morph targets that move.
func (t *Take) fitWeights(s *sampled, within Within) {
	reels := s.morphReels()
	t.weights = make([]track, len(reels))
	inParallel(len(reels), func(i int) { t.weights[i] = reels[i].track(0.98 * within.WeightPercent / 100) })
	t.measureWeights(reels)
}

// bakeWeights writes a key of each target at every moment.
func (t *Take) bakeWeights(s, baked *sampled) {
	for _, r := range baked.morphReels() {
		t.weights = append(t.weights, r.everyMoment())
	}
	t.measureWeights(s.morphReels())
}

// measureWeights fills in how far the weights are off.
func (t *Take) measureWeights(reels []*reel) {
	for i, r := range reels {
		player := head{track: &t.weights[i]}
		rate := r.sampled.motion.Sheet.Rate.Float()
		for k := range r.path {
			if !r.sampled.besideJump(k) {
				t.Off.WeightPercent = math.Max(t.Off.WeightPercent, 100*weighs.apart(player.at(r.sampled.at[k]/rate), r.path[k]))
			}
		}
	}
}

// A lane is one target of a node: what several tracks give it together, and a weight that stays.
type lane struct {
	tracks []*track
	rest   float64
}

// weightTracks are the tracks for all nodes with targets that the take has a say in: those that move, and those that rest
// elsewhere than where the file has them. Targets that the rig does not know keep their weight. node of each is a number of
// the file. It fails where a target moves that the file has not.
func (t *Take) weightTracks(blends map[int]*blend, nodes []node) ([]track, error) {
	rig := t.Motion.Rig
	moving := make([]*track, len(rig.Morphs))
	for i := range t.weights {
		moving[t.weights[i].node] = &t.weights[i]
	}
	rest := rig.RestWeights()
	lanes := map[int][]lane{}
	known := map[[2]int]bool{}
	for i := range rig.Morphs {
		of := &rig.Morphs[i].Target
		found, err := blendsOf(of, blends, nodes)
		if err != nil {
			return nil, fmt.Errorf("morph target `%s`: %w", rig.Morphs[i].Word, err)
		}
		if len(found) == 0 && moving[i] != nil {
			where := "no mesh of the file"
			if of.On {
				where = fmt.Sprintf("no mesh of the node %q", of.NodeName)
			}
			return nil, fmt.Errorf("`%s` moves the morph target %q, but %s has one so called; name it under `drives` as the mesh does, or in a comment such as # target \"Mouth Smile\"", t.moverOf(i), of.Name, where)
		}
		for _, at := range found {
			n, b := at[0], blends[at[0]]
			if lanes[n] == nil {
				lanes[n] = make([]lane, len(b.names))
				for k := range lanes[n] {
					lanes[n][k].rest = b.restOf(k)
				}
			}
			l := &lanes[n][at[1]]
			if !known[at] {
				known[at], l.rest = true, 0
			}
			if moving[i] != nil {
				l.tracks = append(l.tracks, moving[i])
			} else {
				l.rest += rest[i]
			}
		}
	}
	numbers := make([]int, 0, len(lanes))
	for n := range lanes {
		numbers = append(numbers, n)
	}
	sort.Ints(numbers)
	var out []track
	values := 0
	for _, n := range numbers {
		if !says(lanes[n], blends[n]) {
			continue
		}
		one := interleave(lanes[n])
		one.node = n
		if values += len(one.values); values > mostWeights {
			return nil, fmt.Errorf("the %s of node %q and their keys are more than is written at once; bake at a lower rate, or make the sheet shorter", count(len(lanes[n]), "morph target"), nodes[n].name)
		}
		out = append(out, one)
	}
	return out, nil
}

// mostWeights bounds the numbers of all weights that are written into a file: 32 MB of them, as of 200 targets over four
// minutes at 30 frames a second.
const mostWeights = 8_000_000

// sameRest is by how much a weight at rest may differ from the file's by a rig's three decimals of a per cent.
const sameRest = 2e-5

// says tells whether any lane moves, or rests elsewhere than where the file has it.
func says(lanes []lane, b *blend) bool {
	for k := range lanes {
		if len(lanes[k].tracks) > 0 || math.Abs(lanes[k].rest-b.restOf(k)) > sameRest {
			return true
		}
	}
	return false
}

// moverOf is the path of a channel that moves a morph target.
func (t *Take) moverOf(target int) string {
	for i := range t.Motion.Channels {
		c := &t.Motion.Channels[i]
		if c.Moves() && slices.ContainsFunc(c.Dial.Morphs, func(d motion.MorphDrive) bool { return d.Target == target }) {
			return c.Dial.Path
		}
	}
	return ""
}

// interleave puts lanes on common keys, since a node has one track for all its targets. No curve changes by that: a cubic
// cut in two is two cubics, and a straight line or a stay is a cubic as well.
func interleave(lanes []lane) track {
	out := track{property: weighs, width: len(lanes), kind: gltf.InterpolationStep}
	kinds := map[gltf.Interpolation]bool{}
	times := map[float64]bool{}
	for _, l := range lanes {
		for _, t := range l.tracks {
			if len(t.times) > 1 {
				kinds[t.kind] = true
			}
		}
	}
	switch {
	case kinds[gltf.InterpolationCubicSpline], len(kinds) > 1:
		out.kind = gltf.InterpolationCubicSpline
	case !kinds[gltf.InterpolationStep]:
		out.kind = gltf.InterpolationLinear
	}
	for _, l := range lanes {
		for _, t := range l.tracks {
			for i, at := range t.times {
				times[at] = true
				if t.kind == gltf.InterpolationStep && out.kind != t.kind && i > 0 {
					times[float64(math.Nextafter32(float32(at), 0))] = true // it stays until then
				}
			}
		}
	}
	if len(times) == 0 {
		times[0] = true
	}
	if len(times) == 1 {
		out.kind = gltf.InterpolationLinear
	}
	for at := range times {
		out.times = append(out.times, at)
	}
	sort.Float64s(out.times)
	parts := 1
	if out.kind == gltf.InterpolationCubicSpline {
		parts = 3
	}
	out.values = make([]float64, len(out.times)*parts*len(lanes))
	for k, l := range lanes {
		for i, at := range out.times {
			in, value, slope := 0.0, l.rest, 0.0
			for _, t := range l.tracks {
				a, v, b := t.around(at)
				in, value, slope = in+a, value+v, slope+b
			}
			row := out.values[i*parts*len(lanes):]
			if parts == 1 {
				row[k] = value
			} else {
				row[k], row[len(lanes)+k], row[2*len(lanes)+k] = in, value, slope
			}
		}
	}
	return out
}

// around is the value of a track of one number at a time, and its slopes before and after it, a second.
func (t *track) around(seconds float64) (in, value, out float64) {
	i := sort.SearchFloat64s(t.times, seconds)
	if i == len(t.times) || t.times[i] != seconds {
		slope := 0.0
		if i > 0 && i < len(t.times) {
			slope = t.slope(i-1, seconds)
		}
		return slope, t.weight(0, seconds), slope
	}
	if i > 0 {
		in = t.slope(i-1, seconds)
	}
	if i+1 < len(t.times) {
		out = t.slope(i, seconds)
	}
	return in, t.weightKey(i, 0), out
}

// slope is that of the segment behind key i at a time in it.
func (t *track) slope(i int, seconds float64) float64 {
	span := t.times[i+1] - t.times[i]
	from, to := t.weightKey(i, 0), t.weightKey(i+1, 0)
	switch t.kind {
	case gltf.InterpolationStep:
		return 0
	case gltf.InterpolationLinear:
		return (to - from) / span
	}
	out, in := t.values[3*i+2], t.values[3*i+3]
	u := (seconds - t.times[i]) / span
	return 6*u*(1-u)*(to-from)/span + (1-u)*(1-3*u)*out + u*(3*u-2)*in
}

// stand-ins are nodes with meshes of no size, for the morph targets of a clip that stands alone: so it carries their
// curves and names to whoever reads it.
type standIns struct {
	blends map[int]*blend
	nodes  []node // of the joints, and the stand-ins behind them
	// found are the nodes that the rig's targets are on, with a mesh each, in their order.
	found []int
}

// standInsOf makes a stand-in for the targets of all meshes, and one for each node that has targets of its own. A node that
// is a joint stands in for itself.
func standInsOf(rig *motion.Rig, known model) *standIns {
	s := &standIns{blends: map[int]*blend{}}
	taken := map[string]bool{}
	for i := range known {
		s.nodes = append(s.nodes, node{name: known[i].name, parent: rig.Joints[i].Parent})
		taken[known[i].name] = true
	}
	byName := map[string]int{}
	common := "morphs"
	for n := 2; taken[common]; n++ {
		common = numbered("morphs", n)
	}
	rest := rig.RestWeights()
	for i := range rig.Morphs {
		of := &rig.Morphs[i].Target
		name := common
		if of.On {
			name = of.NodeName
		}
		n, there := byName[name]
		if !there {
			if n = slices.IndexFunc(known, func(k modelNode) bool { return of.On && k.name == name }); n < 0 {
				n = len(s.nodes)
				s.nodes = append(s.nodes, node{name: name, parent: -1})
			}
			byName[name] = n
			s.found = append(s.found, n)
			s.blends[n] = &blend{targetList: &targetList{}}
		}
		b := s.blends[n]
		if !slices.ContainsFunc(b.names, func(have string) bool { return plainTarget(have) == plainTarget(of.Name) }) {
			b.names, b.rest = append(b.names, of.Name), append(b.rest, rest[i])
		}
	}
	return s
}

// mesh is a stand-in's: a triangle without a size, which nothing draws, and as many targets that change nothing.
func (s *standIns) mesh(n, zeros int) *gltf.Mesh {
	b := s.blends[n]
	shape := gltf.PrimitiveAttributes{gltf.POSITION: zeros}
	mesh := &gltf.Mesh{
		Name: s.nodes[n].name, Primitives: []*gltf.Primitive{{Attributes: shape}},
		Extras: map[string]any{"targetNames": b.names},
	}
	for range b.names {
		mesh.Primitives[0].Targets = append(mesh.Primitives[0].Targets, shape)
	}
	if slices.ContainsFunc(b.rest, func(w float64) bool { return w != 0 }) {
		mesh.Weights = b.rest
	}
	return mesh
}

// addTo puts the stand-ins into a file whose nodes are the rig's joints.
func (s *standIns) addTo(doc *gltf.Document) {
	zeros := len(doc.Accessors)
	doc.Accessors = append(doc.Accessors, &gltf.Accessor{ComponentType: gltf.ComponentFloat, Type: gltf.AccessorVec3, Count: 3, Min: []float64{0, 0, 0}, Max: []float64{0, 0, 0}})
	for _, n := range s.found {
		if n >= len(doc.Nodes) {
			doc.Nodes = append(doc.Nodes, &gltf.Node{Name: s.nodes[n].name})
			doc.Scenes[0].Nodes = append(doc.Scenes[0].Nodes, n)
		}
		doc.Nodes[n].Mesh = gltf.Index(len(doc.Meshes))
		doc.Meshes = append(doc.Meshes, s.mesh(n, zeros))
	}
}
