package lint

import (
	"math"
	"slices"

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
			Decides: "At each half frame of the plant, the joint's distance from where it was at the plant's start, at its own pivot, in the world or on the joint that carries it, in every round; where the start is itself on an excursion, from where the joint mostly stands. The limit is 0.3 % of the figure's height, half a centimetre of a grown figure (common practice). The goal of a chain is left out: its limb is solved, so it stays put unless it is out of reach, and that is what `over-reach` says.",
			Allow:   "When it is meant to skid, on ice or a wet deck.",
			Mends:   "Plants the goal of the chain that ends in the joint, so that the limb is solved.",
			Bad:     "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      side\n  0b      0\n  5/2b    3\n\nplant\n  ankle.left 0b..4b\n",
			Good:    "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      side    drop\n  0b      0       -3\n  5/2b    3       -3\n\nplant\n  foot.left 0b..4b\n",
		},
		Check: checkSlide,
	}
}

func checkSlide(p *Pass) {
	if !p.certain() {
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
		at := grammar.NewRat(int64(math.Round(when*2)), 2)
		if p.Motion.Sheet.Closed {
			at = at.Mod(p.Motion.Sheet.Length)
		}
		finding := p.Report(plant.At, "%s slides %s cm from where it is planted, farthest at %s; the limit is %s cm", plant.Goal, number(rounded(worst, 2)), moment(p.Motion.Sheet, at), number(rounded(limit, 2)))
		p.solveInstead(finding, plant)
	}
}

// solveInstead says what would keep the joint in its place: the goal of a chain that ends there, if the rig has one.
func (p *Pass) solveInstead(finding *Finding, plant *motion.Plant) {
	joint := p.Motion.Rig.Joints[plant.Joint].Name
	for i := range p.Motion.Rig.Chains {
		chain := &p.Motion.Rig.Chains[i]
		if chain.End != plant.Joint {
			continue
		}
		finding.Message += "; plant the goal `" + chain.Goal + "` instead, so that its limb is solved"
		if entry, ok := plant.At.Block.Lines[plant.At.Line].Stmt.(*grammar.PlantEntry); ok && plant.At.Path() == p.Motion.File.Path {
			cell := plant.At.Block.Ref(plant.At.Line, entry.Goal.Where())
			finding.Mends = []motion.Mend{{Title: "plant the goal `" + chain.Goal + "` instead", Edits: []motion.Edit{writeCell(cell.Block, cell.Line, cell.Span, chain.Goal)}}}
		}
		return
	}
	finding.Message += "; no chain of the rig ends in `" + joint + "`, so still what carries it, or give the rig a chain"
}

// slideOf is how far a planted joint gets from its place in any round, in cm, and the frame at which it is farthest.
func (p *Pass) slideOf(plant *motion.Plant) (worst, when float64) {
	player := p.Motion.Player()
	rounds := 1
	if period := plant.Period(); period > 0 {
		rounds = max(1, int(math.Round(p.Motion.Sheet.Length.Float()/period)))
	}
	var places [][3]float64
	for round := range rounds {
		from := plant.From + float64(round)*plant.Period()
		places = places[:0]
		for step := 0; float64(step)/2 <= plant.To-plant.From+1e-9; step++ {
			places = append(places, p.standsAt(plant, player.Figure(from+float64(step)/2)))
		}
		if d, step := farthest(places); d > worst {
			worst, when = d, from+float64(step)/2
		}
	}
	return worst, when
}

// farthest is how far a planted joint gets from its place, and at which step. Its place is where it was at first, unless
// that is an excursion of its own: three quarters or more of the farthest away from where it mostly stands, each axis at
// its median. Then it is there.
func farthest(places [][3]float64) (worst float64, step int) {
	from := func(home [3]float64) (worst float64, step int) {
		for i, place := range places {
			if d := apart(place, home); d > worst {
				worst, step = d, i
			}
		}
		return worst, step
	}
	worst, step = from(places[0])
	var mostly [3]float64
	along := make([]float64, len(places))
	for axis := range mostly {
		for i := range places {
			along[i] = places[i][axis]
		}
		slices.Sort(along)
		mostly[axis] = along[len(along)/2]
	}
	if apart(places[0], mostly) > worst*3/4 {
		return from(mostly)
	}
	return worst, step
}

// standsAt is where a planted joint is, in the world or in the frame of the joint that carries it.
func (p *Pass) standsAt(plant *motion.Plant, f *motion.Figure) [3]float64 {
	place := f.World[plant.Joint].Position()
	if plant.On >= 0 {
		place = f.World[plant.On].Undo(place)
	}
	return place
}
