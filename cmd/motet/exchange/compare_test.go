package exchange

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	gonum "gonum.org/v1/gonum/num/quat"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// resolve takes an imported rig and sheet through the language, as `motet check` does.
func resolve(t testing.TB, r *Result) *motion.Motion {
	t.Helper()
	texts := map[string]string{r.RigFile: r.RigText, r.SheetFile: r.SheetText}
	trees := func(path string) (*grammar.File, error) {
		text, ok := texts[path]
		if !ok {
			return nil, fmt.Errorf("there is no such file")
		}
		return grammar.Parse(path, text), nil
	}
	file, err := trees(r.SheetFile)
	require.NoError(t, err)
	m := motion.NewProject(trees).Resolve(file)
	require.Empty(t, m.Problems)
	require.Empty(t, m.Rig.Problems)
	for path, text := range texts {
		require.Equal(t, text, grammar.Format(grammar.Parse(path, text)), "%s is in the canonical form", path)
	}
	return m
}

// A witness evaluates a clip by other means than the importer: accessors read by
// qmuntal/gltf's modeler, slerp by gonum's quaternions, places by gonum's 4 by 4 matrices.
type witness struct {
	doc     *gltf.Document
	tracks  map[[2]int]witnessTrack
	parents map[int]int
}

type witnessTrack struct {
	kind   gltf.Interpolation
	times  []float32
	values []float64
	width  int
}

func newWitness(t testing.TB, data []byte, clip int) *witness {
	t.Helper()
	doc := new(gltf.Document)
	require.NoError(t, gltf.NewDecoder(bytes.NewReader(data)).Decode(doc))
	w := &witness{doc: doc, tracks: map[[2]int]witnessTrack{}, parents: map[int]int{}}
	for i, n := range doc.Nodes {
		for _, c := range n.Children {
			w.parents[c] = i
		}
	}
	animation := doc.Animations[clip]
	for _, c := range animation.Channels {
		s := animation.Samplers[c.Sampler]
		times, err := modeler.ReadAccessor(doc, doc.Accessors[s.Input], nil)
		require.NoError(t, err)
		values, err := modeler.ReadAccessor(doc, doc.Accessors[s.Output], nil)
		require.NoError(t, err)
		track := witnessTrack{kind: s.Interpolation, times: times.([]float32)}
		switch v := values.(type) {
		case [][3]float32:
			track.width = 3
			for _, e := range v {
				track.values = append(track.values, float64(e[0]), float64(e[1]), float64(e[2]))
			}
		case [][4]float32:
			track.width = 4
			for _, e := range v {
				track.values = append(track.values, float64(e[0]), float64(e[1]), float64(e[2]), float64(e[3]))
			}
		default:
			t.Fatalf("the witness does not read %T", values)
		}
		w.tracks[[2]int{*c.Target.Node, int(c.Target.Path)}] = track
	}
	return w
}

// span is the time of the first and the last key of any track.
func (w *witness) span() (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, track := range w.tracks {
		first = math.Min(first, float64(track.times[0]))
		last = math.Max(last, float64(track.times[len(track.times)-1]))
	}
	return first, last
}

func (track witnessTrack) at(seconds float64) []float64 {
	key := func(k int) []float64 {
		if track.kind == gltf.InterpolationCubicSpline {
			k = 3*k + 1
		}
		return track.values[k*track.width : (k+1)*track.width]
	}
	last := len(track.times) - 1
	if seconds <= float64(track.times[0]) {
		return key(0)
	}
	// What jumps at this very moment has two values there, and which one comes out hangs on the last bit of a time: the later
	// one holds from then on.
	const moment = 5e-5
	later := sort.Search(last, func(k int) bool { return seconds+moment < float64(track.times[k+1]) })
	if track.times[later] >= float32(seconds-moment) && later > 0 && track.times[later]-track.times[later-1] < 2*moment {
		return key(later)
	}
	k := sort.Search(last, func(k int) bool { return seconds < float64(track.times[k+1]) })
	if k == last {
		return key(last)
	}
	from, to := float64(track.times[k]), float64(track.times[k+1])
	u := (seconds - from) / (to - from)
	out := make([]float64, track.width)
	switch {
	case track.kind == gltf.InterpolationStep:
		return key(k)
	case track.kind == gltf.InterpolationCubicSpline:
		for i := range out {
			v := func(element, part int) float64 { return track.values[(3*element+part)*track.width+i] }
			// The equation of the glTF 2.0 specification, appendix C, cubic spline, written out.
			out[i] = (2*u*u*u-3*u*u+1)*v(k, 1) + (to-from)*(u*u*u-2*u*u+u)*v(k, 2) + (-2*u*u*u+3*u*u)*v(k+1, 1) + (to-from)*(u*u*u-u*u)*v(k+1, 0)
		}
	case track.width == 4:
		return components4(gonumSlerp(number4(key(k)), number4(key(k+1)), u))
	default:
		for i := range out {
			out[i] = key(k)[i]*(1-u) + key(k + 1)[i]*u
		}
	}
	return out
}

