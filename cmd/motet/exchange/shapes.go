package exchange

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// A shape is a dial that blends in morph targets: what the clips do with one name on all meshes that have it, or with one
// target of one node where those do not agree. All clips over one rig have the same, each with rows of its own.
type shape struct {
	channel // its rows in one clip; control and drives are not used
	control string
	rest    float64 // per cent, where nothing moves it
	targets []shapeTarget
	nodes   map[int]bool
	path    *weightPath // that tells for all; nil for one that stays at a value
	value   float64     // per cent, of one that stays
	baked   int
	room    float64 // how many times as far off the targets may be, for what the dial is off; 1 where that is less
}

// A shapeTarget is a row of the rig: the word behind `morph.`, and what the comment says of it.
type shapeTarget struct {
	name    string // in the file
	on      int    // the only node that is meant, -1 for all
	word    string
	comment string
}

// mostPlaces bounds how many nodes are looked at for the names that clips have a say in.
const mostPlaces = 400_000

// sameWeight is how far in per cent two weights may be apart and count as one.
const sameWeight = 1e-3

// blendIn makes the dials of all clips' morph targets, fits their curves, and adds their largest errors to the reports. What
// stays where the file has it anyway is left out.
func (e *ensemble) blendIn(within Within, beats []beat, errors []errorReport) error {
	all, err := e.shapesOf()
	if err != nil {
		return err
	}
	e.lead.nameShapes(all, map[string]bool{}, map[string]bool{})
	for k, f := range e.figures {
		f.shapes = make([]shape, len(all))
		for i := range all {
			f.shapes[i] = all[i][k]
			s := &f.shapes[i]
			s.control, s.channel.name, s.targets = all[i][0].control, all[i][0].channel.name, all[i][0].targets
		}
		f.fitShapes(within, beats[k].frames, &errors[k])
	}
	for i := len(all) - 1; i >= 0; i-- {
		if !e.restShape(i) {
			continue
		}
		for _, f := range e.figures {
			f.shapes = slices.Delete(f.shapes, i, i+1)
		}
	}
	return nil
}

// restShape finds where a dial rests: where all clips hold it, or else where the lead's file has it, and then a clip that
// holds it elsewhere keys it once. It tells whether the dial has nothing to say.
func (e *ensemble) restShape(i int) (spare bool) {
	lead := &e.lead.shapes[i]
	held := true
	for _, f := range e.figures {
		s := &f.shapes[i]
		held = held && s.dropped && math.Abs(s.value-lead.value) <= sameWeight
	}
	rest := lead.rest
	if held {
		rest = tidy(lead.value)
	}
	spare = held
	for _, f := range e.figures {
		s := &f.shapes[i]
		s.rest = rest
		if s.dropped && !held && math.Abs(s.value-rest) > sameWeight {
			s.rows, s.dropped = []row{{value: tidy(s.value), text: number(s.value, 3)}}, false
		}
		spare = spare && s.restsInFile(f.document)
	}
	return spare
}

// shapesOf finds the dials of all clips, and for each what it does in every clip.
func (e *ensemble) shapesOf() (out [][]shape, err error) {
	known := make([]map[[2]int]*weightPath, len(e.figures))
	var order []string
	seen := map[string]bool{}
	for k, f := range e.figures {
		known[k] = map[[2]int]*weightPath{}
		for i := range f.skeleton.weights {
			w := &f.skeleton.weights[i]
			known[k][[2]int{w.node, w.target}] = w
			if name := plainTarget(w.name); !seen[name] {
				seen[name] = true
				order = append(order, name)
			}
		}
	}
	places := 0
	for _, name := range order {
		// paths are what each clip does with the name on each of its nodes.
		paths, agree := make([][]*weightPath, len(e.figures)), true
		for k, f := range e.figures {
			found, _ := blendsOf(&motion.ModelTarget{Name: name}, f.document.blends, f.document.nodes)
			if places += len(found); places > mostPlaces {
				return nil, fmt.Errorf("the clip moves morph targets that %s have, more than are looked at; export the character alone", count(places, "node"))
			}
			for _, at := range found {
				w := known[k][at]
				if w == nil {
					b := f.document.blends[at[0]]
					w = &weightPath{node: at[0], target: at[1], name: b.names[at[1]], rest: 100 * b.restOf(at[1]), value: 100 * b.restOf(at[1])}
				}
				paths[k] = append(paths[k], w)
				agree = agree && alike(paths[k][0], w)
			}
		}
		if agree {
			out = append(out, e.newShape(name, paths, nil))
			continue
		}
		for _, w := range e.tellApart(paths) {
			out = append(out, e.newShape(name, paths, w))
		}
	}
	return mergeShapes(out), nil
}

