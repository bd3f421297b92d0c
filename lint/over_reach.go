package lint

import (
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
			Decides: "At each quarter frame, by how much the end of each solved chain stays short of its goal. The limit is a millimetre (common practice). One report a chain names the worst moment.",
			Allow:   "When the goal is meant as a direction, a hand that reaches for what it cannot get.",
			Bad:     "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      1\n  2b      -4\n\nplant\n  foot.left 0b..4b\n",
			Good:    "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      -1\n  2b      -4\n\nplant\n  foot.left 0b..4b\n",
		},
		Check: checkOverReach,
	}
}

func checkOverReach(p *Pass) {
	if !p.Motion.Whole() || len(p.Motion.Rig.Chains) == 0 {
		return
	}
	worst := make([]float64, len(p.Motion.Rig.Chains))
	when := make([]float64, len(worst))
	p.eachStep(4, func(frame float64, f *motion.Figure) {
		for i, short := range f.Short {
			if short > worst[i] {
				worst[i], when[i] = short, frame
			}
		}
	})
	for i := range worst {
		if worst[i] <= p.Limit("cm") {
			continue
		}
		at := grammar.NewRat(int64(when[i]*4), 4)
		p.Report(p.goalAt(i), "%s stays %s cm short of its goal at %s, its limb straight; lower what carries the limb, or move the goal nearer", p.Motion.Rig.Chains[i].Goal, number(rounded(worst[i], 2)), moment(p.Motion.Sheet, at))
	}
}

// eachStep looks at the figure so many times a frame, over the whole length.
func (p *Pass) eachStep(perFrame int, look func(frame float64, f *motion.Figure)) {
	steps := int(p.Motion.Sheet.Length.Float() * float64(perFrame))
	for i := range steps + 1 {
		frame := float64(i) / float64(perFrame)
		look(frame, p.Motion.Figure(frame))
	}
}

// goalAt is where a chain's goal is planted or keyed.
func (p *Pass) goalAt(chain int) grammar.Ref {
	for i := range p.Motion.Plants {
		if p.Motion.Plants[i].Chain == chain {
			return p.Motion.Plants[i].At
		}
	}
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		for _, d := range c.Dial.Drives {
			if d.Joint < 0 && d.Goal == p.Motion.Rig.Chains[chain].Goal && c.Base != nil {
				return c.Base.Keys[0].At
			}
		}
	}
	return p.Motion.Sheet.Block.RefLine(p.Motion.Sheet.Block.Open)
}
