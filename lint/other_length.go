package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func otherLength() *Rule {
	return &Rule{
		Name: "other-length", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "A member of another length than the others, where the family asks for the same one.",
			Why:     "An engine that blends or syncs the family's loops stretches the odd one out.",
			Decides: "Each cycle's length in seconds, exactly, against that of the first member that is made from no other, or of the first one of all.",
			Allow:   "When that clip is never blended with the others.",
			Bad:     "family folk\n  members   \"[cr]*-wait.motet\"\n  lengths   same\n",
			Good:    "family folk\n  members   \"[cp]*-wait.motet\"\n  lengths   same\n",
		},
		Check: checkOtherLength,
	}
}

func checkOtherLength(p *Pass) {
	f := p.Motion.Family()
	if f == nil || !f.SameLengths {
		return
	}
	first := firstMember(f)
	for i := range f.Members {
		m := &f.Members[i]
		if !m.Motion.Whole() || !m.Motion.Sheet.Closed || m == first {
			continue
		}
		if is, should := secondsOf(m), secondsOf(first); is != should {
			finding := p.Report(f.At("lengths"), "%s lasts %s s, but %s %s s", m.Name, number(is.Float()), first.Name, number(should.Float()))
			finding.Related = []motion.Related{opens(m), opens(first)}
		}
	}
}

func secondsOf(m *motion.Member) grammar.Rat { return m.Motion.Sheet.Seconds(m.Motion.Sheet.Length) }
