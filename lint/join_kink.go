package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func joinKink() *Rule {
	return &Rule{
		Name: "join-kink", Group: SeamGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 15, Unit: "%"}, {Value: 1, Unit: "cm/s"}, {Value: 3, Unit: "deg/s"}},
		Doc: Doc{
			Reports: "A span that leaves its idle, or rejoins it, at another speed than the idle's.",
			Why:     "The pose fits and the body still stutters: what was under way stops, or what stood still is suddenly under way.",
			Decides: "Each channel's speed a second at the span's start or end against the idle's at the moment it joins. The limit is that of `seam-kink`: 15 % of the larger of the two peak speeds, and at least 1 cm or 3° a second (common practice). A channel that jumps there is left to `join-gap`.",
			Allow:   "When something strikes just there, or the engine blends the two.",
			Mends:   "Gives the span's first or last key the idle's slope.",
			Bad:     "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 1b\n\ntrack hips\n  at      side\n  0b      0@9\n  2b      -2\n\ntrack coat\n  at      swing\n  0b      0@-6\n  1b      -4\n",
			Good:    "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 1b\n\ntrack hips\n  at      side\n  0b      0@-3\n  2b      -2\n\ntrack coat\n  at      swing\n  0b      0@-6\n  1b      -4\n",
		},
		Check: checkJoinKink,
	}
}

func checkJoinKink(p *Pass) {
	gaps := &Rule{Limits: seamGapLimits()}
	p.meetings(func(m *meeting) {
		if math.Abs(m.own.At(m.Own)-m.idle.At(m.when)) > gaps.limit(m.own.Dial.Unit) {
			return
		}
		is, should := m.speeds(p.Motion.Sheet)
		if math.Abs(is-should) <= p.joinLimit(m) {
			return
		}
		at, key := p.endKey(m)
		finding := p.Report(at, "%s moves at %s where the span %s %s, but the idle at %s: its speed jumps; give the key the idle's slope", m.own.Dial.Path, perSecond(m.own, is), m.Word, m.idleSheet.Name, perSecond(m.own, should))
		finding.Related = []motion.Related{{At: m.At, Message: "the join"}}
		if key != nil && len(m.own.Follows)+len(m.own.Waves)+len(m.own.Layers) == 0 {
			perBeat := should * p.Motion.Sheet.Seconds(p.Motion.Sheet.Beat).Float()
			finding.Mends = []motion.Mend{{Title: "give the key the idle's slope", Edits: []motion.Edit{{At: key.At, Text: number(key.Value) + "@" + number(perBeat)}}}}
		}
	})
}

// speeds are both channels' speeds a second at the join: the span's inside, the idle's outside.
func (m *meeting) speeds(own *motion.Sheet) (is, should float64) {
	left, right := m.own.Slope(m.Own)
	idleLeft, idleRight := m.idle.Slope(m.when)
	if m.Word == "leaves" {
		return right * own.Rate.Float(), idleLeft * m.idleSheet.Rate.Float()
	}
	return left * own.Rate.Float(), idleRight * m.idleSheet.Rate.Float()
}

func (p *Pass) joinLimit(m *meeting) float64 {
	least := p.Limit("deg/s")
	if m.own.Dial.Unit == "cm" {
		least = p.Limit("cm/s")
	}
	peak := peakOf(m.own) * p.Motion.Sheet.Rate.Float()
	peak = max(peak, peakOf(m.idle)*m.idleSheet.Rate.Float())
	return max(least, p.Limit("%")/100*peak)
}

func peakOf(c *motion.Channel) float64 {
	if c.Base == nil {
		return 0
	}
	return c.Base.Curve.PeakSpeed()
}

func perSecond(c *motion.Channel, speed float64) string { return value(c, rounded(speed, 1)) + "/s" }
