package exchange

import (
	"fmt"
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// A performance is a motion that joints can be asked about: a sheet on its rig, or a clip on the nodes of its file.
type performance struct {
	joints []performer
	// seconds is how long it lasts, and frame how many seconds one of its frames is; 0 where it knows of no frames.
	seconds, frame float64
	// loops says that the end is the start.
	loops bool
	// stand puts every joint in its place at a time in seconds. At the very end it is what plays just before it.
	stand func(seconds float64, into []standing)
	// shapers are the morph targets, and weigh gives their weights, from 0 to 1, as stand does places.
	shapers []shaper
	weigh   func(seconds float64, into []float64)
}

// A performer is one joint of a performance. Those that carry others stand before them.
type performer struct {
	name   string
	parent int       // the performer that carries it, -1 for none
	moves  bool      // it moves of its own, and not only with what carries it
	known  modelNode // by which a file's node is found
}

// A standing is where a joint is in the world, in centimetres, and what has become of its axes.
type standing struct {
	place vec3
	axes  matrix
}

// turn is the turn of the axes without their sizes: the nearest one, where sizes that differ have skewed them. It is
// false where they are flat, and have none.
func (s *standing) turn() (quat, bool) {
	m := s.axes
	if m.determinant() < 0 {
		m = m.columnsScaled(vec3{-1, 1, 1})
	}
	x, y, z := m.column(0), m.column(1), m.column(2)
	sizes := vec3{x.length(), y.length(), z.length()}
	if least := math.Min(sizes[0], math.Min(sizes[1], sizes[2])); least < 1e-9 || m.determinant() < 1e-6*sizes[0]*sizes[1]*sizes[2] {
		return quat{0, 0, 0, 1}, false
	}
	m = m.columnsScaled(vec3{1 / sizes[0], 1 / sizes[1], 1 / sizes[2]})
	if math.Abs(x.dot(y))+math.Abs(y.dot(z))+math.Abs(z.dot(x)) > 1e-9*sizes.dot(sizes) {
		return m.nearestTurn(), true
	}
	return m.quat(), true
}

// performanceOf is a sheet on its rig.
func performanceOf(m *motion.Motion) *performance {
	p := &performance{joints: make([]performer, len(m.Rig.Joints)), frame: 1 / m.Sheet.Rate.Float(), loops: m.Sheet.Closed}
	length := m.Sheet.Length.Float()
	p.seconds = length * p.frame
	known, moves := modelOf(m.Rig), movingJoints(m)
	for i := range m.Rig.Joints {
		p.joints[i] = performer{name: m.Rig.Joints[i].Name, parent: m.Rig.Joints[i].Parent, moves: moves[i], known: known[i]}
	}
	p.blend(m)
	player := m.Player()
	p.stand = func(seconds float64, into []standing) {
		world := player.Figure(atMoment(m, math.Min(seconds/p.frame, length))).World
		for i := range world {
			into[i] = standing{vec3(world[i].Position()), linearOf(&world[i])}
		}
	}
	return p
}

// movingJoints are those that a channel which moves, or a chain that is solved, moves of their own.
func movingJoints(m *motion.Motion) []bool {
	out := make([]bool, len(m.Rig.Joints))
	for i := range m.Channels {
		for _, d := range m.Channels[i].Dial.Drives {
			if d.Joint >= 0 && m.Channels[i].Moves() {
				out[d.Joint] = true
			}
		}
	}
	for i := range m.Rig.Chains {
		if c := &m.Rig.Chains[i]; solvesChain(m, i) {
			out[c.Root], out[c.Middle], out[c.End] = true, true, true
		}
	}
	return out
}

// performance is one clip of the file, with all joints that an import would see.
func (d *Document) performance(clip *Clip) (*performance, error) {
	if !clip.movesSomething() {
		return nil, fmt.Errorf("the clip moves no node; choose another")
	}
	own := Document{nodes: d.nodes, skins: d.skins, Clips: []Clip{*clip}}
	bones := own.bones([]*Clip{clip})
	moves := map[int]bool{}
	for i := range clip.tracks {
		moves[clip.tracks[i].node] = moves[clip.tracks[i].node] || clip.tracks[i].moves()
	}
	nodes := make([]int, len(bones))
	joints := make([]performer, len(bones))
	for i, j := range bones {
		nodes[i] = j.node
		joints[i] = performer{name: d.label(j.node), parent: j.parent, moves: moves[j.node], known: modelNode{number: j.node, name: d.nodes[j.node].name}}
	}
	rate, _ := guessRate(clip)
	p := d.played(clip, nodes)
	p.joints, p.frame = joints, 1/rate.perSecond()
	first, last := make([]standing, len(nodes)), make([]standing, len(nodes))
	p.stand(0, first)
	p.stand(p.seconds, last)
	p.loops = true
	for i := range first {
		p.loops = p.loops && first[i].place.to(last[i].place) <= noiseMoveCM && turnsApart(&first[i], &last[i]) <= noiseTurnDeg
	}
	p.blendClip(d, clip)
	opens, ends := make([]float64, len(p.shapers)), make([]float64, len(p.shapers))
	p.weigh(0, opens)
	p.weigh(p.seconds, ends)
	for i := range opens {
		p.loops = p.loops && 100*math.Abs(opens[i]-ends[i]) <= noiseWeight
	}
	return p, nil
}

// moves tells whether a track ever leaves its first value.
func (t *track) moves() bool {
	for k := 1; k < len(t.times); k++ {
		if t.key(k) != t.key(0) || t.at((t.times[k-1]+t.times[k])/2) != t.key(0) {
			return true
		}
	}
	return false
}

// played is what some nodes of a file do in a clip. One number less than 0 is a node that is not there, and stands still
// in the middle.
func (d *Document) played(clip *Clip, nodes []int) *performance {
	stage := newNodeStage(d, clip, nodes)
	return &performance{
		seconds: clip.Seconds(),
		stand: func(seconds float64, into []standing) {
			stage.stand(clip.Start + seconds)
			for i, n := range nodes {
				into[i] = standing{axes: matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}
				if n >= 0 {
					into[i] = stage.world[n]
				}
			}
		},
	}
}

// A nodeStage places nodes of a file in the world.
type nodeStage struct {
	nodes  []node
	order  []int // what is placed, those that carry others first
	tracks map[int]*[3]*track
	world  []standing // by node
}

func newNodeStage(d *Document, clip *Clip, asked []int) *nodeStage {
	s := &nodeStage{nodes: d.nodes, tracks: map[int]*[3]*track{}, world: make([]standing, len(d.nodes))}
	for i := range clip.tracks {
		t := &clip.tracks[i]
		if s.tracks[t.node] == nil {
			s.tracks[t.node] = &[3]*track{}
		}
		s.tracks[t.node][t.property] = t
	}
	placed := make([]bool, len(d.nodes))
	for _, n := range asked {
		var way []int
		for ; n >= 0 && !placed[n]; n = d.nodes[n].parent {
			placed[n] = true
			way = append(way, n)
		}
		for i := len(way) - 1; i >= 0; i-- {
			s.order = append(s.order, way[i])
		}
	}
	return s
}

// stand places the nodes at a time in seconds of the clip, as glTF 2.0 composes them.
func (s *nodeStage) stand(seconds float64) {
	for _, n := range s.order {
		own := s.nodes[n].own
		if tracks := s.tracks[n]; tracks != nil {
			for p, t := range tracks {
				if t != nil {
					own.set(property(p), t.at(seconds))
				}
			}
		}
		linear := own.turn.matrix().columnsScaled(own.scale)
		at := standing{own.move.times(100), linear}
		if up := s.nodes[n].parent; up >= 0 {
			at = standing{s.world[up].place.plus(s.world[up].axes.apply(at.place)), s.world[up].axes.times(linear)}
		}
		s.world[n] = at
	}
}
