package exchange

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// An overFace is how the dials of a rig that there is move morph targets.
type overFace struct {
	rig   *motion.Rig
	dials []overDial // those that move nothing else, in the table's order
	// mixed are the gains of dials that move joints too, by target, by their place in the rig's table.
	mixed map[int]map[int]float64
	// idle is what the dials that a clip keeps at rest give to each target, in per cent: a weight is what its dials say and
	// not how far they are from rest, so one that nobody keys counts too.
	idle []float64
}

// An overDial is one of them. The targets that several move are settled as numbers of joints are: see [mesh].
type overDial struct {
	number int
	drives []drive // by target of the rig
	mesh   *mesh   // nil for one that shares no target
	place  int
}

// faceOver sorts out which dial has which target.
func (e *ensemble) faceOver() *overFace {
	face := &overFace{rig: e.over.rig, mixed: map[int]map[int]float64{}, idle: make([]float64, len(e.over.rig.Morphs))}
	var alone []channel
	for i := range face.rig.Channels {
		dial := &face.rig.Channels[i]
		c := channel{number: i}
		for _, d := range dial.Morphs {
			switch {
			case d.Gain == 0:
			case len(dial.Drives) > 0:
				if face.mixed[d.Target] == nil {
					face.mixed[d.Target] = map[int]float64{}
				}
				face.mixed[d.Target][i] += d.Gain
			default:
				at := slices.IndexFunc(c.drives, func(have drive) bool { return have.series == d.Target })
				if at < 0 {
					c.drives = append(c.drives, drive{series: d.Target, gain: d.Gain})
					continue
				}
				c.drives[at].gain += d.Gain // one row more for the same
			}
		}
		c.drives = slices.DeleteFunc(c.drives, func(d drive) bool { return d.gain == 0 })
		if len(c.drives) > 0 {
			// What moves most leads.
			slices.SortStableFunc(c.drives, func(a, b drive) int { return cmp.Compare(math.Abs(b.gain), math.Abs(a.gain)) })
			alone = append(alone, c)
		}
	}
	settled, unused := e.settleTargets(alone)
	for _, c := range settled {
		face.dials = append(face.dials, overDial{c.number, c.drives, c.mesh, c.place})
	}
	for _, c := range unused {
		for _, d := range c.drives {
			face.idle[d.series] += d.gain * face.rig.Channels[c.number].Rest
		}
	}
	return face
}

// resting is what the dials of a mesh give to a target, in per cent, where each of them rests.
func (face *overFace) resting(m *mesh, target int) (sum float64) {
	for _, d := range face.dials {
		if d.mesh == m {
			sum += m.gains[target][d.place] * face.rig.Channels[d.number].Rest
		}
	}
	return sum
}

// settleTargets puts dials that share a target into meshes. unused are those that a mesh leaves at rest.
func (e *ensemble) settleTargets(alone []channel) (out, unused []channel) {
	left := make([]bool, len(alone))
	for first := range alone {
		if left[first] || alone[first].mesh != nil {
			continue
		}
		together := []int{first}
		for k := 0; k < len(together); k++ {
			for m := range alone {
				shares := slices.ContainsFunc(alone[m].drives, func(d drive) bool {
					return slices.ContainsFunc(alone[together[k]].drives, func(o drive) bool { return o.series == d.series })
				})
				if shares && !slices.Contains(together, m) {
					together = append(together, m)
				}
			}
		}
		if slices.Sort(together); len(together) > 1 {
			for _, m := range e.mesh(alone, together) {
				left[m] = true
			}
		}
	}
	for m := range alone {
		if left[m] {
			unused = append(unused, alone[m])
		} else {
			out = append(out, alone[m])
		}
	}
	return out, unused
}

// A target is what a clip does with a morph target of the rig, less what dials of joints do with it.
type targetPath struct {
	*weightPath
	found [][2]int // nodes and their targets
	why   string   // why it can't be told, for a person
}

// blendOver gives the dials of a rig that there is what the clips do with their morph targets, and fits their curves; a
// target that no dial moves so gets a dial more. It gives those, and says what can't be done.
func (e *ensemble) blendOver(within Within, beats []beat, errors []errorReport, channels [][]channel) (fresh []shape, left []string) {
	face := e.faceOver()
	all := make([][]weightPath, len(e.figures))
	for k, f := range e.figures {
		all[k] = f.skeleton.weights
		var lines []string
		f.skeleton.weights, lines = f.blendKnown(face, channels[k], beats[k].frames, within, e.still.weight)
		for _, line := range lines {
			if !slices.Contains(left, line) {
				left = append(left, line)
			}
		}
	}
	more, err := e.shapesOf()
	if err != nil {
		left, more = append(left, err.Error()), nil
	}
	for k, f := range e.figures {
		f.skeleton.weights = all[k]
	}
	more, lines := e.nameMore(more)
	left = append(left, lines...)
	for k, f := range e.figures {
		for i := range more {
			s := more[i][k]
			s.control, s.channel.name, s.targets, s.rest = more[i][0].control, more[i][0].channel.name, more[i][0].targets, more[i][0].rest
			f.shapes = append(f.shapes, s)
		}
		f.fitShapes(within, beats[k].frames, &errors[k])
		for i := range f.shapes {
			if s := &f.shapes[i]; s.dropped && math.Abs(s.value-s.rest) > sameWeight {
				s.rows, s.dropped = []row{{value: tidy(s.value), text: number(s.value, 3)}}, false
			}
		}
	}
	return e.saidMore(len(more)), left
}

