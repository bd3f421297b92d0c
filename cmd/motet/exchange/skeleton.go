package exchange

import (
	"fmt"
	"math"
	"slices"

	"github.com/qmuntal/gltf"
)

// stepsPerFrame is how finely motion is looked at: four points a frame, so that a curve
// can't stray between frames unseen.
const stepsPerFrame = 4

// mostJointFrames bounds moving joints × frames: three and a half minutes of a figure with 65 moving joints at 30 fps.
// mostStillFrames bounds all joints × frames, those that only stand in the file too. Sampling that takes about 400 MB.
//
// A small file may have less: a frame of a joint for each two bytes, which is less than the tightest packing of a baked key
// takes, on top of a minute of that figure, for clips that say with a few keys what takes long. So a file of a few lines
// can't ask for all that memory.
const (
	mostJointFrames  = 400_000
	mostStillFrames  = 1_200_000
	leastJointFrames = 120_000
	bytesAJointFrame = 2
)

// jointFrames is how many frames of moving joints a document may have, and stillFrames how many of all its joints.
func (d *Document) jointFrames() int {
	return min(leastJointFrames+d.bytes/bytesAJointFrame, mostJointFrames)
}

func (d *Document) stillFrames() int { return d.jointFrames() * (mostStillFrames / mostJointFrames) }

// A joint is a node of the file as the rig sees it: parents stand before children,
// lengths are centimetres, and the scales that nodes have at rest are folded into the
// offsets below them.
type joint struct {
	node   int
	parent int // index of the joint that carries it, -1 for a root
	name   string
	side   side
	mate   int // the joint on the other side, -1 for none
	part   part
	// rest is the transform from which channels depart, in the units of path, and
	// order and restAngles (degrees) its turn as the rig writes it.
	rest       transform
	order      order
	restAngles vec3
	// fold turns the node's translation (metres before its ancestors' scales) into
	// centimetres in its parent's frame, axis by axis.
	fold vec3
	// scaleAtRest is the node's own scale that the rig leaves to the model file. Of a joint that carries others it is the
	// same along all axes: a scale that differs by axis skews what is turned below it, so that no offset could hold it.
	// What it differs by is in the path, and a channel of the sheet.
	scaleAtRest vec3
	// path is the joint's own transform at every step of the clip: move in centimetres,
	// turn with a continuous sign, scale as a ratio of scaleAtRest.
	path []transform
	// clip is the path before its ends were joined, for the check of what comes out.
	clip []transform
	// stays says by property whether nothing of it moves in the clip.
	stays [3]bool
	// stepped says by property that the clip holds its values between keys.
	stepped [3]bool
	// jumps are by property the frames at which the clip goes from one value to another at one moment, and moves otherwise.
	jumps [3][]int
	// curved says by property that the clip itself is smooth between its keys.
	curved [3]bool
	// absent says that the clip's file has no such joint, but that of another clip over the same rig has.
	absent bool
}

// A skeleton is the joints of a file, sampled over one clip.
type skeleton struct {
	joints  []joint
	byNode  []int // joint of each node, -1 for none
	steps   int   // points of each path: frames × stepsPerFrame + 1
	tracked map[[2]int]*track
	weights []weightPath // those that the clip has a say in
}

// skeletonOf picks the joints of a document for one clip: what any clip moves, what
// skins use, what carries those, and the undrawn ends below them.
func skeletonOf(d *Document, clip *Clip, time timing) (*skeleton, error) {
	return d.skeleton(clip, time, d.bones([]*Clip{clip}))
}

// skeleton samples joints over one clip.
func (d *Document) skeleton(clip *Clip, time timing, bones []joint) (*skeleton, error) {
	if err := d.roomFor(clip, time, len(bones)); err != nil {
		return nil, err
	}
	s := &skeleton{byNode: make([]int, len(d.nodes)), steps: time.frames*stepsPerFrame + 1, tracked: map[[2]int]*track{}}
	for i := range clip.tracks {
		t := &clip.tracks[i]
		s.tracked[[2]int{t.node, int(t.property)}] = t
	}
	s.joints = slices.Clone(bones)
	for i := range s.byNode {
		s.byNode[i] = -1
	}
	for i := range s.joints {
		s.byNode[s.joints[i].node] = i
		s.sample(d, i, time)
	}
	return s, s.sampleWeights(d, clip, time)
}

