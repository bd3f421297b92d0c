package exchange

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// blendOver gives the dials of a rig that there is what the clips do with their morph targets, and fits their curves. It says
// what no dial can do.
func (e *ensemble) blendOver(within Within, beats []beat, errors []errorReport) (left []string) {
	rig := e.over.rig
	drivers := make([]int, len(rig.Morphs))
	for i := range rig.Channels {
		for _, d := range rig.Channels[i].Morphs {
			drivers[d.Target]++
		}
	}
	for k, f := range e.figures {
		known := map[[2]int]*weightPath{}
		for i := range f.skeleton.weights {
			w := &f.skeleton.weights[i]
			known[[2]int{w.node, w.target}] = w
		}
		done := map[*weightPath]bool{}
		for i := range rig.Channels {
			dial := &rig.Channels[i]
			alone := len(dial.Drives) == 0 && !slices.ContainsFunc(dial.Morphs, func(d motion.MorphDrive) bool { return drivers[d.Target] > 1 || d.Gain == 0 })
			if !alone {
				continue
			}
			if s, ok := f.shapeOver(rig, dial, known, done, e.still.weight); ok {
				f.shapes = append(f.shapes, s)
			}
		}
		f.fitShapes(within, beats[k].frames, &errors[k])
		for i := range f.shapes {
			if s := &f.shapes[i]; s.dropped && math.Abs(s.value-s.rest) > sameWeight {
				s.rows, s.dropped = []row{{value: tidy(s.value), text: number(s.value, 3)}}, false
			}
		}
		var names []string
		for i := range f.skeleton.weights {
			if w := &f.skeleton.weights[i]; !done[w] && !slices.Contains(names, w.name) {
				names = append(names, w.name)
			}
		}
		if len(names) > 0 {
			n := len(names)
			if n > 4 {
				names = append(names[:4:4], "…")
			}
			left = append(left, fmt.Sprintf("clip %q: %s left out, since no dial of the rig moves them so: %s", f.clip.Name, areCount(n, "morph target"), strings.Join(names, ", ")))
		}
	}
	return left
}

// shapeOver is what a clip does with the morph targets of a dial, and false where they do not go together, or none of them is
// in the clip's file.
func (f *figure) shapeOver(rig *motion.Rig, dial *motion.Dial, known map[[2]int]*weightPath, done map[*weightPath]bool, still float64) (s shape, ok bool) {
	s = shape{control: dial.Control, rest: dial.Rest, value: dial.Rest, nodes: map[int]bool{}}
	s.channel.name, s.closed = dial.Name, f.closed
	var first *weightPath
	var used []*weightPath
	for _, d := range dial.Morphs {
		target := &rig.Morphs[d.Target]
		s.targets = append(s.targets, shapeTarget{name: target.Target.Name, on: -1, word: target.Word})
		found, err := blendsOf(&target.Target, f.document.blends, f.document.nodes)
		if err != nil {
			return s, false
		}
		for _, at := range found {
			w := known[at]
			if w == nil {
				rest := 100 * f.document.blends[at[0]].restOf(at[1])
				w = &weightPath{rest: rest, value: rest}
			} else {
				used = append(used, w)
			}
			one := w.through(d.Gain)
			if first == nil {
				first = one
			}
			// Where they rest in the file is the file's business: the rig says where its dial does.
			if one.rest = first.rest; !alike(first, one) {
				return s, false
			}
			s.nodes[at[0]] = true
		}
	}
	if first == nil {
		return s, false
	}
	for _, w := range used {
		done[w] = true
		s.baked += len(w.track.times)
		s.stepped = w.track.kind == gltf.InterpolationStep
	}
	s.value = first.value
	if first.moves() {
		var holds bool
		if holds, s.value = stays(still, first.path); !holds {
			s.path = first
		}
	}
	return s, true
}

// through is what a dial does to give the weight by a gain.
func (w *weightPath) through(gain float64) *weightPath {
	out := *w
	out.value /= gain
	scaled := func(path []float64) []float64 {
		if path == nil {
			return nil
		}
		path = slices.Clone(path)
		for k := range path {
			path[k] /= gain
		}
		return path
	}
	out.path, out.clip = scaled(w.path), scaled(w.clip)
	return &out
}