// saidMore are those of so many last shapes of which a sheet says something; the others go.
func (e *ensemble) saidMore(n int) (fresh []shape) {
	for i := len(e.lead.shapes) - n; i < len(e.lead.shapes); {
		if slices.ContainsFunc(e.figures, func(f *figure) bool { return !f.shapes[i].dropped }) {
			fresh = append(fresh, e.lead.shapes[i])
			i++
			continue
		}
		for _, f := range e.figures {
			f.shapes = slices.Delete(f.shapes, i, i+1)
		}
	}
	return fresh
}

// blendKnown gives the rig's dials what a clip does, and tells what is left of the clip's weights.
func (f *figure) blendKnown(face *overFace, channels []channel, beatFrames float64, within Within, still float64) (more []weightPath, left []string) {
	rig := face.rig
	known := map[[2]int]*weightPath{}
	for i := range f.skeleton.weights {
		w := &f.skeleton.weights[i]
		known[[2]int{w.node, w.target}] = w
	}
	targets := make([]targetPath, len(rig.Morphs))
	said := make([][]float64, len(rig.Morphs)) // what the dials say, by step
	for n := range targets {
		targets[n] = f.targetOver(&rig.Morphs[n], known)
		said[n] = slices.Repeat([]float64{face.idle[n]}, f.skeleton.steps)
		for _, i := range slices.Sorted(maps.Keys(face.mixed[n])) { // in one order, so that sums are the same to the last digit
			f.addDial(said[n], channels, i, face.mixed[n][i], beatFrames)
		}
	}
	for _, dial := range face.dials {
		f.shapes = append(f.shapes, f.shapeOver(face, dial, targets, said, still))
	}
	// What the dials that move nothing else add.
	for i := range f.shapes {
		s := &f.shapes[i]
		for _, d := range rig.Channels[s.number].Morphs {
			for step := range said[d.Target] {
				said[d.Target][step] += d.Gain * s.wanted(step)
			}
		}
	}
	done := map[[2]int]bool{}
	for n := range targets {
		t := &targets[n]
		if t.why != "" {
			left = append(left, fmt.Sprintf("clip %q: the morph target %s is left out: %s", f.clip.Name, rig.Morphs[n].Word, t.why))
		}
		if t.weightPath == nil {
			for _, at := range t.found {
				done[at] = true
			}
			continue
		}
		rest := t.less(said[n])
		for _, at := range t.found {
			done[at] = true
			low, high := slices.Min(rest.path), slices.Max(rest.path)
			if math.Max(math.Abs(low), math.Abs(high)) <= leftShare*within.WeightPercent {
				continue
			}
			w := *rest
			w.node, w.target, w.name = at[0], at[1], f.document.blends[at[0]].names[at[1]]
			more = append(more, w)
		}
	}
	for i := range f.skeleton.weights {
		if w := &f.skeleton.weights[i]; !done[[2]int{w.node, w.target}] {
			more = append(more, *w)
		}
	}
	return more, left
}

// targetOver is what a clip does with a morph target of the rig; nothing where its file has none so called.
func (f *figure) targetOver(target *motion.MorphTarget, known map[[2]int]*weightPath) (out targetPath) {
	found, err := blendsOf(&target.Target, f.document.blends, f.document.nodes)
	if err != nil {
		out.why = err.Error()
		return out
	}
	for _, at := range found {
		w := known[at]
		if w == nil {
			rest := 100 * f.document.blends[at[0]].restOf(at[1])
			w = &weightPath{rest: rest, value: rest}
		}
		// Where they rest in the file is the file's business: the rig says where its dial does.
		one := *w
		if out.weightPath != nil {
			if one.rest = out.rest; !alike(out.weightPath, &one) {
				out.weightPath, out.found = nil, found
				out.why = "its meshes do not do the same with it; give each a row of its own, with a comment such as `# target \"NAME\" on node 5 \"Teeth\"`"
				return out
			}
			continue
		}
		out.weightPath = &one
	}
	out.found = found
	return out
}

// at is a weight in per cent at a step.
func (w *weightPath) at(step int) float64 {
	if w.path == nil {
		return w.value
	}
	return w.path[step]
}

// less is what is left of a weight where something is said of it already, to be added to that: it rests at 0.
func (w *weightPath) less(said []float64) *weightPath {
	out := &weightPath{path: make([]float64, len(said)), track: densely(w.track, len(said))}
	for step := range said {
		out.path[step] = w.at(step) - said[step]
	}
	out.clip, out.value = out.path, out.path[0]
	return out
}

// densely is a track that stands for several: so dense that nobody takes its keys for few, and smooth where it was.
func densely(t *track, steps int) *track {
	out := &track{kind: gltf.InterpolationLinear, times: make([]float64, steps)}
	if t != nil {
		out.kind = t.kind
	}
	return out
}