// roomFor says why a clip is too large to be sampled.
func (d *Document) roomFor(clip *Clip, time timing, joints int) error {
	if moving, most := clip.nodes(), d.jointFrames(); moving*time.frames > most {
		return fmt.Errorf("the clip is %d frames of %s at %s, more than is read at once of such a file (%d joint frames); export a shorter piece, or import it at a lower rate", time.frames, count(moving, "moving node"), time.rate, most)
	}
	if most := d.stillFrames(); joints*time.frames > most {
		return fmt.Errorf("the clip is %d frames of %s at %s, more than is read at once of such a file (%d joint frames); export a shorter piece or the character alone, or import it at a lower rate", time.frames, count(joints, "node"), time.rate, most)
	}
	return nil
}

// nodes is how many nodes the clip has tracks of.
func (c *Clip) nodes() int {
	moving := map[int]bool{}
	for i := range c.tracks {
		moving[c.tracks[i].node] = true
	}
	return len(moving)
}

// bones are the joints of a document, each with its node, what carries it, and the scale that the rig leaves to the file,
// the same for all of the clips given.
func (d *Document) bones(clips []*Clip) []joint {
	wanted := d.wantedNodes()
	var bones []joint
	for root := range d.nodes {
		if d.nodes[root].parent < 0 {
			bones = d.descend(bones, root, wanted)
		}
	}
	d.fold(bones, clips, nil)
	return bones
}

// fold fills in scaleAtRest and fold of bones, whose parents stand before them. Where the rig belongs to another file, a
// joint has the size that it has there, but for files in other units.
func (d *Document) fold(bones []joint, clips []*Clip, rig []joint) {
	tracks := map[int][]*track{}
	for _, clip := range clips {
		for i := range clip.tracks {
			if t := &clip.tracks[i]; t.property == scales {
				tracks[t.node] = append(tracks[t.node], t)
			}
		}
	}
	for i := range bones {
		j := &bones[i]
		j.fold = vec3{100, 100, 100}
		if j.parent >= 0 {
			up := &bones[j.parent]
			j.fold = up.fold.scaled(up.scaleAtRest)
		}
		j.scaleAtRest = restScale(d.nodes[j.node].own.scale, tracks[j.node], len(clips))
		if len(d.nodes[j.node].children) > 0 {
			j.scaleAtRest = evenPart(j.scaleAtRest)
		}
		if rig != nil && !otherUnits(j.scaleAtRest, rig[i].scaleAtRest) {
			j.scaleAtRest = rig[i].scaleAtRest
		}
	}
}

// otherUnits tells whether two scales at rest of one joint differ by more than any body grows: then one file is in metres,
// say, and the other in centimetres.
func otherUnits(a, b vec3) bool {
	for axis := range 3 {
		if ratio := a[axis] / b[axis]; ratio < 0.5 || ratio > 2 {
			return true
		}
	}
	return false
}

// wantedNodes marks the nodes that are joints.
func (d *Document) wantedNodes() []bool {
	wanted := make([]bool, len(d.nodes))
	mark := func(n int) {
		for n >= 0 && !wanted[n] {
			wanted[n] = true
			n = d.nodes[n].parent
		}
	}
	for _, c := range d.Clips {
		for _, t := range c.tracks {
			mark(t.node)
		}
	}
	for _, n := range d.skins {
		mark(n)
	}
	// A file that moves nothing but weights has no joints but the nodes of its meshes.
	if !slices.Contains(wanted, true) {
		for _, c := range d.Clips {
			for _, t := range c.weights {
				mark(t.node)
			}
		}
	}
	return wanted
}

// descend adds a root and what is below it, parents first and children in the file's
// order. It keeps its own stack, since a file may nest deeper than Go should recurse.
func (d *Document) descend(bones []joint, root int, wanted []bool) []joint {
	type step struct {
		node, parent int
	}
	stack := []step{{root, -1}}
	for len(stack) > 0 {
		at := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		n := &d.nodes[at.node]
		below := at.parent >= 0 && !n.drawn
		if !wanted[at.node] && !below {
			continue
		}
		bones = append(bones, joint{node: at.node, parent: at.parent})
		own := len(bones) - 1
		for i := len(n.children) - 1; i >= 0; i-- {
			stack = append(stack, step{n.children[i], own})
		}
	}
	return bones
}

