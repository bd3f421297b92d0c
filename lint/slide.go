package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func slide() *Rule {
	return &Rule{
		Name: "slide", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0.3, Unit: "%"}},
		Doc: Doc{
			Reports: "A planted joint that moves while it is planted.",
			Why:     "A foot that skates says that the body has no weight. It is among the first things that an eye sees.",
			Decides: "At each half frame of the plant, the joint's distance from where it was at the plant's start, at its own pivot, in the world or on the joint that carries it. The limit is 0.3 % of the figure's height, half a centimetre of a grown figure (common practice). The goal of a chain is left out: its limb is solved, so it stays put unless it is out of reach, and that is what `over-reach` says.",
			Allow:   "When it is meant to skid, on ice or a wet deck.",
			Bad:     "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      side\n  0b      0\n  2b      3\n\nplant\n  ankle.left 0b..4b\n",
			Good:    "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      side    drop\n  0b      0       -3\n  2b      3       -3\n\nplant\n  foot.left 0b..4b\n",
		},
		Check: checkSlide,
	}
}

func checkSlide(p *Pass) {
	if !p.Motion.Whole() {
		return
	}
	for i := range p.Motion.Plants {
		plant := &p.Motion.Plants[i]
		if plant.Chain >= 0 {
			continue
		}
		worst, when := p.slideOf(plant)
		limit := p.Limit("%") / 100 * p.Motion.Rig.Height
		if worst <= limit {
			continue
		}
		at := grammar.NewRat(int64(math.Round(when*2)), 2).Mod(p.Motion.Sheet.Length)
		p.Report(plant.At, "%s slides %s cm from where it is planted, farthest at %s; the limit is %s cm; name a chain's goal instead of the joint, so that the limb is solved", plant.Goal, number(rounded(worst, 2)), moment(p.Motion.Sheet, at), number(rounded(limit, 2)))
	}
}

// slideOf is how far a planted joint gets from its place, in cm, and the frame at which it is farthest.
func (p *Pass) slideOf(plant *motion.Plant) (worst, when float64) {
	var start [3]float64
	for step := 0; ; step++ {
		frame := plant.From + float64(step)/2
		if frame > plant.To+1e-9 {
			return worst, when
		}
		f := p.Motion.Figure(frame)
		place := f.World[plant.Joint].Position()
		if plant.On >= 0 {
			place = f.World[plant.On].Undo(place)
		}
		if step == 0 {
			start = place
		}
		if d := apart(place, start); d > worst {
			worst, when = d, frame
		}
	}
}
