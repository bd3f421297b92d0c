package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func limbSnap() *Rule {
	return &Rule{
		Name: "limb-snap", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0.75, Unit: "deg"}},
		Doc: Doc{
			Reports: "A solved limb that is almost straight and whose hinge jerks.",
			Why:     "Near its full length a leg's knee turns by many degrees for a millimetre of the hips: 45 + 45 cm bend by 7.6° for the first 0.2 cm. The knee snaps back and forth although nothing else does.",
			Decides: "24 times a second, where the limb is over 99.5 % of its full length: how much the hinge turns in the next 24th of a second more or less than it did in the last. The limit is 0.75° (tried on real baked clips). One report a limb names the worst moment; a limb that cannot reach its goal is left to `over-reach`.",
			Allow:   "When the knee locks on purpose: a salute, a stamp.",
			Bad:     "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      0\n  1b      -1\n  2b      0\n  3b      -1\n\nplant\n  foot.left 0b..4b\n",
			Good:    "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      -3\n  1b      -4\n  2b      -3\n  3b      -4\n\nplant\n  foot.left 0b..4b\n",
		},
		Check: checkLimbSnap,
	}
}

// stance is a solved limb at one moment: how far its middle joint is bent, in degrees, NaN where it is not solved, and
// how long it is from root to end as a share of its bones' lengths.
type stance struct{ bend, stretched float64 }

func checkLimbSnap(p *Pass) {
	if !p.certain() || !p.Motion.Solves() {
		return
	}
	step := p.Motion.Sheet.Rate.Float() / snapsASecond
	stances := p.stances(step)
	for chain := range p.Motion.Rig.Chains {
		worst, when := sharpestTurn(stances, chain)
		if worst <= p.Limit("deg") {
			continue
		}
		if p.reaches()[chain].short > overReach().limit("cm") {
			continue
		}
		frame := p.snapFrame(when, step)
		p.Report(p.goalAt(chain, frame), "%s snaps at %s: the limb is %s%% straight there and the turn of its hinge changes by %s° within a 24th of a second; lower what carries it a little, so that it stays bent", p.Motion.Rig.Joints[p.Motion.Rig.Chains[chain].Middle].Name, moment(p.Motion.Sheet, grammar.Whole(int64(math.Round(frame)))), number(rounded(100*stances[when][chain].stretched, 1)), number(rounded(worst, 2)))
	}
}

// sharpestTurn is by how much a hinge's turn changes most from one step to the next while the limb is nearly straight,
// in degrees, and at which step.
func sharpestTurn(stances [][]stance, chain int) (worst float64, when int) {
	for i := 1; i < len(stances)-1; i++ {
		before, now, after := stances[i-1][chain], stances[i][chain], stances[i+1][chain]
		jerk := math.Abs(before.bend - 2*now.bend + after.bend)
		if jerk > worst && now.stretched > 0.995 {
			worst, when = jerk, i
		}
	}
	return worst, when
}

// snapsASecond is how often a second limbs are looked at, whatever the sheet's rate, so that the limit is the same motion
// at any rate.
const snapsASecond = 24

// stances gives each chain's stance at each step of the sheet, in frames; in a cycle from one step before its start to one
// behind its end. Where the steps are frames, the look that all rules share will do.
func (p *Pass) stances(step float64) [][]stance {
	count := int(math.Floor(p.Motion.Sheet.Length.Float()/step+1e-9)) + 1
	first := 0
	if p.Motion.Sheet.Closed {
		count, first = count+2, -1
	}
	out := make([][]stance, count)
	if s := p.Sampled(); s.Step == step {
		for i := range out {
			out[i] = make([]stance, len(p.Motion.Rig.Chains))
			k := i + first
			if s.Closed {
				k = (k + s.Count) % s.Count
			}
			for chain := range out[i] {
				_, bends := s.Limb(chain)
				out[i][chain] = stance{bends[k], s.Stretched(chain, k)}
			}
		}
		return out
	}
	player := p.Motion.Player()
	for i := range out {
		f := player.Figure(p.snapFrame(i, step))
		out[i] = make([]stance, len(f.Bend))
		for chain := range out[i] {
			out[i][chain] = stance{f.Bend[chain], p.stretched(f, chain)}
		}
	}
	return out
}

func (p *Pass) snapFrame(i int, step float64) float64 {
	if p.Motion.Sheet.Closed {
		i--
	}
	return float64(i) * step
}

// stretched is a limb's length from root to end as a share of its bones' lengths.
func (p *Pass) stretched(f *motion.Figure, chain int) float64 {
	c := &p.Motion.Rig.Chains[chain]
	root, middle, end := f.World[c.Root].Position(), f.World[c.Middle].Position(), f.World[c.End].Position()
	return apart(root, end) / (apart(root, middle) + apart(middle, end))
}

// apart is how far two points are from each other.
func apart(a, b [3]float64) float64 {
	return norm([3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]})
}