// addDial adds what a dial that moves joints too does to a target.
func (f *figure) addDial(said []float64, channels []channel, number int, gain, beatFrames float64) {
	for i := range channels {
		c := &channels[i]
		if !c.known || c.number != number {
			continue
		}
		for step := range said {
			value := c.base
			if !c.dropped {
				value = c.curve(f.time.frames, beatFrames).At(float64(step) / stepsPerFrame)
			}
			said[step] += gain * (value - c.base)
		}
	}
}

// wanted is what a dial wants to be at a step.
func (s *shape) wanted(step int) float64 {
	if s.path == nil {
		return s.value
	}
	return s.path.path[step]
}

// shapeOver is what a dial does for a clip; at rest where the clip's file has no target that is the dial's to have.
func (f *figure) shapeOver(face *overFace, dial overDial, targets []targetPath, said [][]float64, still float64) (s shape) {
	d := &face.rig.Channels[dial.number]
	s = shape{control: d.Control, rest: d.Rest, value: d.Rest, nodes: map[int]bool{}}
	s.channel.name, s.closed, s.number, s.channel.known = d.Name, f.closed, dial.number, true
	// Its own numbers: those of the mesh, or the one that it moves most, of those that the file has.
	own, weight := []int(nil), []float64(nil)
	if dial.mesh != nil {
		own, weight = dial.mesh.own, dial.mesh.inverse[dial.place]
	} else {
		best := 0.0
		for _, one := range dial.drives {
			if math.Abs(one.gain) > best && targets[one.series].weightPath != nil {
				best, own, weight = math.Abs(one.gain), []int{one.series}, []float64{1 / one.gain}
			}
		}
	}
	w := &weightPath{rest: d.Rest, path: make([]float64, f.skeleton.steps)}
	seen := map[*track]bool{}
	stepped, ok := true, false
	for j, n := range own {
		t := targets[n].weightPath
		if weight[j] == 0 {
			continue
		}
		if t == nil {
			// The file has nothing to say of it: the dials that have it for their own rest, and the others allow for that.
			for step := range w.path {
				w.path[step] += weight[j] * face.resting(dial.mesh, n)
			}
			continue
		}
		ok = true
		for step := range w.path {
			w.path[step] += weight[j] * (t.at(step) - said[n][step])
		}
		if t.track != nil && !seen[t.track] {
			seen[t.track] = true
			s.baked += len(t.track.times)
			stepped = stepped && t.track.kind == gltf.InterpolationStep
			if w.track == nil {
				w.track = t.track
			}
		}
	}
	if !ok {
		return s
	}
	if dial.mesh != nil || slices.ContainsFunc(own, func(n int) bool { return len(face.mixed[n]) > 0 }) {
		w.track = densely(w.track, len(w.path))
	}
	s.stepped = stepped && len(seen) == 1 && dial.mesh == nil
	w.clip = w.path
	if len(seen) == 1 && dial.mesh == nil && len(face.mixed[own[0]]) == 0 {
		w.clip = targets[own[0]].through(1 / weight[0]).clip
	}
	for _, one := range dial.drives {
		movers := 1.0
		if dial.mesh != nil {
			movers = dial.mesh.movers(one.series)
		}
		s.room = math.Max(s.room, movers*math.Abs(one.gain))
	}
	var holds bool
	if holds, s.value = stays(still, w.path); !holds && w.track != nil {
		s.path = w
	}
	return s
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

// nameMore names the dials that the rig does not have, and gives those of a target that it has the target's word. One whose
// target a file has elsewhere than at nothing is left out where the rig's table has no column to say so: sheets that there
// are already would take that away.
func (e *ensemble) nameMore(more [][]shape) (out [][]shape, left []string) {
	rig := e.over.rig
	column := slices.Contains(channelColumns(rig.File), "rest")
	for _, s := range more {
		if rest := s[0].rest; rest != 0 && !column {
			left = append(left, fmt.Sprintf("the morph target %s is left out: files have it at %s%% where no clip moves it, and the table of channels of the rig `%s` has no column `rest` to say so; add one", s[0].targets[0].name, number(rest, 1), rig.Name))
			continue
		}
		for k := range s {
			if len(s[k].nodes) == 0 {
				s[k].value = s[0].rest // its file has no such target
			}
		}
		out = append(out, s)
	}
	taken, words := map[string]bool{}, map[string]bool{}
	for i := range rig.Channels {
		taken[rig.Channels[i].Path] = true
	}
	for i := range rig.Morphs {
		words[rig.Morphs[i].Word] = true
	}
	e.lead.nameShapes(out, taken, words)
	for _, s := range out {
		for i := range s[0].targets {
			t := &s[0].targets[i]
			for n := range rig.Morphs {
				if m := &rig.Morphs[n]; plainTarget(m.Target.Name) == plainTarget(t.name) && m.Target.On == (t.on >= 0) && (t.on < 0 || m.Target.Node == t.on) {
					t.word, t.comment = m.Word, ""
				}
			}
		}
	}
	return out, left
}
