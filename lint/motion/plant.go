package motion

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// plantPart is a row of a `plant` as it is written.
type plantPart struct {
	repeat
	goal     string
	from, to grammar.Time
	on       string // a joint; empty for the world
	at       grammar.Ref
}

// Plant is a stretch of time in which a goal stays where it is, in the world or on a joint.
type Plant struct {
	Goal  string
	Joint int     // that stays; the end of the chain where there is one
	Chain int     // index into Rig.Chains; -1 where the joint has none, and the plant is checked but not solved
	From  float64 // frames; may lie in the last round
	To    float64 // frames, behind From
	On    int     // joint that carries it, -1 for the world
	At    grammar.Ref

	period float64 // frames after which it comes again
}

// plants reads the sheet's own plants. A goal that they name loses what it inherited.
func (r *resolver) plants() {
	if r.Motion.Rig == nil {
		return
	}
	own := map[string]bool{}
	for _, b := range r.blocks {
		if b.Kind != grammar.PlantBlock {
			continue
		}
		for i, stmt := range b.Entries() {
			entry := stmt.(*grammar.PlantEntry)
			part := &plantPart{repeat: repeat{period: r.Sheet.Length}, goal: entry.Goal.Key(), at: b.RefLine(i)}
			part.from, part.to, _ = entry.When.Times()
			if r.plantTarget(part.goal) < 0 {
				if r.Motion.Rig.goals[part.goal] || r.unread(grammar.ChainsBlock, part.goal) || r.unread(grammar.JointsBlock, part.goal) {
					continue
				}
				r.unknown(b.Ref(i, entry.Goal.Where()), part.goal, r.plantNames(), "the rig `%s` has no chain with the goal `%s` and no joint of that name%s", r.Motion.Rig.Name, part.goal, r.goalsThere(part.goal))
				continue
			}
			if entry.On != nil {
				part.on = entry.On.Key()
				if r.Motion.Rig.JointIndex(part.on) < 0 && r.unread(grammar.JointsBlock, part.on) {
					continue
				}
				if r.Motion.Rig.JointIndex(part.on) < 0 {
					r.unknown(b.Ref(i, entry.On.Where()), part.on, r.jointNames(), "the rig `%s` has no joint `%s`", r.Motion.Rig.Name, part.on)
					continue
				}
			}
			if !r.plantTimes(part, b.Ref(i, entry.When.Where())) {
				continue
			}
			if !own[part.goal] {
				r.material.dropPlants(part.goal)
				own[part.goal] = true
			}
			r.material.plants = append(r.material.plants, part)
		}
	}
}

func (m *material) dropPlants(goal string) {
	var kept []*plantPart
	for _, p := range m.plants {
		if p.goal != goal {
			kept = append(kept, p)
		}
	}
	m.plants = kept
}

// plantTimes checks that a plant ends behind its start, and within one round of it. In a cycle it may cross the seam.
func (r *resolver) plantTimes(part *plantPart, at grammar.Ref) bool {
	from, to, length := r.frames(part.from), r.frames(part.to), r.Sheet.Length
	switch {
	case !from.OK() || !to.OK():
		r.add(ruleOutside, at, "the times have too many digits to be kept exactly; use rounder ones")
	case to.Cmp(from) <= 0:
		r.add(ruleOutside, at, "the plant ends at frame %s, but begins at frame %s; let it end later", to, from)
	case length.Sign() <= 0:
	case to.Sub(from).Cmp(length) > 0:
		r.add(ruleOutside, at, "the plant lasts %s frames, but the whole length is %s; shorten it", to.Sub(from), length)
	case from.Sign() < 0 || from.Cmp(length) > 0 || !r.Sheet.Closed && to.Cmp(length) > 0:
		r.add(ruleOutside, at, "the plant runs from frame %s to %s, outside the length of %s frames", from, to, length)
	default:
		return true
	}
	return false
}

// plantTarget is the joint that a goal keeps in its place, -1 where there is no such chain or joint.
func (r *resolver) plantTarget(goal string) int {
	if i := r.Motion.Rig.ChainIndex(goal); i >= 0 {
		return r.Motion.Rig.Chains[i].End
	}
	return r.Motion.Rig.JointIndex(goal)
}

// ChainIndex finds a chain by its goal, -1 where there is none.
func (r *Rig) ChainIndex(goal string) int {
	for i := range r.Chains {
		if r.Chains[i].Goal == goal {
			return i
		}
	}
	return -1
}

func (r *resolver) jointNames() []string {
	names := make([]string, len(r.Motion.Rig.Joints))
	for i := range r.Motion.Rig.Joints {
		names[i] = r.Motion.Rig.Joints[i].Name
	}
	return names
}

func (r *resolver) plantNames() []string {
	names := r.jointNames()
	for i := range r.Motion.Rig.Chains {
		names = append(names, r.Motion.Rig.Chains[i].Goal)
	}
	return names
}

// goalsThere lists what can be planted, for a name that is near none of them.
func (r *resolver) goalsThere(name string) string {
	var goals []string
	for i := range r.Motion.Rig.Chains {
		goals = append(goals, r.Motion.Rig.Chains[i].Goal)
	}
	switch {
	case grammar.Nearest(name, r.plantNames()) != "":
		return ""
	case goals == nil:
		return "; it has no chains, so name a joint"
	}
	return "; its goals are " + strings.Join(goals, " ")
}

// weavePlants works out when goals stay, and which chains are solved at all times because their goal is keyed.
func (r *resolver) weavePlants() {
	rig := r.Motion.Rig
	for _, p := range r.material.plants {
		joint := r.plantTarget(p.goal)
		if joint < 0 {
			continue // the rig of a variant lacks it; its channels are reported
		}
		plant := Plant{
			Goal: p.goal, Joint: joint, Chain: rig.ChainIndex(p.goal), On: -1, At: p.at,
			From: r.frames(p.from).Float(), To: r.frames(p.to).Float(), period: p.period.Float(),
		}
		if p.on != "" {
			plant.On = rig.JointIndex(p.on)
		}
		r.Plants = append(r.Plants, plant)
	}
	r.solved = make([]bool, len(rig.Chains))
	for i := range r.Channels {
		for _, d := range r.Channels[i].Dial.Drives {
			if d.Joint < 0 && r.Channels[i].Moves() {
				r.solved[rig.ChainIndex(d.Goal)] = true
			}
		}
	}
	r.restEnds = rig.RestWorld()
}

// Holds tells whether the plant holds at a time in frames, in any round of a cycle.
func (p *Plant) Holds(frames float64, closed bool) bool {
	_, ok := p.active(frames, closed)
	return ok
}

// Period is the time in frames after which the plant comes again: the sheet's length, or that of the base which a longer
// variant repeats.
func (p *Plant) Period() float64 { return p.period }

// active gives the time at which a plant that holds at a time began, and false where it does not hold then.
func (p *Plant) active(t float64, closed bool) (from float64, ok bool) {
	if !closed {
		return p.From, p.From <= t && t <= p.To
	}
	rounds := 0.0
	if p.period > 0 {
		for p.From+rounds*p.period > t {
			rounds--
		}
		for p.From+(rounds+1)*p.period <= t {
			rounds++
		}
	}
	from = p.From + rounds*p.period
	return from, t <= from+(p.To-p.From)
}

// Solves tells whether any chain is solved at any time: its goal is keyed, or a plant holds it. Where none is, no limb can
// stay short of its goal.
func (m *Motion) Solves() bool {
	return slices.Contains(m.solved, true) || slices.ContainsFunc(m.Plants, func(p Plant) bool { return p.Chain >= 0 })
}
