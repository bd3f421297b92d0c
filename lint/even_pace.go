package lint

import (
	"cmp"
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func evenPace() *Rule {
	return &Rule{
		Name: "even-pace", Group: MotionGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 0.9}, {Value: 0.33, Unit: "s"}, {Value: 1, Unit: "cm"}, {Value: 3, Unit: "deg"}},
		Doc: Doc{
			Reports: "A way from one turn to the next at an even pace, without setting off or slowing down.",
			Why:     "Whatever has weight takes time to get going and to stop. At an even pace it is a machine's.",
			Decides: "Between each two turns of a channel, as it plays with all its layers: its mean speed over its peak speed, from the curve itself. A straight line gives 1, half a sine 2 ÷ π, which is 0.64; the most even way in a real idle gives 0.83. Over 0.9 is reported where the way takes a third of a second or more and goes 1 cm or 3° or farther: what is shorter or smaller nobody can tell from any other (8 frames at 24 fps, common practice). Eyes, lids and what an `advance` carries on are left alone. One report a channel names its longest such way.",
			Allow:   "When it is a machine's: a crane, a turntable, a spindle.",
			Mends:   "Takes the marks off the keys along these ways where they say that they are straight (`>`), so that the curve is smooth there. How a way shall run is the animator's choice, so --fix leaves it.",
			Bad:     "track head\n  at      turn\n  0b      -20>\n  2b      20>\n  3b      10\n",
			Good:    "track head\n  at      turn\n  0b      -20\n  2b      20\n  3b      10\n",
		},
		Check: checkEvenPace,
	}
}

func checkEvenPace(p *Pass) {
	if !p.certain() {
		return
	}
	m := p.Motion
	leastFrames := p.Limit("s") * m.Sheet.Rate.Float()
	for i := range m.Channels {
		c := &m.Channels[i]
		part := m.Rig.PartOf(c.Dial)
		if !c.Moves() || part == motion.PartEye || part == motion.PartLid || m.Sheet.Advance[c.Dial.Path] != 0 {
			continue
		}
		if onlyKeysMove(p.Motion, c) && goesAtMost(c.Base) < p.Limit(c.Dial.Unit) {
			continue
		}
		var even []motion.Pace
		for _, pace := range p.evenPaces(c, p.Limit(""), leastFrames-1e-9) {
			frames := pace.To - pace.From
			least := p.Limit(c.Dial.Unit)
			if pace.Evenness() > p.Limit("") && frames >= leastFrames-1e-9 && least > 0 && pace.Mean*frames >= least {
				even = append(even, pace)
			}
		}
		if len(even) > 0 {
			p.evenPace(c, even)
		}
	}
}

// evenPace reports a channel with even ways, at the longest of them.
func (p *Pass) evenPace(c *motion.Channel, even []motion.Pace) {
	pace := slices.MaxFunc(even, func(a, b motion.Pace) int { return cmp.Compare(a.To-a.From, b.To-b.From) })
	frames := pace.To - pace.From
	finding := p.Report(p.nearestPlace(c, pace.From), "%s goes %s in %s from %s on at an even pace, its mean speed %s%% of its peak; let it set off and slow down",
		c.Dial.Path, value(c, rounded(pace.Mean*frames, 1)), p.lasting(hold{frames: frames}), p.moment(pace.From), number(rounded(100*pace.Evenness(), 0)))
	if len(even) > 1 {
		finding.Message += ", and " + plural(len(even)-1, "more way") + " of it too"
		finding.faults = len(even)
	}
	if mend, ok := p.unmark(c, even); ok {
		finding.Mends = []motion.Mend{mend}
	}
}

// unmark is the mend that takes straight marks off the channel's keys along some ways.
func (p *Pass) unmark(c *motion.Channel, ways []motion.Pace) (motion.Mend, bool) {
	mend := motion.Mend{Title: "let " + c.Dial.Path + " be smooth there"}
	if c.Base == nil {
		return mend, false
	}
	for i := range c.Base.Keys {
		k := &c.Base.Keys[i]
		along := slices.ContainsFunc(ways, func(pace motion.Pace) bool {
			after := math.Mod(k.Time.Float()+c.Late.Float()-pace.From+p.Motion.Sheet.Length.Float()+0.5, p.Motion.Sheet.Length.Float())
			return after < pace.To-pace.From
		})
		if k.Shape == motion.Straight && k.From == motion.FromTrack && along && k.At.Path() == p.Motion.File.Path {
			text := k.At.Text()
			mend.Edits = append(mend.Edits, writeCell(k.At.Block, k.At.Line, k.At.Span, text[:len(text)-1]))
		}
	}
	return mend, len(mend.Edits) > 0
}
