package lint

import (
	"math"
	"strings"

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
			Decides: "Each channel's speed a second at the span's start or end against the idle's at the moment it joins, on whichever side of that moment the idle's is nearer. The limit is that of `seam-kink`: 15 % of the larger of the two peak speeds, and at least 1 cm or 3° a second (common practice). Left out are a channel that jumps there, which is `join-gap`'s; eyes and lids, which dart and blink; quivers; and a corner no sharper than one that the span or the idle makes elsewhere in that channel. Channels that the span keys in one row of the blocking, or not at all, are one report.",
			Allow:   "When something strikes just there, or the engine blends the two.",
			Mends:   "Gives the span's first or last key the idle's slope.",
			Bad:     "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 1b\n\ntrack hips\n  at      side\n  0b      0^\n  2b      -2\n\ntrack coat\n  at      swing\n  0b      0@-6\n  1b      -4\n",
			Good:    "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 1b\n\ntrack hips\n  at      side\n  0b      0@-3\n  2b      -2\n\ntrack coat\n  at      swing\n  0b      0@-6\n  1b      -4\n",
		},
		Check: checkJoinKink,
	}
}

func checkJoinKink(p *Pass) {
	gaps := &Rule{Limits: seamGapLimits()}
	var faults joinFaults
	p.meetings(func(m *meeting) {
		if !m.travels() && math.Abs(m.is-m.should) > gaps.limit(m.own.Dial.Unit) {
			return
		}
		if over, jumps := m.speedJumps(p, p.Rule); jumps {
			faults.add(m.reportAt(), m, over)
		}
	})
	for _, at := range faults.order {
		m, more := faults.worst(at)
		is, should := m.speeds(p.Motion.Sheet)
		finding := p.Report(at, "%s moves at %s where the span %s %s, but the idle at %s: its speed jumps", m.own.Dial.Path, perSecond(m.own, is), m.Word, m.idleSheet.Name, perSecond(m.own, should))
		p.explainJoin(finding, m, more, "; give it the idle's slope there")
		k := m.endKey()
		if mark, ok := p.slopeFor(m, should-is); ok && p.writable(k) {
			text := k.At.Text()
			if at := strings.IndexAny(text, "~^>=@"); at >= 0 {
				text = text[:at]
			}
			edit := writeCell(k.At.Block, k.At.Line, k.At.Span, text+mark)
			finding.Mends = []motion.Mend{{Title: "give the key the idle's slope", Edits: []motion.Edit{edit}}}
		}
	}
}

// slopeFor is the mark that makes the span's key at the join faster by so much a second. It is false where no key stands
// just there, or a mark would not count: in an eased, straight or held segment, and on a key alone.
func (p *Pass) slopeFor(m *meeting, faster float64) (mark string, ok bool) {
	k := m.endKey()
	if k == nil || m.replaced() || len(m.own.Base.Keys) < 2 || k.Time.Add(m.own.Late).Float() != m.Own {
		return "", false
	}
	from := k
	if !m.leaves() {
		from = &m.own.Base.Keys[len(m.own.Base.Keys)-2]
		if from.Shape == motion.Straight || from.Shape == motion.Stay {
			return "", false
		}
	}
	if from.Ease != nil {
		return "", false
	}
	left, right := m.own.Base.Curve.Slope(m.Own - m.own.Late.Float())
	if m.leaves() {
		left = right
	}
	return p.slopeMark(left + faster/p.Motion.Sheet.Rate.Float()), true
}

func perSecond(c *motion.Channel, speed float64) string { return value(c, rounded(speed, 1)) + "/s" }