// tellApart are the nodes of the lead's file on which a clip has a say in a target that does not do the same everywhere.
func (e *ensemble) tellApart(paths [][]*weightPath) (out []*weightPath) {
	for k, f := range e.figures {
		if f != e.lead {
			continue
		}
		for _, w := range paths[k] {
			stirred := false
			for j, other := range e.figures {
				own := sameNode(paths[j], other.document, f.document.nodes[w.node].name)
				stirred = stirred || own != nil && own.track != nil
			}
			if stirred {
				out = append(out, w)
			}
		}
	}
	return out
}

// sameNode is the path on the node of a name, nil where there is none.
func sameNode(paths []*weightPath, d *Document, node string) *weightPath {
	for _, w := range paths {
		if d.nodes[w.node].name == node {
			return w
		}
	}
	return nil
}

// newShape makes a dial of what all clips do with a name, or of what they do with it on one node of the lead's file.
func (e *ensemble) newShape(name string, paths [][]*weightPath, only *weightPath) []shape {
	out := make([]shape, len(e.figures))
	on := -1
	if only != nil {
		on = only.node
	}
	for k, f := range e.figures {
		s := &out[k]
		s.closed, s.nodes, s.targets = f.closed, map[int]bool{}, []shapeTarget{{name: name, on: on}}
		var w *weightPath
		for _, one := range paths[k] {
			switch {
			case only == nil:
				s.nodes[one.node] = true
				if w == nil || w.track == nil {
					w = one
				}
			case f == e.lead && one == only, f != e.lead && f.document.nodes[one.node].name == e.lead.document.nodes[only.node].name:
				s.nodes[one.node], w = true, one
			}
		}
		if w == nil {
			continue // this clip's file has no such target
		}
		s.rest, s.value = w.rest, w.value
		if t := w.track; t != nil {
			s.baked, s.stepped = len(t.times), t.kind == gltf.InterpolationStep
		}
		if w.moves() {
			var still bool
			if still, s.value = stays(e.still.weight, w.path); !still {
				s.path = w
			}
		}
	}
	return out
}

// alike tells whether two targets do the same.
func alike(a, b *weightPath) bool {
	switch {
	case a == b:
		return true
	case a == nil || b == nil || a.moves() != b.moves() || math.Abs(a.rest-b.rest) > sameWeight:
		return false
	case !a.moves():
		return math.Abs(a.value-b.value) <= sameWeight
	}
	return sameSeries([][]float64{a.path}, [][]float64{b.path}, sameWeight)
}

// mergeShapes puts shapes that do the same on different meshes in all clips on one dial: teeth often follow a mouth under
// names of their own. Shapes of one mesh stay apart, since an animator will want each.
func mergeShapes(shapes [][]shape) [][]shape {
	var out [][]shape
	for _, s := range shapes {
		at := slices.IndexFunc(out, func(o []shape) bool {
			moves := false
			for k := range s {
				for n := range s[k].nodes {
					if o[k].nodes[n] {
						return false
					}
				}
				moves = moves || s[k].path != nil
			}
			for k := range s {
				still := s[k].path == nil && o[k].path == nil && math.Abs(s[k].value-o[k].value) <= sameWeight
				if math.Abs(s[k].rest-o[k].rest) > sameWeight || !still && (s[k].path == nil || !alike(s[k].path, o[k].path)) {
					return false
				}
			}
			return moves
		})
		if at < 0 {
			out = append(out, s)
			continue
		}
		out[at][0].targets = append(out[at][0].targets, s[0].targets...)
		for k := range s {
			for n := range s[k].nodes {
				out[at][k].nodes[n] = true
			}
			out[at][k].baked += s[k].baked
		}
	}
	return out
}

