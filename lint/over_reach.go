package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func overReach() *Rule {
	return &Rule{
		Name: "over-reach", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0.1, Unit: "cm"}},
		Doc: Doc{
			Reports: "A limb that cannot reach its goal: the foot or the hand comes away from where it is planted.",
			Why:     "Limbs do not stretch, so the foot is pulled along, and the leg stands as stiff as a post while it lasts.",
			Decides: "On every frame, and between frames where a limb is nearly straight, by how much the end of each solved chain stays short of its goal. The limit is a millimetre (common practice). A goal that is nearer to the limb's root than its two bones can fold counts too. One report a chain names the worst moment.",
			Allow:   "When the goal is meant as a direction, a hand that reaches for what it cannot get.",
			Bad:     "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      1\n  2b      -4\n\nplant\n  foot.left 0b..4b\n",
			Good:    "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      -1\n  2b      -4\n\nplant\n  foot.left 0b..4b\n",
		},
		Check: checkOverReach,
	}
}

// reach is the moment at which a chain's end stays farthest from its goal.
type reach struct {
	short, frame float64 // cm, frames
	bend         float64 // degrees of the middle joint then
}

func checkOverReach(p *Pass) {
	if !p.certain() || len(p.Motion.Rig.Chains) == 0 {
		return
	}
	for chain, r := range p.reaches() {
		if r.short <= p.Limit("cm") {
			continue
		}
		what := "its limb straight; lower what carries the limb, or move the goal nearer"
		if r.bend > 90 {
			what = "its limb folded up; move the goal away from the limb's root"
		}
		at := grammar.NewRat(int64(r.frame*4), 4)
		p.Report(p.goalAt(chain, r.frame), "%s stays %s cm short of its goal at %s, %s", p.Motion.Rig.Chains[chain].Goal, number(rounded(r.short, 2)), moment(p.Motion.Sheet, at), what)
	}
}

// reaches gives each chain's worst moment. It is looked for on every frame, and between frames four times as closely where
// a limb comes near to being straight or folded up, which is where it may run out of reach.
func (p *Pass) reaches() []reach {
	worst := make([]reach, len(p.Motion.Rig.Chains))
	player := p.Motion.Player()
	look := func(frame float64) (near bool) {
		figure := player.Figure(frame)
		for chain, short := range figure.Short {
			bend := figure.Bend[chain]
			near = near || short > 0 || bend < nearlyStraight || bend > 180-nearlyStraight
			if short > worst[chain].short {
				worst[chain] = reach{short, frame, bend}
			}
		}
		return near
	}
	before := look(0)
	for frame := 1.0; frame-1 < p.Motion.Sheet.Length.Float(); frame++ {
		near := look(min(frame, p.Motion.Sheet.Length.Float()))
		if near || before {
			for _, quarter := range []float64{0.25, 0.5, 0.75} {
				look(min(frame-1+quarter, p.Motion.Sheet.Length.Float()))
			}
		}
		before = near
	}
	return worst
}

// nearlyStraight is the bend in degrees under which a limb may run out of reach within a frame: at 20° two bones of equal
// length are 1.5 % short of straight, more than an idle's hips move in a frame.
const nearlyStraight = 20

// goalAt is where a chain's goal is planted or keyed at a time in frames.
func (p *Pass) goalAt(chain int, frame float64) grammar.Ref {
	for i := range p.Motion.Plants {
		if plant := &p.Motion.Plants[i]; plant.Chain == chain && plant.Holds(frame, p.Motion.Sheet.Closed) {
			return plant.At
		}
	}
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		for _, d := range c.Dial.Drives {
			if d.Joint < 0 && d.Goal == p.Motion.Rig.Chains[chain].Goal && c.Base != nil {
				return keyBefore(c, frame).At
			}
		}
	}
	return p.Motion.Sheet.Block.RefLine(p.Motion.Sheet.Block.Open)
}

// keyBefore is the key of a channel's base that was played last at a time in frames.
func keyBefore(c *motion.Channel, frame float64) *motion.Key {
	keys := c.Base.Keys
	frame -= c.Late.Float()
	if period := c.Base.Period.Float(); c.Base.Closed() && period > 0 {
		frame -= math.Floor(frame/period) * period
	}
	last := &keys[0]
	if c.Base.Closed() {
		last = &keys[len(keys)-1]
	}
	for i := range keys {
		if keys[i].Time.Float() <= frame {
			last = &keys[i]
		}
	}
	return last
}
