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
			Decides: "Each cycle's length in seconds, exactly, against that of the first cycle that is made from no other, or of the first one of all. Where the family tells its clips apart by `name` and `each`, only cycles of one clip are held together. Spans are left out.",
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
	firsts := map[string]*motion.Member{} // by clip
	for i := range f.Members {
		m := &f.Members[i]
		if !certain(m.Motion) || !isCycle(m) {
			continue
		}
		_, clip := person(f, m)
		first := firsts[clip]
		if first == nil {
			first = firstMember(f, func(other *motion.Member) bool {
				_, its := person(f, other)
				return isCycle(other) && its == clip
			})
			firsts[clip] = first
		}
		if is, should := secondsOf(m), secondsOf(first); is != should {
			finding := p.Report(f.At("lengths"), "%s lasts %s s, but %s %s s; give both the same tempo and number of beats", called(f, m), number(is.Float()), called(f, first), number(should.Float()))
			finding.Related = []motion.Related{opens(m), opens(first)}
		}
	}
}

func secondsOf(m *motion.Member) grammar.Rat { return m.Motion.Sheet.Seconds(m.Motion.Sheet.Length) }
