package lint

import (
	"math"
	"strconv"

	"github.com/motet-sheet/motet/lint/motion"
)

func joinGap() *Rule {
	return &Rule{
		Name: "join-gap", Group: SeamGroup, Level: Error,
		Limits: seamGapLimits(),
		Doc: Doc{
			Reports: "A span that does not leave its idle, or rejoin it, in the idle's own pose.",
			Why:     "Where the player cuts from the idle to the span and back, the body jumps.",
			Decides: "Each channel's value at the span's start against the idle's at the moment that `leaves` names, and at its end against the one that `rejoins` names, all layers, followers and breaths included. The limits are those of `seam-gap` (common practice). Where the idle steps at that very moment, both its values will do. Left out are quivers, since a cut is lost among their own steps, and what the idle's `advance` carries on. Channels that the span keys in one row of the blocking, or not at all, are one report, at the one that jumps farthest.",
			Allow:   "When the engine blends from one clip into the other.",
			Mends:   "Writes the idle's value into the span's first or last key, and its slope where the speed would jump there otherwise.",
			Bad:     "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 0b\n\ntrack hips\n  at      side\n  0b      3^\n  2b      -2^\n\ntrack coat\n  at      swing\n  0b      4\n",
			Good:    "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 0b\n\ntrack hips\n  at      side\n  0b      2^\n  2b      -2^\n\ntrack coat\n  at      swing\n  0b      4\n",
		},
		Check: checkJoinGap,
	}
}

func checkJoinGap(p *Pass) {
	var faults joinFaults
	p.meetings(func(m *meeting) {
		gap := m.is - m.should
		if over := math.Abs(gap) / p.Limit(m.own.Dial.Unit); over > 1 && !m.travels() {
			faults.add(m.reportAt(), m, over)
		}
	})
	for _, at := range faults.order {
		m, more := faults.worst(at)
		gap := m.is - m.should
		finding := p.Report(at, "%s is %s where the span %s %s, but the idle has %s there: it jumps %s%s", m.own.Dial.Path, value(m.own, rounded(m.is, 3)), m.Word, m.idleSheet.Name, value(m.own, rounded(m.should, 3)), value(m.own, rounded(math.Abs(gap), 3)), toward(m.own, m.jump(gap)))
		p.explainJoin(finding, m, more, "")
		finding.Mends = p.joinMends(m)
	}
}

// joinMends lets the key at the join have the idle's value, and its slope too where the speed would jump otherwise.
func (p *Pass) joinMends(m *meeting) []motion.Mend {
	k := m.endKey()
	if k == nil || !p.writable(k) || m.replaced() {
		return nil
	}
	to := k.Value + m.should - m.is
	moved := m.withValue(to)
	if _, jumps := moved.speedJumps(p, joinKink()); !jumps {
		return []motion.Mend{copyNumber("write the idle's value", k, rounded(to, 3))}
	}
	is, should := moved.speeds(p.Motion.Sheet)
	mark, ok := p.slopeFor(moved, should-is)
	if !ok {
		return nil
	}
	text := strconv.FormatFloat(rounded(to, 3), 'f', -1, 64) + mark
	return []motion.Mend{{Title: "write the idle's value and slope", Edits: []motion.Edit{writeCell(k.At.Block, k.At.Line, k.At.Span, text)}}}
}

// replaced tells whether a layer takes the base's place, so that a key of the base does not count in full.
func (m *meeting) replaced() bool {
	for i := range m.own.Layers {
		if m.own.Layers[i].Layer.Replaces {
			return true
		}
	}
	return false
}

// withValue is the meeting as it would be if the span's key there had another value.
func (m *meeting) withValue(v float64) *meeting {
	base, own := *m.own.Base, *m.own
	knots := append([]motion.Knot(nil), base.Curve.Knots()...)
	if m.leaves() {
		knots[0].Value = v
	} else {
		knots[len(knots)-1].Value = v
	}
	base.Curve = motion.NewCurve(knots, base.Curve.Extent())
	own.Base = &base
	moved := *m
	moved.own = &own
	return &moved
}
