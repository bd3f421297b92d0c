package exchange

import (
	"fmt"
	"sort"
	"strings"
	"sync"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// A blend is what a node of a file has of morph targets: those of its mesh.
type blend struct {
	*targetList
	// rest are the weights where no clip moves them: the node's own, or the mesh's.
	rest []float64
}

// A targetList is what the targets of one mesh are called.
type targetList struct {
	// names are the mesh's targets, each called by a name of its own: by extras.targetNames (glTF 2.0, an implementation
	// note on morph targets) where that has one for it that no target before it has, and by its place otherwise.
	names []string
	index map[string]int // by plainTarget; made when first needed
	made  sync.Once      // clips of one file are read side by side
}

// readBlends looks at the meshes of all nodes. Nodes with one mesh share its names.
func readBlends(file *gltf.Document) map[int]*blend {
	lists := map[int]*targetList{}
	out := map[int]*blend{}
	for n, node := range file.Nodes {
		if node.Mesh == nil || *node.Mesh < 0 || *node.Mesh >= len(file.Meshes) || file.Meshes[*node.Mesh] == nil {
			continue
		}
		mesh := file.Meshes[*node.Mesh]
		if len(mesh.Primitives) == 0 || mesh.Primitives[0] == nil || len(mesh.Primitives[0].Targets) == 0 {
			continue
		}
		targets := len(mesh.Primitives[0].Targets)
		if lists[*node.Mesh] == nil {
			lists[*node.Mesh] = &targetList{names: targetNames(mesh.Extras, targets)}
		}
		b := &blend{targetList: lists[*node.Mesh]}
		switch targets {
		case len(node.Weights):
			b.rest = node.Weights
		case len(mesh.Weights):
			b.rest = mesh.Weights
		}
		out[n] = b
	}
	return out
}

// restOf is the weight of a target where no clip moves it.
func (b *blend) restOf(target int) float64 {
	if target < len(b.rest) {
		return b.rest[target]
	}
	return 0
}

// targetNames are what a mesh's targets are called.
func targetNames(extras any, targets int) []string {
	var given []string
	if object, ok := extras.(map[string]any); ok {
		if list, ok := object["targetNames"].([]any); ok {
			for _, name := range list {
				text, _ := name.(string)
				given = append(given, text)
			}
		}
	}
	taken := make(map[string]bool, targets)
	out := make([]string, targets)
	for i := range out {
		if i < len(given) && given[i] != "" && !taken[plainTarget(given[i])] {
			out[i] = given[i]
			taken[plainTarget(given[i])] = true
		}
	}
	for i := range out {
		if out[i] != "" {
			continue
		}
		out[i] = motion.TargetName(nil, i)
		for taken[out[i]] {
			out[i] += "'" // somebody calls another target by this one's place
		}
		taken[out[i]] = true
	}
	return out
}

// plainTarget is a target's name as a rig's comment can hold it, and as names are compared.
func plainTarget(name string) string { return grammar.NameKey(strings.Trim(quoted(name), `"`)) }

// targetOf is the place of a rig's morph target among a mesh's, -1 where it has none so called.
func (l *targetList) targetOf(target *motion.ModelTarget) int {
	l.made.Do(func() {
		l.index = make(map[string]int, len(l.names))
		for i, name := range l.names {
			if _, twice := l.index[plainTarget(name)]; !twice {
				l.index[plainTarget(name)] = i
			}
		}
	})
	if i, ok := l.index[plainTarget(target.Name)]; ok {
		return i
	}
	return -1
}

// blendsOf are the nodes on which a rig's morph target is found, by rising number, and its place among their targets.
func blendsOf(target *motion.ModelTarget, blends map[int]*blend, nodes []node) (found [][2]int, err error) {
	only := -1
	if target.On {
		if only, err = findNode(&modelNode{number: target.Node, name: target.NodeName}, nodes); err != nil {
			return nil, err
		}
	}
	for n, b := range blends {
		if target.On && n != only {
			continue
		}
		if i := b.targetOf(target); i >= 0 {
			found = append(found, [2]int{n, i})
		}
	}
	sort.Slice(found, func(i, k int) bool { return found[i][0] < found[k][0] })
	return found, nil
}

// readWeights decodes a channel that moves the weights of a node's morph targets: for each key one number a target, and
// for cubic ones three, all slopes in before all values before all slopes out.
func (d *Document) readWeights(from *gltf.Animation, channel *gltf.AnimationChannel, store *storage) (track, error) {
	t := track{node: *channel.Target.Node, property: weighs}
	if channel.Sampler < 0 || channel.Sampler >= len(from.Samplers) {
		return t, fmt.Errorf("it uses sampler %d, but the animation has %d; export the file again", channel.Sampler, len(from.Samplers))
	}
	s := from.Samplers[channel.Sampler]
	t.kind, t.width = s.Interpolation, len(d.blends[t.node].names)
	var err error
	if t.times, err = readTimes(store, s.Input); err != nil {
		return t, err
	}
	values, err := store.floats(s.Output)
	if err != nil {
		return t, err
	}
	if values.width != 1 {
		return t, fmt.Errorf("accessor %d: it has %d numbers an element, and a weight is one; export the file again", s.Output, values.width)
	}
	want := len(t.times) * t.width
	if t.kind == gltf.InterpolationCubicSpline {
		want *= 3
	}
	if values.count() != want {
		return t, fmt.Errorf("accessor %d: it holds %d weights, but %d times (accessor %d) and the %s of node %d %q need %d; export the file again", s.Output, values.count(), len(t.times), s.Input, count(t.width, "morph target"), t.node, d.nodes[t.node].name, want)
	}
	// Channels that share numbers cost time all the same.
	if err := store.ask(values.count(), 1); err != nil {
		return t, fmt.Errorf("accessor %d: %w", s.Output, err)
	}
	t.values = values.values
	return t, nil
}

// weight is the weight of one of a track's targets at a time in seconds, as [track.at] interpolates.
func (t *track) weight(target int, seconds float64) float64 {
	i := sort.SearchFloat64s(t.times, seconds)
	switch {
	case i < len(t.times) && t.times[i] == seconds:
		return t.weightKey(i, target)
	case i == 0:
		return t.weightKey(0, target)
	case i == len(t.times), t.kind == gltf.InterpolationStep:
		return t.weightKey(i-1, target)
	}
	span := t.times[i] - t.times[i-1]
	u := (seconds - t.times[i-1]) / span
	if t.kind == gltf.InterpolationCubicSpline {
		w := basis(u, span)
		return w[0]*t.weightKey(i-1, target) + w[1]*t.values[(3*i-1)*t.width+target] + w[2]*t.weightKey(i, target) + w[3]*t.values[3*i*t.width+target]
	}
	return t.weightKey(i-1, target) + u*(t.weightKey(i, target)-t.weightKey(i-1, target))
}

// weightKey is the weight of a target at key i.
func (t *track) weightKey(i, target int) float64 {
	if t.kind == gltf.InterpolationCubicSpline {
		i = 3*i + 1
	}
	return t.values[i*t.width+target]
}
