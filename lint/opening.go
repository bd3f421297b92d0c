package lint

import (
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

func opening() *Rule {
	return &Rule{
		Name: "opening", Group: CastGroup, Level: Error,
		Limits: seamGapLimits(),
		Doc: Doc{
			Reports: "A member whose first moment is not the family's opening pose, where the family asks for the same one.",
			Why:     "Clips that begin alike can be cut into one another at their start; one that does not jumps there.",
			Decides: "Each channel's value at the start of each member against that of the first cycle that is made from no other, or of the first one of all; lengths as shares of the figures' heights. Left out are channels that only one of the two rigs has, quivers, since `reseed` is there to make them differ, and spans with a `leaves` line, which open where they say. The limits are those of `seam-gap`.",
			Allow:   "When that clip is never entered at its start.",
			Bad:     "family folk\n  members   \"[cp]*-wait.motet\"\n  opening   same\n",
			Good:    "family folk\n  members   \"[cr]*-wait.motet\"\n  opening   same\n",
		},
		Check: checkOpening,
	}
}

func checkOpening(p *Pass) {
	f := p.Motion.Family()
	if f == nil || !f.SameOpening {
		return
	}
	opensAlone := func(m *motion.Member) bool { return !leavesElsewhere(m) }
	first := firstMember(f, func(m *motion.Member) bool { return isCycle(m) })
	if first == nil {
		first = firstMember(f, opensAlone)
	}
	for i := range f.Members {
		m := &f.Members[i]
		if first == nil || m.Path == first.Path || !certain(m.Motion) || !opensAlone(m) {
			continue
		}
		worst, more := p.otherOpening(m.Motion, first.Motion)
		if worst == nil {
			continue
		}
		p.reportOpening(f, m, first, worst, more)
	}
}

func (p *Pass) reportOpening(f *motion.Family, m, first *motion.Member, worst *motion.Channel, more int) {
	there := first.Motion.Channel(worst.Dial.Path)
	finding := p.Report(f.At("opening"), "%s opens with %s at %s, but %s with %s", called(f, m), worst.Dial.Path, value(worst, rounded(posed(worst, 0), 3)), called(f, first), value(there, rounded(posed(there, 0), 3)))
	if size := m.Motion.ScaleOf(first.Motion, worst.Dial); size != 1 {
		finding.Message += ", which is " + value(worst, rounded(posed(there, 0)*size, 3)) + " at its height"
	}
	if more > 0 {
		finding.Message += " (and " + plural(more, "channel") + " more with it)"
	}
	finding.Message += "; give both the same first pose"
	finding.Related = []motion.Related{opens(m), opens(first)}
}

// leavesElsewhere tells whether a member or what it is made from is a span that says which moment of an idle it leaves:
// it opens there, and `join-gap` sees to it.
func leavesElsewhere(m *motion.Member) bool {
	for at := m.Motion; at != nil; at = at.Base {
		if _, ok := at.Sheet.Lines["leaves"]; ok {
			return true
		}
	}
	return false
}

// otherOpening is the channel that opens farthest from the other motion's, measured in limits, and how many more do.
// Lengths count as shares of the figures' heights, so that a tall and a short member can stand alike.
func (p *Pass) otherOpening(m, other *motion.Motion) (worst *motion.Channel, more int) {
	most, count := 1.0, 0
	for i := range m.Channels {
		c := &m.Channels[i]
		there := other.Channel(c.Dial.Path)
		if there == nil {
			continue
		}
		limits := math.Abs(posed(c, 0)-posed(there, 0)*m.ScaleOf(other, c.Dial)) / p.Limit(c.Dial.Unit)
		if limits > 1 {
			count++
		}
		if limits > most {
			worst, most = c, limits
		}
	}
	return worst, count - 1
}