func number4(v []float64) gonum.Number {
	q := gonum.Number{Imag: v[0], Jmag: v[1], Kmag: v[2], Real: v[3]}
	return gonum.Scale(1/gonum.Abs(q), q)
}

func components4(q gonum.Number) []float64 { return []float64{q.Imag, q.Jmag, q.Kmag, q.Real} }

// gonumSlerp is q·(q⁻¹p)^u, the short way.
func gonumSlerp(q, p gonum.Number, u float64) gonum.Number {
	d := gonum.Mul(gonum.Conj(q), p)
	if d.Real < 0 {
		d = gonum.Scale(-1, d)
	}
	return gonum.Mul(q, gonum.Pow(d, gonum.Number{Real: u}))
}

// local is a node's turn at a time in seconds of the clip, by columns, and its matrix.
func (w *witness) local(node int, seconds float64) ([9]float64, *mat.Dense) {
	n := w.doc.Nodes[node]
	if m := n.MatrixOrDefault(); m != gltf.DefaultMatrix {
		return turnOf(mat.DenseCopyOf(mat.NewDense(4, 4, m[:]).T()))
	}
	move, turn, scale := n.Translation, n.RotationOrDefault(), n.ScaleOrDefault()
	if track, ok := w.tracks[[2]int{node, int(gltf.TRSTranslation)}]; ok {
		move = [3]float64(track.at(seconds))
	}
	if track, ok := w.tracks[[2]int{node, int(gltf.TRSRotation)}]; ok {
		turn = [4]float64(track.at(seconds))
	}
	if track, ok := w.tracks[[2]int{node, int(gltf.TRSScale)}]; ok {
		scale = [3]float64(track.at(seconds))
	}
	q := number4(turn[:])
	m := mat.NewDense(4, 4, nil)
	for axis := range 3 {
		unit := [3]float64{}
		unit[axis] = scale[axis]
		v := gonum.Mul(gonum.Mul(q, gonum.Number{Imag: unit[0], Jmag: unit[1], Kmag: unit[2]}), gonum.Conj(q))
		m.SetCol(axis, []float64{v.Imag, v.Jmag, v.Kmag, 0})
	}
	m.SetCol(3, []float64{move[0], move[1], move[2], 1})
	return turnOf(m)
}

// turnOf is a matrix with its columns made unit length, and the matrix.
func turnOf(m *mat.Dense) (turn [9]float64, _ *mat.Dense) {
	for axis := range 3 {
		length := math.Sqrt(square(m.At(0, axis)) + square(m.At(1, axis)) + square(m.At(2, axis)))
		for row := range 3 {
			turn[3*axis+row] = m.At(row, axis) / length
		}
	}
	return turn, m
}

// places are where all nodes stand in the world, in centimetres, and their own turns.
func (w *witness) places(seconds float64) (place [][3]float64, turn [][9]float64) {
	place, turn = make([][3]float64, len(w.doc.Nodes)), make([][9]float64, len(w.doc.Nodes))
	world := make([]*mat.Dense, len(w.doc.Nodes))
	var stand func(node int)
	stand = func(node int) {
		if world[node] != nil {
			return
		}
		var own *mat.Dense
		turn[node], own = w.local(node, seconds)
		if up, ok := w.parents[node]; ok {
			stand(up)
			own.Mul(world[up], mat.DenseCopyOf(own))
		}
		world[node] = own
		place[node] = [3]float64{100 * own.At(0, 3), 100 * own.At(1, 3), 100 * own.At(2, 3)}
	}
	for node := range w.doc.Nodes {
		stand(node)
	}
	return place, turn
}

// A sheetOff is how far a sheet is from its clip, by the witness, at whole frames.
type sheetOff struct{ turnDeg, worldCM float64 }

// compare holds every joint of an imported sheet, resolved by the language's own engine,
// against the witness at the frames of the clip. Joints find their nodes by the numbers in
// the comments of the rig.
func compare(t testing.TB, r *Result, data []byte, clip int) sheetOff {
	t.Helper()
	return compareWith(t, r, newWitness(t, data, clip), nodesOfRig(t, r))
}