// sample fills in the path of joint i.
func (s *skeleton) sample(d *Document, i int, time timing) {
	j := &s.joints[i]
	own := d.nodes[j.node].own
	var tracks [3]*track
	var at [3]func(seconds float64) [4]float64
	for p := range tracks {
		if tracks[p] = s.tracked[[2]int{j.node, p}]; tracks[p] != nil {
			var all bool
			j.jumps[p], all = tracks[p].jumpsOn(time)
			j.curved[p] = tracks[p].kind == gltf.InterpolationCubicSpline && all
			if at[p] = tracks[p].at; tracks[p].kind == gltf.InterpolationStep || len(j.jumps[p]) > 0 {
				at[p] = tracks[p].from
			}
		}
	}
	j.path = make([]transform, s.steps)
	for k := range j.path {
		to := &j.path[k]
		*to = own
		seconds := time.seconds(k)
		if at[moves] != nil {
			v := at[moves](seconds)
			to.move = vec3{v[0], v[1], v[2]}
		}
		if at[turns] != nil {
			to.turn = at[turns](seconds)
		}
		if at[scales] != nil {
			v := at[scales](seconds)
			to.scale = vec3{v[0], v[1], v[2]}
		}
		to.move = to.move.scaled(j.fold)
		for axis := range 3 {
			to.scale[axis] /= j.scaleAtRest[axis]
		}
		if k > 0 && to.turn.dot(j.path[k-1].turn) < 0 {
			to.turn = to.turn.times(-1)
		}
	}
	j.clip = j.path
}

// restScale is a node's scale over still clips, or else its own, or else, where that
// is nothing, the largest it has in a clip: a rig says scale in per cent of rest. tracks are
// those of the node's scale in so many clips.
func restScale(own vec3, tracks []*track, clips int) vec3 {
	if len(tracks) == 0 {
		return atLeastSomething(own)
	}
	first := tracks[0].key(0)
	rest := vec3{first[0], first[1], first[2]}
	largest := rest
	still := true
	see := func(v vec3) {
		for axis := range 3 {
			still = still && math.Abs(v[axis]-rest[axis]) <= 1e-4*math.Abs(rest[axis])
			if math.Abs(v[axis]) > math.Abs(largest[axis]) {
				largest[axis] = v[axis]
			}
		}
	}
	for _, t := range tracks {
		for k := range t.times {
			v := t.key(k)
			see(vec3{v[0], v[1], v[2]})
		}
	}
	if len(tracks) < clips {
		see(own) // the others leave the node as it is
	}
	if still {
		return atLeastSomething(rest)
	}
	for axis := range 3 {
		if math.Abs(own[axis]) < 1e-3*math.Abs(largest[axis]) {
			own[axis] = largest[axis]
		}
	}
	return atLeastSomething(own)
}

func atLeastSomething(v vec3) vec3 {
	for axis := range v {
		if math.Abs(v[axis]) < 1e-9 {
			v[axis] = 1
		}
	}
	return v
}

// evenPart is the middle one of three scales, for all axes.
func evenPart(v vec3) vec3 {
	middle := max(min(v[0], v[1]), min(max(v[0], v[1]), v[2]))
	return vec3{middle, middle, middle}
}

func nearlyEqual(v vec3) bool {
	return math.Abs(v[0]-v[1]) <= 1e-4*math.Abs(v[0]) && math.Abs(v[0]-v[2]) <= 1e-4*math.Abs(v[0])
}

// worldPlaces puts the place of every joint at one step, in centimetres, into out: the
// parent's transform times the joint's own, as glTF 2.0 composes nodes. It follows the
// file's own scales, not the folded ones, so that folding is checked by it too. scratch
// holds as many matrices as there are joints.
func (s *skeleton) worldPlaces(step int, out []vec3, scratch []matrix) {
	for i := range s.joints {
		j := &s.joints[i]
		at := j.path[step]
		var move vec3
		for axis := range 3 {
			move[axis] = at.move[axis] / j.fold[axis]
		}
		linear := at.turn.matrix().columnsScaled(at.scale.scaled(j.scaleAtRest))
		if j.parent < 0 {
			out[i], scratch[i] = move.times(100), linear
			continue
		}
		out[i] = out[j.parent].plus(scratch[j.parent].apply(move).times(100))
		scratch[i] = scratch[j.parent].times(linear)
	}
}

// worldPath is worldPlaces at every stride-th step.
func (s *skeleton) worldPath(stride int) [][]vec3 {
	scratch := make([]matrix, len(s.joints))
	all := make([]vec3, len(s.joints)*((s.steps-1)/stride+1))
	var out [][]vec3
	for step := 0; step < s.steps; step += stride {
		places := all[:len(s.joints):len(s.joints)]
		all = all[len(s.joints):]
		s.worldPlaces(step, places, scratch)
		out = append(out, places)
	}
	return out
}
