package motion

import (
	"math"
	"slices"
)

// Player works out one figure of a motion after the other in memory that it uses again, and keeps where each plant
// began. It belongs to one goroutine; several players of one motion can run at the same time.
type Player struct {
	motion *Motion
	figure Figure
	values []float64
	pose   []JointPose
	before []JointPose // in the figure before this one; empty in the first
	locals []Transform // of each joint in its parent's frame
	moved  []bool      // joints, lent to carryOn
	stands []plantedAt // of each plant, the last beginning that was asked for
}

// plantedAt is a planted goal's place in the world, or in the frame of the joint that carries it.
type plantedAt struct {
	known bool
	from  float64 // frames; when the plant began
	goal  Transform
}

// Player makes a player of a whole motion.
func (m *Motion) Player() *Player {
	p := &Player{motion: m, stands: make([]plantedAt, len(m.Plants))}
	angles := make([]float64, 2*len(m.Rig.Chains))
	p.figure.Short, p.figure.Bend = angles[:len(m.Rig.Chains)], angles[len(m.Rig.Chains):]
	return p
}

// Figure works out where every joint is at a time in frames, as [Motion.Figure] does. The answer is good until the next
// question.
func (p *Player) Figure(frames float64) *Figure {
	p.values = p.motion.Values(frames, p.values)
	return p.at(frames, p.values)
}

// Posed is the figure as the motion begins, with other values of the channels than its own: as many as the rig has, in
// its order. What is planted then stays where it is.
func (p *Player) Posed(values []float64) *Figure { return p.at(0, values) }

// at is the figure at a time with given values of the channels in place of the motion's own.
func (p *Player) at(frames float64, values []float64) *Figure {
	return p.solved(frames, values, len(p.motion.Rig.Chains))
}

// solved is the figure with only the first chains of the rig solved.
func (p *Player) solved(frames float64, values []float64, chains int) *Figure {
	m, f := p.motion, &p.figure
	p.pose, p.before = m.Rig.Pose(values, p.before), p.pose
	p.hang()
	for i := range chains {
		f.Short[i], f.Bend[i] = 0, math.NaN()
		if goal, ok := p.goalAt(i, frames, values); ok {
			f.Short[i], f.Bend[i] = p.solveChain(i, goal, m.swivel(i, values))
		}
	}
	return f
}

// goalAt is where a chain's end shall be, and how it is turned: its transform in the world. It is false where the chain
// is not solved at that moment. An unkeyed goal stands at its rest place, plus its goal channels; a planted one where it
// stood when the plant began, in the world or on the joint that carries it.
func (p *Player) goalAt(chain int, frames float64, values []float64) (Transform, bool) {
	m := p.motion
	for i := range m.Plants {
		plant := &m.Plants[i]
		if plant.Chain != chain {
			continue
		}
		from, ok := plant.active(frames, m.Sheet.Closed)
		if !ok {
			continue
		}
		goal := p.stood(i, from)
		if plant.On >= 0 {
			goal = p.figure.World[plant.On].times(&goal)
		}
		return goal, true
	}
	if !m.solved[chain] {
		return Transform{}, false
	}
	return m.freeGoal(&m.Rig.Chains[chain], func(i int) float64 { return values[i] }), true
}

// stood is where a plant's goal stood at a time at which the plant began.
func (p *Player) stood(plant int, from float64) Transform {
	kept := &p.stands[plant]
	if kept.known && kept.from == from {
		return kept.goal
	}
	m := p.motion
	chain := m.Plants[plant].Chain
	goal := m.freeGoal(&m.Rig.Chains[chain], func(i int) float64 { return m.Channels[i].At(from) })
	*kept = plantedAt{true, from, goal}
	if on := m.Plants[plant].On; on >= 0 {
		// What carries the goal counts as it stands when the goal is asked for: behind the chains before this one, so
		// that a hand stays on a thigh, and before the others, which may hang on this one.
		carried := m.Player().solved(from, m.Values(from, nil), chain).World
		back := carried[on].inverse()
		kept.goal = back.times(&kept.goal)
	}
	return kept.goal
}

// hang places all joints by their poses. Most joints keep theirs from one figure to the next, and turns are what takes
// the time, so only those that have changed are worked out anew.
func (p *Player) hang() {
	joints := p.motion.Rig.Joints
	if p.locals == nil {
		p.locals, p.figure.World = make([]Transform, len(joints)), make([]Transform, len(joints))
	}
	world := p.figure.World
	for i := range joints {
		if len(p.before) == 0 || p.pose[i] != p.before[i] {
			p.locals[i] = p.pose[i].Local(joints[i].Order)
		}
		if up := joints[i].Parent; up >= 0 {
			world[i] = world[up].times(&p.locals[i])
		} else {
			world[i] = p.locals[i]
		}
	}
}

// carryOn places everything anew that hangs on a chain whose own joints have been placed.
func (p *Player) carryOn(c *Chain) {
	joints, world := p.motion.Rig.Joints, p.figure.World
	p.moved = slices.Grow(p.moved[:0], len(joints))[:len(joints)]
	clear(p.moved)
	p.moved[c.Root], p.moved[c.Middle], p.moved[c.End] = true, true, true
	for i := c.Root + 1; i < len(joints); i++ {
		if up := joints[i].Parent; up >= 0 && p.moved[up] && !p.moved[i] {
			world[i] = world[up].times(&p.locals[i])
			p.moved[i] = true
		}
	}
}