// nameShapes gives dials their controls and channels, and targets their words, in the first clip's shapes, and brings those
// of one control together. taken are paths, and words those of targets, that there are already.
func (f *figure) nameShapes(shapes [][]shape, taken, words map[string]bool) {
	var raw []string // the names of the shapes, and then all others of their meshes, by which sides are told
	there := map[string]bool{}
	lists := map[*targetList]bool{}
	for i := range shapes {
		raw = append(raw, shapes[i][0].targets[0].name)
		there[raw[i]] = true
		for n := range shapes[i][0].nodes {
			if b := f.document.blends[n]; b != nil {
				lists[b.targetList] = true
			}
		}
	}
	for list := range lists {
		for _, name := range list.names {
			if !there[name] {
				there[name] = true
				raw = append(raw, name)
			}
		}
	}
	slices.Sort(raw[len(shapes):])
	spelled := spell(raw)
	sides := map[string]bool{}
	for _, s := range spelled {
		sides[s.base()+s.side.suffix()] = true
	}
	rank := map[string]int{}
	for i := range shapes {
		s, spelling := &shapes[i][0], spelled[i]
		if side := spelling.side; side != middle && !sides[spelling.base()+side.opposite().suffix()] {
			spelling.words = append(spelling.words, side.suffix()[1:])
			spelling.side = middle
		}
		s.control, s.channel.name = f.faceControl(spelling)
		s.channel.name = strings.TrimPrefix(unique(s.control+"/"+s.channel.name, "", taken), s.control+"/")
		for k := range s.targets {
			s.targets[k].write(words, f.document)
		}
		if _, known := rank[s.control]; !known {
			rank[s.control] = i
		}
	}
	slices.SortStableFunc(shapes, func(a, b []shape) int { return cmp.Compare(rank[a[0].control], rank[b[0].control]) })
}

// faceControl is the control and the channel of a shape: the part of the face that its name begins with and what is left,
// or the face as a whole.
func (f *figure) faceControl(s spelling) (control, name string) {
	words, control := s.words, "shape"
	if slices.ContainsFunc(f.skeleton.joints, func(j joint) bool { return j.part == "head" }) {
		control = "face"
	}
	if len(words) > 1 {
		switch partOf(words[:1]) {
		case "face", "eye", "lid":
			control, words = plainWord(words[0], control), words[1:]
		}
	}
	if slices.ContainsFunc(f.skeleton.joints, func(j joint) bool { return j.name == control || strings.HasPrefix(j.name, control+".") }) {
		control += "-shape"
	}
	return control + s.side.suffix(), plainWord(strings.Join(words, "-"), "shape")
}

// write chooses the word of a target: its name where that is one, and a comment where something is left to tell.
func (t *shapeTarget) write(taken map[string]bool, d *Document) {
	word, fits := grammar.MorphOf(grammar.MorphPrefix + t.name)
	if !fits {
		word = plainWord(strings.Join(tokensOf(t.name), "-"), "shape")
		if _, fits = grammar.MorphOf(grammar.MorphPrefix + word); !fits {
			word = "shape-" + word
		}
	}
	t.word = unique(word, "", taken)
	name := plainTarget(t.name)
	if t.word == name && t.on < 0 {
		return
	}
	t.comment = "target " + quoted(name)
	if t.on >= 0 {
		t.comment += fmt.Sprintf(" on node %d %s", t.on, quoted(d.nodes[t.on].name))
	}
}

