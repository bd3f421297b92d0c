package exchange

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
}

// ensembleOver takes sampled clips for the motion of a rig: its joints, orders and rests stay, and its dials are the
// channels. What a clip moves that no dial does is a series of its own.
func ensembleOver(figures []*figure, rig *motion.Rig, o Options) (*ensemble, error) {
	e := &ensemble{figures: figures, lead: figures[0], over: &fixed{rig: rig}}
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
	return e, e.takeOver()
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
func (e *ensemble) takeOver() error {
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
		if err := e.sizes(driven, i); err != nil {
			return err
		}
	}
	return nil
}

// number adds one number of a joint where a dial moves it or a clip does not leave it where it rests.
func (e *ensemble) number(driven map[[3]int]bool, s series, reach float64, paths [][]float64) {
	if driven[[3]int{s.joint, int(s.property), s.axes[0]}] || !rests(paths, s.rest, reach) {
		e.add(s, paths, reach)
	}
}

// sizes adds the scales of a joint: one for those axes that one dial moves, and the others by themselves.
func (e *ensemble) sizes(driven map[[3]int]bool, i int) error {
	var sets [][]int
	taken := [3]bool{}
	for c := range e.over.rig.Channels {
		for _, d := range e.over.rig.Channels[c].Drives {
			if d.Joint != i || d.Kind != motion.DrivesScale {
				continue
			}
			var axes []int
			for axis := range 3 {
				if d.Axes[axis] && taken[axis] {
					return fmt.Errorf("two dials of the rig `%s` move the size of its joint `%s`; import without --rig", e.over.rig.Name, e.over.rig.Joints[i].Name)
				}
				if d.Axes[axis] {
					axes, taken[axis] = append(axes, axis), true
				}
			}
			sets = append(sets, axes)
		}
	}
	for axis := range 3 {
		if !taken[axis] {
			sets = append(sets, []int{axis})
		}
	}
	for _, axes := range sets {
		paths := e.paths(i, func(t transform) float64 { return 100 * t.scale[axes[0]] })
		held := true
		for _, path := range paths {
			if path != nil {
				still, _ := stays(100*e.still.scale, path)
				held = held && still
			}
		}
		least := 200 * e.still.scale
		if held {
			least = unevenLimit
		}
		for _, axis := range axes[1:] {
			if !sameSeries(paths, e.paths(i, func(t transform) float64 { return 100 * t.scale[axis] }), least/2) {
				return fmt.Errorf("a clip makes the joint `%s` larger by its axes as no dial of the rig `%s` does; import without --rig", e.over.rig.Joints[i].Name, e.over.rig.Name)
			}
		}
		e.number(driven, series{joint: i, property: scales, axes: axes, rest: 100, uneven: held}, least, paths)
	}
	return nil
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

// dialsOver are the rig's dials as channels, and one of its own for each number that no dial moves. Where several dials move
// one number, the one that moves nothing else has what the others leave.
func (e *ensemble) dialsOver() ([][]channel, error) {
	rig, lead := e.over.rig, e.lead
	var out []channel
	by := make([][]int, len(lead.series)) // the channels that move a series
	for i := range rig.Channels {
		dial := &rig.Channels[i]
		c := channel{name: dial.Name, base: dial.Rest, known: true, control: e.controlOf(dial.Control)}
		goal := false
		for _, d := range dial.Drives {
			goal = goal || d.Joint < 0
			for axis := range 3 {
				if d.Joint < 0 || !d.Axes[axis] || d.Gain == 0 {
					continue
				}
				n := lead.at[d.Joint][propertyOf(d.Kind)][axis]
				if n < 0 || lead.series[n].axes[0] != axis {
					continue
				}
				c.drives = append(c.drives, drive{series: n, gain: d.Gain})
			}
		}
		if goal || len(c.drives) == 0 {
			continue
		}
		// What moves most leads.
		slices.SortStableFunc(c.drives, func(a, b drive) int { return compareSize(b.gain, a.gain) })
		for _, d := range c.drives {
			by[d.series] = append(by[d.series], len(out))
		}
		out = append(out, c)
	}
	for n, movers := range by {
		switch len(movers) {
		case 0:
			c := e.ownDial(n)
			out = append(out, c)
		case 1:
		default:
			if err := shareOut(out, n, movers); err != nil {
				var names []string
				for _, m := range movers {
					names = append(names, "`"+lead.path(&out[m])+"`")
				}
				return nil, fmt.Errorf("the dials %s of the rig `%s` all move the %s of its joint `%s` along with others, so that no clip says which one is meant; import without --rig, or with --onto or --base into a sheet of it", strings.Join(names, " and "), rig.Name, lead.series[n].property, rig.Joints[lead.series[n].joint].Name)
			}
		}
	}
	for _, c := range out {
		if c.drives[0].loose {
			return nil, fmt.Errorf("what the dial `%s/%s` of the rig `%s` moves is moved by others too; import without --rig", e.lead.controlName(c.control), c.name, rig.Name)
		}
	}
	all := make([][]channel, len(e.figures))
	for k := range e.figures {
		for _, c := range out {
			all[k] = append(all[k], e.overClip(k, c))
		}
		sortByControl(all[k])
	}
	return all, nil
}

func compareSize(a, b float64) int {
	switch a, b = math.Abs(a), math.Abs(b); {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// shareOut leaves a number that several channels move to the one that moves nothing else.
func shareOut(out []channel, n int, movers []int) error {
	own := -1
	for _, m := range movers {
		if len(out[m].drives) == 1 {
			if own >= 0 {
				return fmt.Errorf("two dials move it alone")
			}
			own = m
		}
	}
	if own < 0 {
		return fmt.Errorf("no dial moves it alone")
	}
	out[own].above = true
	for _, m := range movers {
		for k := range out[m].drives {
			if m != own && out[m].drives[k].series == n {
				out[m].drives[k].loose = true
			}
		}
		slices.SortStableFunc(out[m].drives, func(a, b drive) int {
			switch {
			case a.loose == b.loose:
				return 0
			case a.loose:
				return 1
			}
			return -1
		})
	}
	return nil
}

// ownDial is a channel that the rig does not have, for one number.
func (e *ensemble) ownDial(n int) channel {
	s := &e.lead.series[n]
	c := channel{control: s.joint, drives: []drive{{series: n, gain: 1}}}
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
	c.closed, c.gain, c.stepped = f.closed && !s.torn, s.gain/c.drives[0].gain, s.stepped && len(c.drives) == 1 && !c.above
	c.drives = slices.Clone(c.drives)
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
