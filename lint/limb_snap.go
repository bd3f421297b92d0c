package lint

import (
	"math"
	"slices"

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
			Decides: "At each frame at which the limb is over 99.5 % of its full length: how much the hinge's turn from frame to frame changes. The limit is 0.75° a frame, a frame (tried on real baked clips). One report a limb names the worst moment; a limb that cannot reach its goal is left to `over-reach`.",
			Allow:   "When the knee locks on purpose: a salute, a stamp.",
			Bad:     "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      0\n  1b      -1\n  2b      0\n  3b      -1\n\nplant\n  foot.left 0b..4b\n",
			Good:    "sheet example\n  rig       legged in \"legged.motet\"\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      drop\n  0b      -3\n  1b      -4\n  2b      -3\n  3b      -4\n\nplant\n  foot.left 0b..4b\n",
		},
		Check: checkLimbSnap,
	}
}

func checkLimbSnap(p *Pass) {
	if !p.Motion.Whole() || len(p.Motion.Rig.Chains) == 0 {
		return
	}
	frames := int(math.Ceil(p.Motion.Sheet.Length.Float()))
	figures := make([]*motion.Figure, frames+2)
	for i := range figures {
		figures[i] = p.Motion.Figure(float64(i - 1))
	}
	for chain := range p.Motion.Rig.Chains {
		if slices.ContainsFunc(figures, func(f *motion.Figure) bool { return f.Short[chain] > 0 }) {
			continue
		}
		worst, when := 0.0, 0
		for i := 1; i < len(figures)-1; i++ {
			before, now, after := figures[i-1].Bend[chain], figures[i].Bend[chain], figures[i+1].Bend[chain]
			jerk := math.Abs(before - 2*now + after)
			if jerk > worst && p.stretched(figures[i], chain) > 0.995 {
				worst, when = jerk, i-1
			}
		}
		if worst > p.Limit("deg") {
			c := &p.Motion.Rig.Chains[chain]
			p.Report(p.goalAt(chain), "%s snaps at %s: the limb is %s%% straight there and its hinge jerks by %s° a frame; lower what carries it a little, so that it stays bent", p.Motion.Rig.Joints[c.Middle].Name, moment(p.Motion.Sheet, grammar.Whole(int64(when))), number(rounded(100*p.stretched(figures[when+1], chain), 1)), number(rounded(worst, 2)))
		}
	}
}

// stretched is a limb's length from root to end as a share of its bones' lengths.
func (p *Pass) stretched(f *motion.Figure, chain int) float64 {
	c := &p.Motion.Rig.Chains[chain]
	root, middle, end := f.World[c.Root].Position(), f.World[c.Middle].Position(), f.World[c.End].Position()
	return apart(root, end) / (apart(root, middle) + apart(middle, end))
}

// apart is how far two points are from each other.
func apart(a, b [3]float64) float64 {
	return math.Hypot(math.Hypot(a[0]-b[0], a[1]-b[1]), a[2]-b[2])
}
