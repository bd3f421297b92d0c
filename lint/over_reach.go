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
			Decides: "On every frame, and between frames where a nearly straight limb is straightest, by how much the end of each solved chain stays short of its goal. The limit is a millimetre (common practice). A goal that is nearer to the limb's root than its two bones can fold counts too. One report a chain names the worst moment.",
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
	if !p.certain() || !p.Motion.Solves() {
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
		at := grammar.NewRat(int64(math.Round(r.frame*4)), 4)
		p.Report(p.goalAt(chain, r.frame), "%s stays %s cm short of its goal at %s, %s", p.Motion.Rig.Chains[chain].Goal, number(rounded(r.short, 2)), moment(p.Motion.Sheet, at), what)
	}
}

// reaches gives each chain's worst moment, worked out once for all rules that ask. It is looked for on every frame, and
// between frames four times as closely beside those on which a nearly straight or nearly folded limb comes nearest to its
// limit, for there it may run out of reach.
func (s *subject) reaches() []reach {
	if s.reached != nil {
		return s.reached
	}
	sampled := s.Sampled()
	worst := make([]reach, len(s.motion.Rig.Chains))
	for chain := range worst {
		shorts, bends := sampled.Limb(chain)
		for k, short := range shorts {
			worst[chain].see(short, sampled.Time(k), bends[k])
		}
	}
	player, length := s.motion.Player(), s.motion.Sheet.Length.Float()
	for _, k := range nearLimits(sampled) {
		for _, quarters := range []float64{-3, -2, -1, 1, 2, 3} {
			frame := sampled.Time(k) + quarters/4*sampled.Step
			if sampled.Closed {
				frame = math.Mod(frame+length, length)
			} else if frame < 0 || frame > length {
				continue
			}
			figure := player.Figure(frame)
			for chain, short := range figure.Short {
				worst[chain].see(short, frame, figure.Bend[chain])
			}
		}
	}
	s.reached = worst
	return worst
}

// see keeps a moment that is worse than the worst so far.
func (r *reach) see(short, frame, bend float64) {
	if short > r.short {
		*r = reach{short, frame, bend}
	}
}

// nearLimits are the samples on which some limb that is nearly straight is straighter, or farther from its goal, than on
// both sides, or one that is nearly folded more folded.
func nearLimits(s *motion.Sampled) []int {
	var near []int
	for k := range s.Count {
		for chain := range s.Motion.Rig.Chains {
			shorts, bends := s.Limb(chain)
			side := 1.0
			switch {
			case bends[k] < nearlyStraight:
			case bends[k] > 180-nearlyStraight:
				side = -1
			default: // bent, or not solved
				continue
			}
			pressed := func(k int) float64 { // how hard against its limit; a degree counts as little beside a centimetre
				if s.Closed {
					k = (k + s.Count) % s.Count
				} else {
					k = min(max(k, 0), s.Count-1)
				}
				return 1e3*shorts[k] - side*bends[k]
			}
			// A neighbour on which the limb is not solved has no number, and is no reason not to look.
			if here := pressed(k); !(pressed(k-1) > here) && !(pressed(k+1) > here) {
				near = append(near, k)
				break
			}
		}
	}
	return near
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
