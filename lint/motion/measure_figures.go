package motion

import "slices"

// figures are where joints are at each sample.
type figures struct {
	places [][]float64 // by joint, axis by axis, cm; nil for a joint that nobody has asked for
	shorts []float64   // chain by chain, cm
	bends  []float64   // chain by chain, degrees
	gained []float64   // what each joint's places gain every round, cm; nil where nothing advances
	whole  bool        // all joints are there
}

// See works out where some joints are, all in one go. It need not be called, but is less work than one joint after the
// other.
func (s *Sampled) See(joints ...int) {
	if f := s.figures.Load(); !f.has(joints) {
		s.make(joints)
	}
}

// seen gives the figures with one joint at least.
func (s *Sampled) seen(joint int) *figures {
	if f := s.figures.Load(); f != nil && f.places[joint] != nil {
		return f
	}
	return s.make([]int{joint})
}

// seenAll gives the figures with all joints.
func (s *Sampled) seenAll() *figures {
	if f := s.figures.Load(); f != nil && f.whole {
		return f
	}
	return s.make(nil)
}

func (f *figures) has(joints []int) bool {
	for _, joint := range joints {
		if f == nil || f.places[joint] == nil {
			return false
		}
	}
	return true
}

// make works out where some joints are, or all where none are named.
func (s *Sampled) make(joints []int) *figures {
	s.making.Lock()
	defer s.making.Unlock()
	before := s.figures.Load()
	if before != nil && (before.whole || joints != nil && before.has(joints)) {
		return before // somebody else was quicker
	}
	f := s.newFigures()
	f.whole = joints == nil || !s.hangs()
	if s.hangs() {
		s.hangJoints(f, s.withParents(joints), nil)
	} else {
		s.play(f, nil)
	}
	if before != nil {
		for joint, places := range before.places {
			if f.places[joint] == nil {
				f.places[joint] = places
			}
		}
	}
	s.figures.Store(f)
	return f
}

// makeAgain takes over an earlier sample's joints where no channel has another value: all of a joint that no changed channel
// moves, and of the others what stands at the samples that are the same.
func (s *Sampled) makeAgain(earlier *figures, c changes) {
	f := s.newFigures()
	f.whole = earlier.whole
	hangs, moved := s.hangs(), s.movedBy(c.channels)
	var joints []int
	for joint, places := range earlier.places {
		switch {
		case places == nil:
		case hangs && !moved[joint]:
			f.places[joint] = places
		default:
			joints = append(joints, joint)
			f.places[joint] = slices.Clone(places)
		}
	}
	switch {
	case !hangs:
		copy(f.shorts, earlier.shorts)
		copy(f.bends, earlier.bends)
		s.play(f, c.samples)
	case len(joints) > 0:
		// Those that carry them are worked out once more, but not written over: others look at them.
		fresh := s.newFigures()
		for _, joint := range joints {
			fresh.places[joint] = f.places[joint]
		}
		s.hangJoints(fresh, s.withParents(joints), c.samples)
	}
	s.figures.Store(f)
}

// movedBy tells which joints some channels move, with all that hangs on them.
func (s *Sampled) movedBy(channels []int) []bool {
	rig := s.Motion.Rig
	moved := make([]bool, len(rig.Joints))
	for _, i := range channels {
		for _, d := range rig.Channels[i].Drives {
			if d.Joint >= 0 {
				moved[d.Joint] = true
			}
		}
	}
	for joint := range moved {
		if up := rig.Joints[joint].Parent; up >= 0 && moved[up] {
			moved[joint] = true
		}
	}
	return moved
}

func (s *Sampled) newFigures() *figures {
	rig := s.Motion.Rig
	limbs := make([]float64, 2*len(rig.Chains)*s.Count)
	return &figures{
		places: make([][]float64, len(rig.Joints)),
		shorts: limbs[:len(limbs)/2], bends: limbs[len(limbs)/2:],
	}
}

// hangs tells whether every joint simply hangs on its parent: no chain is solved, ever, and nothing advances.
func (s *Sampled) hangs() bool {
	m := s.Motion
	if len(m.Plants) > 0 || len(m.Sheet.Advance) > 0 {
		return false
	}
	for _, solved := range m.solved {
		if solved {
			return false
		}
	}
	return true
}

// withParents marks joints and all that carry them; nil stands for all joints.
func (s *Sampled) withParents(joints []int) []bool {
	rig := s.Motion.Rig
	marked := make([]bool, len(rig.Joints))
	for _, joint := range joints {
		for ; joint >= 0 && !marked[joint]; joint = rig.Joints[joint].Parent {
			marked[joint] = true
		}
	}
	if joints == nil {
		for joint := range marked {
			marked[joint] = true
		}
	}
	return marked
}

// play works out the whole figure at some samples, chains and all; nil is all samples.
func (s *Sampled) play(f *figures, wanted []bool) {
	m := s.Motion
	player := m.Player()
	values := make([]float64, len(m.Channels))
	s.makeRoom(f, s.withParents(nil))
	for k := range s.Count {
		if wanted != nil && !wanted[k] {
			continue
		}
		for i := range values {
			values[i] = s.values[i][k]
		}
		figure := player.at(s.Time(k), values)
		for i := range figure.Short {
			f.shorts[i*s.Count+k], f.bends[i*s.Count+k] = figure.Short[i], figure.Bend[i]
		}
		for i := range figure.World {
			for axis := range 3 {
				f.places[i][axis*s.Count+k] = figure.World[i][9+axis]
			}
		}
	}
	if s.Closed && len(m.Sheet.Advance) > 0 {
		f.gained = make([]float64, 3*len(m.Rig.Joints))
		world := player.Figure(m.Sheet.Length.Float()).World
		for i := range f.gained {
			f.gained[i] = world[i/3][9+i%3] - f.places[i/3][i%3*s.Count]
		}
	}
}