// fitShapes fits the curves of all dials of a clip.
func (f *figure) fitShapes(within Within, beatFrames float64, errors *errorReport) {
	limit := math.Max(within.WeightPercent, leastAllowance)
	for i := 0; i < len(f.shapes); {
		rows := map[int]bool{}
		for control := f.shapes[i].control; i < len(f.shapes) && f.shapes[i].control == control; i++ {
			s := &f.shapes[i]
			if s.path == nil {
				s.dropped = true
				continue
			}
			f.fitShape(s, 0.95*limit/math.Max(1, s.room), beatFrames, rows)
			for _, r := range s.rows {
				rows[r.frame] = true
			}
			f.measureShape(s, beatFrames)
			if off := s.worst * math.Max(1, s.room); off > errors.weightPercent {
				errors.weightPercent, errors.weightName = off, s.control+"/"+s.channel.name
			}
		}
	}
	errors.ratio = math.Max(errors.ratio, errors.weightPercent/limit)
}

func (f *figure) fitShape(s *shape, room, beatFrames float64, rows map[int]bool) {
	if s.stepped {
		s.rows = f.heldRows(s.path.track, s.closed, func(step int) float64 { return round(s.path.path[step], 4) })
		return
	}
	t := &tube{frames: f.time.frames, closed: s.closed, plainEnds: s.closed || f.loop.ending == Open}
	cuts, all := s.path.track.jumpsOn(f.time)
	cuts = jumpsOf(s.path.path, cuts, s.closed, room)
	switch t.middle = s.path.path; {
	case s.path.track.kind == gltf.InterpolationCubicSpline && all:
	case len(cuts) > 0:
		t.middle = smoothPieces(s.path.path, s.closed, cuts)
	default:
		t.middle = smoothCurve(s.path.path, s.closed, 0)
	}
	if s.closed {
		t.middle = t.middle[:len(t.middle)-1]
	}
	t.half = slices.Repeat([]float64{room}, len(t.middle))
	if _, stays := t.constant(); !stays && len(cuts) > 0 {
		s.cut, s.rows = true, t.fitPieces(cuts, beatFrames)
		return
	}
	if s.keys = fitKeys(t, rows); len(s.keys.at) == 1 {
		s.dropped, s.value = true, tidy(s.keys.value[0])
		return
	}
	s.rows = t.write(s.keys, beatFrames, 0)
	if straight := f.straightShape(s, room); straight != nil && len(straight) <= len(s.rows) {
		s.rows, s.straight = straight, true
	}
}

// straightShape are the clip's own few keys with straight lines between, as [figure.straightRows] are those of joints.
func (f *figure) straightShape(s *shape, room float64) []row {
	t := s.path.track
	if t.kind != gltf.InterpolationLinear || !f.time.even || 2*len(t.times) > f.time.frames {
		return nil
	}
	decimals := max(0, int(math.Ceil(-math.Log10(room))))
	frames := f.keyFrames(t, s.closed)
	var rows []row
	for i, frame := range frames {
		value := round(s.path.path[frame*stepsPerFrame], decimals)
		r := row{frame: frame, value: value, shape: motion.Straight, text: number(value, decimals) + ">"}
		if !s.closed && i == len(frames)-1 {
			r.shape, r.text = motion.Smooth, number(value, decimals)
		}
		rows = append(rows, r)
	}
	rows = withoutOnTheWay(rows)
	probe := s.channel
	probe.rows = rows
	curve := probe.curve(f.time.frames, 1)
	for k, want := range s.path.path {
		if len(rows) < 2 || math.Abs(curve.At(float64(k)/stepsPerFrame)-want) > room/2 {
			return nil
		}
	}
	return rows
}

// measureShape notes the largest error at a frame of the clip.
func (f *figure) measureShape(s *shape, beatFrames float64) {
	at := func(float64) float64 { return s.value }
	if !s.dropped {
		at = s.curve(f.time.frames, beatFrames).At
	}
	for k := 0; k < len(s.path.clip); k += stepsPerFrame {
		s.worst = math.Max(s.worst, math.Abs(at(float64(k)/stepsPerFrame)-s.path.clip[k]))
	}
}
