package exchange

import (
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// An OverRig is a rig that an import goes over in place of making one.
type OverRig struct {
	Rig *motion.Rig
	// Text is the whole of the rig's file, and File its name as the sheets write it.
	Text, File string
}

// bonesOver are the joints of a rig as a file has them. What the file lacks is added to its nodes, in the copy that is
// returned, and is absent. The error says why the file is none of the rig's.
func (d *Document) bonesOver(rig *motion.Rig, clips []*Clip) (*Document, []joint, error) {
	joined := *d
	joined.nodes = slices.Clone(d.nodes)
	known := modelOf(rig)
	bones, ofRig := make([]joint, len(known)), make([]joint, len(known))
	for i := range known {
		j := &rig.Joints[i]
		n, err := findNode(&known[i], d.nodes)
		if err != nil {
			return nil, nil, err
		}
		up := -1
		if j.Parent >= 0 {
			up = bones[j.Parent].node
		}
		bones[i] = joint{node: n, parent: j.Parent, absent: n < 0}
		ofRig[i] = joint{scaleAtRest: known[i].scale}
		switch {
		case n < 0:
			own := restLocal(j)
			own.scale = known[i].scale
			for axis := range 3 {
				own.move[axis] /= known[i].fold[axis]
			}
			bones[i].node = len(joined.nodes)
			joined.nodes = append(joined.nodes, node{name: known[i].name, parent: up, own: own})
			if up >= 0 {
				joined.nodes[up].children = append(slices.Clone(joined.nodes[up].children), bones[i].node)
			}
		case d.nodes[n].parent != up:
			want := "nothing"
			if up >= 0 {
				want = fmt.Sprintf("%q", joined.label(up))
			}
			return nil, nil, fmt.Errorf("the node %q hangs at %s there, and the joint `%s` of the rig at %s", d.label(n), d.hangs(n), j.Name, want)
		}
	}
	joined.fold(bones, clips, ofRig)
	return &joined, bones, nil
}

// foreignTo says which node a clip moves for which a rig has no joint; nil where there is none.
func (d *Document) foreignTo(rig *motion.Rig, bones []joint, clip *Clip) error {
	known := map[int]bool{}
	for _, j := range bones {
		known[j.node] = true
	}
	for i := range clip.tracks {
		if t := &clip.tracks[i]; !known[t.node] && t.moves() {
			return fmt.Errorf("it moves the node %q, for which the rig `%s` has no joint; import it without --rig", d.label(t.node), rig.Name)
		}
	}
	return nil
}

// A fixed is the rig that an ensemble goes over.
type fixed struct {
	rig *motion.Rig
	// controls are the names of controls that are no joints, numbered behind the joints.
	controls []string
	// resting are dials that stay at rest, by their place in the rig, and why, for a person.
	resting map[int]string
}

// ensembleOver takes sampled clips for the motion of a rig: its joints, orders and rests stay, and its dials are the
// channels. What a clip moves that no dial does is a series of its own.
func ensembleOver(figures []*figure, rig *motion.Rig, o Options) *ensemble {
	e := &ensemble{figures: figures, lead: figures[0], over: &fixed{rig: rig, resting: map[int]string{}}}
	e.begin(o)
	var raw []string
	for i := range rig.Joints {
		raw = append(raw, rig.Joints[i].Name)
		for _, f := range figures {
			from, j := &rig.Joints[i], &f.skeleton.joints[i]
			j.name, j.part, j.mate, j.side = from.Name, part(from.Part), -1, middle
			if other := rig.Mirrored(from.Name); other != from.Name {
				j.mate = rig.JointIndex(other)
			}
			j.stays = [3]bool{}
			j.rest, j.order = restLocal(from), orderOf(from)
			j.setRest(vec3(from.RestTurn))
		}
	}
	spelled := spell(raw)
	for _, f := range figures {
		for i := range f.skeleton.joints {
			if j := &f.skeleton.joints[i]; j.mate >= 0 {
				j.side = spelled[i].side
			}
		}
		f.restPlace, f.restTurn = f.restPlaces(), f.restTurns()
	}
	e.lead.front = facingOf(spelled, e.lead.restPlace)
	for _, f := range figures {
		f.front = e.lead.front
	}
	e.takeOver()
	return e
}

// driven is which numbers of joints any dial of the rig moves.
func (e *ensemble) driven() map[[3]int]bool {
	out := map[[3]int]bool{}
	for i := range e.over.rig.Channels {
		for _, d := range e.over.rig.Channels[i].Drives {
			for axis := range 3 {
				if d.Joint >= 0 && d.Axes[axis] {
					out[[3]int{d.Joint, int(propertyOf(d.Kind)), axis}] = true
				}
			}
		}
	}
	return out
}

// takeOver makes the series of what a dial moves or a clip needs.
func (e *ensemble) takeOver() {
	for _, f := range e.figures {
		f.at = slices.Repeat([][3][3]int{{{-1, -1, -1}, {-1, -1, -1}, {-1, -1, -1}}}, len(f.skeleton.joints))
	}
	driven := e.driven()
	for i := range e.lead.skeleton.joints {
		j := e.lead.skeleton.joints[i]
		for axis := range 3 {
			e.number(driven, series{joint: i, property: moves, axes: []int{axis}, rest: j.rest.move[axis]}, e.still.moveCM, e.paths(i, func(t transform) float64 { return t.move[axis] }))
		}
		angles := make([][]vec3, len(e.figures))
		for k, f := range e.figures {
			if own := &f.skeleton.joints[i]; !own.absent {
				angles[k] = j.order.beside(j.order.unroll(own.path), j.restAngles)
			}
		}
		for axis := range 3 {
			paths := make([][]float64, len(angles))
			for k := range angles {
				for _, a := range angles[k] {
					paths[k] = append(paths[k], a[axis])
				}
			}
			e.number(driven, series{joint: i, property: turns, axes: []int{axis}, rest: j.restAngles[axis]}, e.still.turnDeg, paths)
		}
		e.sizes(driven, i)
	}
}

// number adds one number of a joint where a dial moves it or a clip does not leave it where it rests.
func (e *ensemble) number(driven map[[3]int]bool, s series, reach float64, paths [][]float64) {
	s.undriven = !driven[[3]int{s.joint, int(s.property), s.axes[0]}]
	if !s.undriven || !rests(paths, s.rest, reach) {
		e.add(s, paths, reach)
	}
}

// sizes adds the scales of a joint: one for those axes that one dial moves, and the others by themselves. Sizes multiply, so
// only the first of several dials has one; and one that moves several axes alike has none where a clip does not.
func (e *ensemble) sizes(driven map[[3]int]bool, i int) {
	var sets [][]int
	taken := [3]bool{}
	for c := range e.over.rig.Channels {
		dial := &e.over.rig.Channels[c]
		for _, d := range dial.Drives {
			if d.Joint != i || d.Kind != motion.DrivesScale || e.over.resting[c] != "" {
				continue
			}
			var axes []int
			for axis := range 3 {
				if d.Axes[axis] {
					axes = append(axes, axis)
				}
			}
			name := e.over.rig.Joints[i].Name
			switch {
			case slices.ContainsFunc(axes, func(axis int) bool { return taken[axis] }):
				e.over.resting[c] = fmt.Sprintf("another dial before it sizes the joint `%s`", name)
			case !e.sizedAlike(i, axes):
				e.over.resting[c] = fmt.Sprintf("a clip makes the joint `%s` larger by axes that it sizes alike", name)
			default:
				sets = append(sets, axes)
				for _, axis := range axes {
					taken[axis] = true
				}
			}
		}
	}
	for axis := range 3 {
		if !taken[axis] {
			sets = append(sets, []int{axis})
		}
	}
	for _, axes := range sets {
		paths := e.paths(i, func(t transform) float64 { return 100 * t.scale[axes[0]] })
		least, held := e.leastSize(paths)
		e.number(driven, series{joint: i, property: scales, axes: axes, rest: 100, uneven: held}, least, paths)
	}
}

// leastSize is from how far on a size counts as one, in per cent, and whether it stays in all clips.
func (e *ensemble) leastSize(paths [][]float64) (least float64, held bool) {
	held = true
	for _, path := range paths {
		if path != nil {
			still, _ := stays(100*e.still.scale, path)
			held = held && still
		}
	}
	if held {
		return unevenLimit, held
	}
	return 200 * e.still.scale, held
}

// sizedAlike tells whether the clips make a joint larger along some axes by the same.
func (e *ensemble) sizedAlike(i int, axes []int) bool {
	paths := e.paths(i, func(t transform) float64 { return 100 * t.scale[axes[0]] })
	least, _ := e.leastSize(paths)
	for _, axis := range axes[1:] {
		if !sameSeries(paths, e.paths(i, func(t transform) float64 { return 100 * t.scale[axis] }), least/2) {
			return false
		}
	}
	return true
}

// rests tells whether a number stays where it rests in all clips.
func rests(paths [][]float64, rest, reach float64) bool {
	for _, path := range paths {
		for _, v := range path {
			if math.Abs(v-rest) > reach {
				return false
			}
		}
	}
	return true
}

// ownDial is a channel that the rig does not have, for one number.
func (e *ensemble) ownDial(n int) channel {
	s := &e.lead.series[n]
	c := channel{control: s.joint, drives: []drive{{series: n, gain: 1}}}
	if l := e.lead.chainOf(s.joint); l != nil && s.property > scales {
		c.control = e.controlOf(e.lead.goalName(l))
	}
	if s.property == scales {
		c.base = 100
	}
	e.lead.describe(&c)
	return c
}

// overClip fills in what a channel is in one clip.
func (e *ensemble) overClip(k int, c channel) channel {
	f := e.figures[k]
	s := &f.series[c.drives[0].series]
	c.closed, c.gain, c.stepped = f.closed && !s.torn, s.gain/c.drives[0].gain, s.stepped && len(c.drives) == 1 && !c.above && c.mesh == nil
	c.drives = slices.Clone(c.drives)
	if c.mesh != nil {
		c.closed, c.gain = f.closed && !c.mesh.torn(f), c.mesh.dial(c.place, func(n int) float64 { return f.series[n].gain })
		c.want = c.mesh.wants(f, c.place)
	}
	return c
}

// controlOf is the number of a control: that of its joint, or one behind the joints.
func (e *ensemble) controlOf(name string) int {
	if i := e.over.rig.JointIndex(name); i >= 0 {
		return i
	}
	at := slices.Index(e.over.controls, name)
	if at < 0 {
		at = len(e.over.controls)
		e.over.controls = append(e.over.controls, name)
		for _, f := range e.figures {
			f.controls = e.over.controls
		}
	}
	return len(e.lead.skeleton.joints) + at
}

// loosen lets go of what a dial of the rig moves along with its first joint where a clip does not move them together: a
// channel of its own has what the dial leaves there.
func (e *ensemble) loosen(channels [][]channel, n int, allowance [][][]float64) (more []int) {
	if m := channels[0][n].mesh; m != nil {
		return e.loosenMesh(channels, m, allowance)
	}
	fits := func() bool {
		for k, f := range e.figures {
			if _, ok := f.tubeOf(&channels[k][n], allowance[k]); !ok {
				return false
			}
		}
		return true
	}
	set := func(d int, loose bool) {
		for k := range channels {
			channels[k][n].drives[d].loose = loose
		}
	}
	first := channels[0][n].drives
	was := make([]bool, len(first))
	for d := range first {
		was[d] = first[d].loose
		set(d, d > 0)
	}
	for d := 1; d < len(was); d++ {
		if was[d] {
			continue
		}
		if set(d, false); !fits() {
			set(d, true)
			more = append(more, first[d].series)
		}
	}
	for k := range channels {
		channels[k][n].rows, channels[k][n].dropped, channels[k][n].constant = nil, false, false
	}
	return more
}
