package exchange

import (
	"fmt"
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// A footage is a clip as the joints of a rig see it, at moments of a sheet.
type footage struct {
	rig *motion.Rig
	// at are the moments in frames of the sheet, evenly apart: those at which the clip has its keys where it was baked,
	// and the sheet's own frames otherwise. A cycle's end, its start again, is left out.
	at     []float64
	step   float64 // frames from one moment to the next
	even   bool    // the last moment lies a step before the end, or on it in a span: the length is a whole number of steps
	closed bool
	length float64 // frames
	// own are the joints' own transforms at each moment, in the rig's centimetres, and after those at a cycle's end.
	own, end [][]transform
	// place and linear are where they stand in the world, and their axes; turn is their turn there without scale.
	place  [][]vec3
	linear [][]matrix
	turn   [][]quat
	// targets are the morph targets of the rig that the file has.
	targets []seenTarget
	notes   []string
}

// filmed reads a clip for a sheet of its length. Every joint of the rig must be a node of the file.
func (d *Document) filmed(clip *Clip, m *motion.Motion) (*footage, error) {
	known := modelOf(m.Rig)
	sheetRate := m.Sheet.Rate.Float()
	length := m.Sheet.Length.Float()
	f := &footage{rig: m.Rig, closed: m.Sheet.Closed, length: length}
	time, err := f.timeOf(clip, Rate{m.Sheet.Rate.Num(), m.Sheet.Rate.Den()})
	if err != nil {
		return nil, err
	}
	f.step = sheetRate / time.rate.perSecond()
	s, err := skeletonOf(d, clip, time)
	if err != nil {
		return nil, err
	}
	joints := make([]int, len(known))
	nodes := make([]int, len(known))
	for i := range known {
		if nodes[i], err = findNode(&known[i], d.nodes); err != nil {
			return nil, err
		}
		if nodes[i] < 0 {
			return nil, fmt.Errorf("the file has no node %q, which is the joint `%s` of the rig `%s`; export the whole character, or import the clip on its own", known[i].name, m.Rig.Joints[i].Name, m.Rig.Name)
		}
		joints[i] = s.byNode[nodes[i]]
	}
	for k := range time.frames + 1 {
		if k == time.frames && f.closed && f.even {
			f.end = append(f.end, f.ownAt(d, s, known, nodes, joints, k))
			break
		}
		f.at = append(f.at, float64(k)*f.step+behindFrame)
		f.own = append(f.own, f.ownAt(d, s, known, nodes, joints, k))
	}
	f.stand()
	return f, f.seeTargets(d, clip, m.Rig, time)
}

// timeOf chooses the moments at which the clip is read. A cycle's clip may lack its closing frame.
func (f *footage) timeOf(clip *Clip, rate Rate) (timing, error) {
	if !clip.movesSomething() {
		return timing{}, fmt.Errorf("the clip moves no node; choose another")
	}
	seconds, sheetRate := f.length/rate.perSecond(), rate
	if own := ownFrames(clip); own != (Rate{}) {
		rate = own
	}
	frames := seconds * rate.perSecond()
	f.even = math.Abs(frames-math.Round(frames)) < nearFrame
	t := timing{rate: rate, frames: max(1, int(math.Floor(frames+nearFrame))), frame: 1 / rate.perSecond(), stretch: 1}
	t.start = clip.Start + behindFrame*seconds/f.length
	lacks := seconds - clip.Seconds()
	switch {
	case math.Abs(lacks) <= t.frame/20:
	case f.closed && math.Abs(lacks-t.frame) <= t.frame/20:
		f.notes = append(f.notes, "the clip lacks its closing frame, which is the sheet's start again")
	default:
		return t, fmt.Errorf("it lasts %s s and the sheet %s (%s frames at %s fps); change the sheet's length or tempo first, or import the clip on its own", number(clip.Seconds(), 3), number(seconds, 3), number(f.length, 3), number(sheetRate.perSecond(), 3))
	}
	return t, nil
}

// ownAt are the joints' own transforms at a moment. A node that nothing moves keeps the file's own.
func (f *footage) ownAt(d *Document, s *skeleton, known model, nodes, joints []int, k int) []transform {
	out := make([]transform, len(joints))
	for i, joint := range joints {
		if joint >= 0 {
			out[i] = s.joints[joint].path[k*stepsPerFrame]
			continue
		}
		own := d.nodes[nodes[i]].own
		out[i] = transform{move: own.move.scaled(known[i].fold), turn: own.turn, scale: vec3{1, 1, 1}}
	}
	return out
}

// stand places the joints in the world.
func (f *footage) stand() {
	joints := f.rig.Joints
	for _, own := range f.own {
		place, linear, turn := make([]vec3, len(joints)), make([]matrix, len(joints)), make([]quat, len(joints))
		for i := range joints {
			axes := own[i].turn.matrix().columnsScaled(own[i].scale)
			up := joints[i].Parent
			if up < 0 {
				place[i], linear[i], turn[i] = own[i].move, axes, own[i].turn
				continue
			}
			place[i] = place[up].plus(linear[up].apply(own[i].move))
			linear[i] = linear[up].times(axes)
			turn[i] = turn[up].after(own[i].turn)
		}
		f.place, f.linear, f.turn = append(f.place, place), append(f.linear, linear), append(f.turn, turn)
	}
}

// index is the moment nearest to a time in frames of the sheet.
func (f *footage) index(frames float64) int {
	k := int(math.Round(frames / f.step))
	n := len(f.at)
	if f.closed {
		return ((k % n) + n) % n
	}
	return max(0, min(n-1, k))
}

// A distance is how far a sheet is from a clip at worst: the places of joints in the world, their own turns, and where.
type distance struct {
	cm, deg           float64
	cmJoint, degJoint string
	cmAt, degAt       float64 // frames
	// percent is of the weight of a morph target, by its word in the rig.
	percent, percentAt float64
	target             string
}

// apart is how far a sheet is from the clip at its moments.
func (f *footage) apart(m *motion.Motion) (out distance) {
	player := m.Player()
	var values []float64
	var poses []motion.JointPose
	solved := solvedJoints(m)
	for k, at := range f.at {
		world := player.Figure(at).World
		values = m.Values(at, values)
		poses = m.Rig.Pose(values, poses)
		for i := range m.Rig.Joints {
			if off := f.place[k][i].to(vec3(world[i].Position())); off > out.cm {
				out.cm, out.cmJoint, out.cmAt = off, m.Rig.Joints[i].Name, at
			}
			if solved[i] {
				continue
			}
			turn := orderOf(&m.Rig.Joints[i]).quat(vec3(poses[i].Turn))
			if off := turn.angleTo(f.own[k][i].turn); off > out.deg {
				out.deg, out.degJoint, out.degAt = off, m.Rig.Joints[i].Name, at
			}
		}
	}
	f.weightsApart(m, &out)
	return out
}

// solvedJoints are those that chains turn and what hangs on them, whose own turns the channels do not tell.
func solvedJoints(m *motion.Motion) []bool {
	out := make([]bool, len(m.Rig.Joints))
	for i := range m.Rig.Chains {
		if solvesChain(m, i) {
			out[m.Rig.Chains[i].Root] = true
		}
	}
	for i := range out {
		up := m.Rig.Joints[i].Parent
		out[i] = out[i] || up >= 0 && out[up]
	}
	return out
}