// makeRoom makes room for the joints that have none.
func (s *Sampled) makeRoom(f *figures, joints []bool) {
	lacks := 0
	for joint, wanted := range joints {
		if wanted && f.places[joint] == nil {
			lacks++
		}
	}
	room := make([]float64, 3*s.Count*lacks)
	for joint, wanted := range joints {
		if wanted && f.places[joint] == nil {
			f.places[joint], room = room[:3*s.Count:3*s.Count], room[3*s.Count:]
		}
	}
}

// hung is a joint that hangs on its parent, and what moves it.
type hung struct {
	joint, parent int
	carries       bool      // another one that is wanted and that moves by itself, or carries one that does
	anchor        int       // index of what moves it: itself, or the next above; -1 for none
	fixed         Transform // its place in the anchor's frame
	order         Order
	rest          JointPose
	drives        []drivenBy // none where all of them keep still, whose pose stays
	pose          [1]JointPose
	local, world  Transform
}

type drivenBy struct {
	drive  Drive // of joint 0
	values []float64
	rest   float64
}

// hangJoints works out where joints are that only hang on their parents, at some samples; nil is all of them. It gives what
// a [Player] does, bit for bit, without the turns that nobody sees: those of joints that carry nothing that is wanted.
func (s *Sampled) hangJoints(f *figures, wanted []bool, samples []bool) {
	s.makeRoom(f, wanted)
	joints := s.hung(wanted)
	for k := range s.Count {
		if samples != nil && !samples[k] {
			continue
		}
		for i := range joints {
			h := &joints[i]
			h.hang(joints, k)
			places := f.places[h.joint]
			places[k], places[s.Count+k], places[2*s.Count+k] = h.world[9], h.world[10], h.world[11]
		}
	}
}

// hung gives the wanted joints, parents first, with their parents' places in the list.
func (s *Sampled) hung(wanted []bool) []hung {
	rig := s.Motion.Rig
	list := make([]hung, 0, len(rig.Joints))
	at := make([]int, len(rig.Joints))
	for joint := range rig.Joints {
		if !wanted[joint] {
			continue
		}
		j := &rig.Joints[joint]
		h := hung{joint: joint, parent: -1, order: j.Order, rest: JointPose{j.Rest, j.RestTurn, [3]float64{1, 1, 1}}}
		h.pose = [1]JointPose{h.rest}
		if j.Parent >= 0 {
			h.parent = at[j.Parent]
		}
		at[joint] = len(list)
		list = append(list, h)
	}
	moves := make([]bool, len(list))
	for i := range rig.Channels {
		for _, d := range rig.Channels[i].Drives {
			if d.Joint >= 0 && wanted[d.Joint] && !s.still(i) {
				moves[at[d.Joint]] = true
			}
		}
	}
	for i := range rig.Channels {
		dial, values := &rig.Channels[i], s.values[i]
		for _, d := range dial.Drives {
			if d.Joint < 0 || !wanted[d.Joint] {
				continue
			}
			index := at[d.Joint]
			h := &list[index]
			d.Joint = 0
			if moves[index] {
				h.drives = append(h.drives, drivenBy{d, values, dial.Rest})
			} else {
				d.apply(h.pose[:], values[0], dial.Rest)
			}
		}
	}
	for i := range list {
		h := &list[i]
		h.local = h.pose[0].Local(h.order)
		switch {
		case len(h.drives) > 0:
			h.anchor, h.fixed = i, identity
		case h.parent < 0:
			h.anchor, h.fixed = -1, h.local
		default:
			up := &list[h.parent]
			h.anchor, h.fixed = up.anchor, up.fixed.times(&h.local)
		}
	}
	for i := len(list) - 1; i >= 0; i-- {
		if h := &list[i]; h.parent >= 0 && (h.carries || len(h.drives) > 0) {
			list[h.parent].carries = true
		}
	}
	for i := range list {
		// What keeps still on something that moves takes its turn from there, as does what has no anchor at all.
		if h := &list[i]; h.anchor >= 0 && h.anchor != i {
			list[h.anchor].carries = true
		} else if h.anchor < 0 {
			h.world = h.fixed
		}
	}
	return list
}

// hang places a joint at sample k, behind its parent. What keeps still on something that moves, with all that it carries, is
// placed from there in one step.
func (h *hung) hang(list []hung, k int) {
	if len(h.drives) > 0 {
		pose := [1]JointPose{h.rest}
		for i := range h.drives {
			d := &h.drives[i]
			d.drive.apply(pose[:], d.values[k], d.rest)
		}
		switch {
		case pose == h.pose:
		case h.carries:
			h.pose, h.local = pose, pose[0].Local(h.order)
		default:
			h.pose = pose
			copy(h.local[9:], pose[0].Move[:])
		}
	}
	switch {
	case h.anchor < 0:
	case len(h.drives) == 0 && !h.carries:
		at := list[h.anchor].world.Apply(h.fixed.Position())
		copy(h.world[9:], at[:])
	case h.parent < 0:
		h.world = h.local
	case h.carries:
		h.world = list[h.parent].world.times(&h.local)
	default:
		at := list[h.parent].world.Apply(h.local.Position())
		copy(h.world[9:], at[:])
	}
}
