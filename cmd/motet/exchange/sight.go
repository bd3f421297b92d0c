package exchange

import (
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// A sight tells by how much each handle of a sheet would have to move for its joints to stand as a clip has them.
type sight struct {
	*footage
	motion *motion.Motion
	gears  *gears
	player *motion.Player
	values []float64
	poses  []motion.JointPose
	keyed  []bool // chains that are solved at all times
	rest   []quat // of the joints in the world
	pulls  map[planting]*plantPull
	before map[int]vec3 // how much farther each joint was seen turned at the moment before, so that no turn changes its branch
	blends [][]float64  // of each moment, how much more of each morph target there is, in per cent
	plain  []bool       // handles whose joint, or limb, was itself seen farther off than it may be
}

// A planting is one round of a plant, by the moment at which it begins.
type planting struct{ plant, from int }

// A plantPull gathers how far from its place a clip has what a sheet has planted: by where the limb's end is held against
// the sheet's goal, as long as the limb is bent, and by where the sheet has the end itself.
type plantPull struct {
	bent, any           vec3
	bentCount, anyCount float64
}

func newSight(f *footage, m *motion.Motion, g *gears) *sight {
	s := &sight{footage: f, motion: m, gears: g, player: m.Player(), keyed: make([]bool, len(m.Rig.Chains)), pulls: map[planting]*plantPull{}, plain: make([]bool, len(g.handles)), before: map[int]vec3{}, blends: f.weightNeeds(m)}
	for i := range m.Channels {
		for _, d := range m.Channels[i].Dial.Drives {
			if d.Joint < 0 && m.Channels[i].Moves() {
				s.keyed[m.Rig.ChainIndex(d.Goal)] = true
			}
		}
	}
	s.rest = make([]quat, len(m.Rig.Joints))
	for i := range m.Rig.Joints {
		s.rest[i] = restLocal(&m.Rig.Joints[i]).turn
		if up := m.Rig.Joints[i].Parent; up >= 0 {
			s.rest[i] = s.rest[up].after(s.rest[i])
		}
	}
	return s
}

// A hold says whether a chain is solved at a moment, and what holds it.
type hold struct {
	solved bool
	plant  int // -1 for none
	from   int // the moment at which the plant began
}

func (s *sight) hold(chain, k int) hold {
	for i := range s.motion.Plants {
		p := &s.motion.Plants[i]
		if p.Chain != chain || !p.Holds(s.at[k], s.closed) {
			continue
		}
		from := p.From
		if s.closed && p.Period() > 0 {
			from += p.Period() * math.Floor((s.at[k]-p.From)/p.Period())
		}
		return hold{true, i, s.index(from)}
	}
	return hold{s.keyed[chain], -1, -1}
}

// look gives what each handle needs at a moment; NaN where it doesn't matter.
func (s *sight) look(k int) []float64 {
	m := s.motion
	world := s.player.Figure(s.at[k]).World
	s.values = m.Values(s.at[k], s.values)
	s.poses = m.Rig.Pose(s.values, s.poses)
	holds := make([]hold, len(m.Rig.Chains))
	solved, end := map[int]bool{}, map[int]int{}
	for i := range holds {
		if holds[i] = s.hold(i, k); holds[i].solved {
			c := &m.Rig.Chains[i]
			solved[c.Root], solved[c.Middle], end[c.End] = true, true, i
			s.pull(k, holds[i], world)
		}
	}
	turned, farTurned := map[int]vec3{}, map[int]bool{}
	need := make([]float64, len(s.gears.handles))
	for n, h := range s.gears.handles {
		switch h.kind {
		case motion.DrivesMove:
			need[n] = s.own[k][h.joint].move[h.axis] - s.poses[h.joint].Move[h.axis]
			s.plain[n] = s.plain[n] || s.own[k][h.joint].move.to(vec3(s.poses[h.joint].Move)) > s.gears.within.MoveCM
		case motion.DrivesScale:
			need[n] = 100 * (s.own[k][h.joint].scale[h.axis] - s.poses[h.joint].Scale[h.axis])
			s.plain[n] = s.plain[n] || math.Abs(need[n]) > s.gears.within.ScalePercent
		case motion.DrivesTurn:
			if solved[h.joint] {
				need[n] = unknown()
				continue
			}
			more, done := turned[h.joint]
			if !done {
				turn := s.own[k][h.joint].turn
				if chain, ok := end[h.joint]; ok {
					turn = s.endTurn(k, chain, holds[chain])
				}
				have := vec3(s.poses[h.joint].Turn)
				more = orderOf(&m.Rig.Joints[h.joint]).nearest(turn, have.plus(s.before[h.joint])).minus(have)
				turned[h.joint], s.before[h.joint] = more, more
				if orderOf(&m.Rig.Joints[h.joint]).quat(have).angleTo(turn) > s.gears.within.TurnDeg {
					farTurned[h.joint] = true
				}
			}
			need[n] = more[h.axis]
			s.plain[n] = s.plain[n] || farTurned[h.joint]
		case motion.DrivesGoal:
			need[n], s.plain[n] = unknown(), true
			if holds[h.chain].solved && holds[h.chain].plant < 0 {
				need[n] = s.goalNeed(k, h, world)
			}
		case motion.DrivesSwivel:
			need[n], s.plain[n] = unknown(), true
			if holds[h.chain].solved {
				need[n] = s.swivelNeed(k, h.chain, world)
			}
		case drivesWeight:
			need[n] = s.blends[k][h.axis]
			s.plain[n] = s.plain[n] || math.Abs(need[n]) > s.gears.within.WeightPercent
		}
	}
	return need
}

// endTurn is a chain's end joint's own turn in the clip, as the sheet counts it: from how its goal is turned.
func (s *sight) endTurn(k, chain int, h hold) quat {
	end := s.motion.Rig.Chains[chain].End
	goal := s.rest[end]
	if h.plant >= 0 {
		if on := s.motion.Plants[h.plant].On; on >= 0 {
			goal = s.turn[k][on].after(s.turn[h.from][on].inverse()).after(goal)
		}
	}
	rest := restLocal(&s.motion.Rig.Joints[end]).turn
	return rest.after(goal.inverse()).after(s.turn[k][end])
}

// goalNeed is how far from a chain's goal the clip has its end. A goal that the limb does not reach needs to move only
// where the end does.
func (s *sight) goalNeed(k int, h handle, world []motion.Transform) float64 {
	rig := s.motion.Rig
	c := &rig.Chains[h.chain]
	there, here := s.place[k][c.End], vec3(world[c.End].Position())
	if there.to(here) < leastAllowance {
		return 0
	}
	return there[h.axis] - s.goalPlace(h, s.values)
}

// goalPlace is where the channels' values put a chain's goal on one axis.
func (s *sight) goalPlace(h handle, values []float64) float64 {
	rig := s.motion.Rig
	c := &rig.Chains[h.chain]
	goal := s.restPlace(c.End)[h.axis]
	for i := range rig.Channels {
		for _, d := range rig.Channels[i].Drives {
			if d.Kind == motion.DrivesGoal && d.Goal == c.Goal && d.Axes[h.axis] {
				goal += d.Gain * (values[i] - rig.Channels[i].Rest)
			}
		}
	}
	return goal
}

// restPlace is where a joint stands in the world at rest.
func (s *sight) restPlace(joint int) vec3 {
	j := &s.motion.Rig.Joints[joint]
	if j.Parent < 0 {
		return vec3(j.Rest)
	}
	return s.restPlace(j.Parent).plus(s.rest[j.Parent].turn(vec3(j.Rest)))
}

// straightLimb is the sine of the angle at a limb's root below which the limb is so straight that its swivel can't be
// told.
const straightLimb = 0.1

// swivelNeed is how much farther a limb's middle is turned about the line from its root to its end.
func (s *sight) swivelNeed(k, chain int, world []motion.Transform) float64 {
	rig := s.motion.Rig
	c := &rig.Chains[chain]
	clip, ok := swivelOf(s.place[k][c.Root], s.place[k][c.Middle], s.place[k][c.End], s.bends(c, s.linear[k]))
	sheetAxes := matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	if up := rig.Joints[c.Root].Parent; up >= 0 {
		sheetAxes = linearOf(&world[up])
	}
	sheet, sheetOK := swivelOf(vec3(world[c.Root].Position()), vec3(world[c.Middle].Position()), vec3(world[c.End].Position()), sheetAxes.apply(vec3(c.Bends)))
	if !ok || !sheetOK {
		return unknown()
	}
	return math.Remainder(clip-sheet, 360)
}

func (s *sight) bends(c *motion.Chain, linear []matrix) vec3 {
	if up := s.motion.Rig.Joints[c.Root].Parent; up >= 0 {
		return linear[up].apply(vec3(c.Bends))
	}
	return vec3(c.Bends)
}

// swivelOf is by how many degrees a limb's middle is turned about the line from root to end from where it bends by
// itself; false for a limb that is straight.
func swivelOf(root, middle, end, bends vec3) (float64, bool) {
	line := end.minus(root)
	if line.length() < 1e-9 {
		return 0, false
	}
	line = line.times(1 / line.length())
	across := func(v vec3) vec3 { return v.minus(line.times(v.dot(line))) }
	upper := middle.minus(root)
	knee, zero := across(upper), across(bends)
	if knee.length() < straightLimb*upper.length() || zero.length() < straightLimb*bends.length() {
		return 0, false
	}
	return math.Atan2(line.dot(zero.cross(knee)), zero.dot(knee)) * degrees, true
}

// fullStretch is the share of its bones' lengths from which a limb counts as straight.
const fullStretch = 0.9995

// pull notes how far from where a sheet holds it a clip has the end of a planted chain, seen from where the plant began.
func (s *sight) pull(k int, h hold, world []motion.Transform) {
	if h.plant < 0 {
		return
	}
	p := &s.motion.Plants[h.plant]
	c := &s.motion.Rig.Chains[p.Chain]
	key := planting{h.plant, h.from}
	pull := s.pulls[key]
	if pull == nil {
		pull = &plantPull{}
		s.pulls[key] = pull
	}
	there, off := s.place[k][p.Joint], s.place[k][p.Joint].minus(vec3(world[p.Joint].Position()))
	if p.On >= 0 {
		carried := s.linear[h.from][p.On].times(s.linear[k][p.On].inverse())
		there = s.place[h.from][p.On].plus(carried.apply(there.minus(s.place[k][p.On])))
		off = carried.apply(off)
	}
	pull.any, pull.anyCount = pull.any.plus(off), pull.anyCount+1
	// A limb at full stretch does not tell where its goal is.
	upper, lower := s.place[k][c.Root].to(s.place[k][c.Middle]), s.place[k][c.Middle].to(s.place[k][c.End])
	if s.place[k][c.Root].to(s.place[k][c.End]) < fullStretch*(upper+lower) {
		pull.bent, pull.bentCount = pull.bent.plus(there), pull.bentCount+1
	}
}

// planted sets the goals at the moments at which plants begin: what stays where it is then moves by what the clip has it
// moved on the whole.
func (s *sight) planted(need [][]float64) {
	for key, pull := range s.pulls {
		chain := s.motion.Plants[key.plant].Chain
		values := s.motion.Values(s.at[key.from], nil)
		for n, h := range s.gears.handles {
			if h.kind != motion.DrivesGoal || h.chain != chain {
				continue
			}
			need[key.from][n] = pull.any[h.axis] / pull.anyCount
			if pull.bentCount > 0 {
				need[key.from][n] = pull.bent[h.axis]/pull.bentCount - s.goalPlace(h, values)
			}
		}
	}
}
