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
			Decides: "Each channel's value at the start of each member against that of the first member that is made from no other, or of the first one of all. Channels that only one of the two rigs has are left out. The limits are those of `seam-gap`.",
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
	first := firstMember(f)
	if first == nil {
		return
	}
	for i := range f.Members {
		m := &f.Members[i]
		if m == first || !m.Motion.Whole() {
			continue
		}
		worst, more := p.otherOpening(m.Motion, first.Motion)
		if worst == nil {
			continue
		}
		there := first.Motion.Channel(worst.Dial.Path)
		finding := p.Report(f.At("opening"), "%s opens with %s at %s, but %s with %s", m.Name, worst.Dial.Path, value(worst, rounded(worst.At(0), 3)), first.Name, value(there, rounded(there.At(0), 3)))
		if more > 0 {
			finding.Message += "; so do " + number(float64(more)) + " other channels"
		}
		finding.Related = []motion.Related{opens(m), opens(first)}
	}
}

// firstMember is the member that others are held to.
func firstMember(f *motion.Family) *motion.Member {
	var first *motion.Member
	for i := range f.Members {
		m := &f.Members[i]
		switch {
		case !m.Motion.Whole():
		case m.Motion.Base == nil:
			return m
		case first == nil:
			first = m
		}
	}
	return first
}

// otherOpening is the channel that opens farthest from the other motion's, measured in limits, and how many more do.
func (p *Pass) otherOpening(m, other *motion.Motion) (worst *motion.Channel, more int) {
	most := 1.0
	count := 0
	for i := range m.Channels {
		c := &m.Channels[i]
		there := other.Channel(c.Dial.Path)
		if there == nil {
			continue
		}
		limits := math.Abs(c.At(0)-there.At(0)) / p.Limit(c.Dial.Unit)
		if limits > 1 {
			count++
		}
		if limits > most {
			worst, most = c, limits
		}
	}
	return worst, count - 1
}