// compareNamed finds the nodes of joints by the names in the comments of the rig, for a rig that was made of another file.
// Joints that the clip's file does not have are left out.
func compareNamed(t testing.TB, r *Result, data []byte, clip int) sheetOff {
	t.Helper()
	w := newWitness(t, data, clip)
	byName := map[string]int{}
	for i, n := range w.doc.Nodes {
		byName[n.Name] = i
	}
	nodes := map[string]int{}
	for line := range strings.Lines(r.RigText) {
		if joint, comment, found := strings.Cut(line, "# node "); found {
			_, name, _ := strings.Cut(comment, `"`)
			name, _, _ = strings.Cut(name, `"`)
			if node, has := byName[name]; has {
				nodes[strings.Fields(joint)[0]] = node
			}
		}
	}
	require.NotEmpty(t, nodes)
	return compareWith(t, r, w, nodes)
}

func compareWith(t testing.TB, r *Result, w *witness, nodes map[string]int) sheetOff {
	t.Helper()
	m := resolve(t, r)
	first, last := w.span()
	rate := m.Sheet.Rate.Float()
	frames := int(math.Round((last - first) * rate))
	var off sheetOff
	var values []float64
	// The import itself looks at every frame; of a long clip every third is enough here.
	for frame := 0; frame <= frames; frame += 1 + frames/120 {
		if frame == int(m.Sheet.Length.Float()) && m.Sheet.Closed {
			break // The start again, whatever the clip's last frame is.
		}
		seconds := first + float64(frame)*(last-first)/float64(frames)
		values = m.Values(float64(frame), values)
		poses := m.Rig.Pose(values, nil)
		world := m.World(float64(frame))
		places, turns := w.places(seconds)
		for i := range m.Rig.Joints {
			node, has := nodes[m.Rig.Joints[i].Name]
			if !has {
				continue
			}
			turn := motion.TurnMatrix(m.Rig.Joints[i].Order, poses[i].Turn)
			if slices.ContainsFunc(m.Rig.Chains, func(c motion.Chain) bool { return i == c.Root || i == c.Middle || i == c.End }) {
				turn = ownTurn(&world[m.Rig.Joints[i].Parent], &world[i]) // a solved limb's turns are not its channels'
			}
			off.turnDeg = math.Max(off.turnDeg, angleBetween(turn, turns[node]))
			place, there := world[i].Position(), places[node]
			off.worldCM = math.Max(off.worldCM, math.Sqrt(square(place[0]-there[0])+square(place[1]-there[1])+square(place[2]-there[2])))
		}
	}
	return off
}

// ownTurn is a joint's turn on the one that carries it, by columns, from where both are in the world: by gonum, without
// the lengths of the axes.
func ownTurn(carrier, joint *motion.Transform) (turn [9]float64) {
	axes := func(t *motion.Transform) *mat.Dense {
		return mat.NewDense(3, 3, []float64{t[0], t[3], t[6], t[1], t[4], t[7], t[2], t[5], t[8]})
	}
	var own mat.Dense
	if err := own.Solve(axes(carrier), axes(joint)); err != nil {
		panic(err)
	}
	for column := range 3 {
		length := mat.Norm(own.ColView(column), 2)
		for row := range 3 {
			turn[3*column+row] = own.At(row, column) / length
		}
	}
	return turn
}

func square(x float64) float64 { return x * x }

// angleBetween is the angle in degrees between two turns by columns: the Frobenius norm of
// the difference of two rotations is 2√2·sin(angle/2).
func angleBetween(a, b [9]float64) float64 {
	sum := 0.0
	for k := range a {
		sum += square(a[k] - b[k])
	}
	return 2 * math.Asin(math.Min(1, math.Sqrt(sum/8))) * 180 / math.Pi
}

func nodesOfRig(t testing.TB, r *Result) map[string]int {
	t.Helper()
	nodes := map[string]int{}
	for _, line := range bytes.Split([]byte(r.RigText), []byte("\n")) {
		fields := bytes.Fields(line)
		for k, field := range fields {
			if string(field) == "#" && k+2 < len(fields) && string(fields[k+1]) == "node" {
				var node int
				_, err := fmt.Sscan(string(fields[k+2]), &node)
				require.NoError(t, err)
				nodes[string(fields[0])] = node
			}
		}
	}
	require.NotEmpty(t, nodes)
	return nodes
}

func requireWithin(t testing.TB, within Within, off sheetOff) {
	t.Helper()
	assert.LessOrEqual(t, off.turnDeg, within.TurnDeg)
	assert.LessOrEqual(t, off.worldCM, within.WorldCM)
}
