package lint

import (
	"cmp"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func inStep() *Rule {
	return &Rule{
		Name: "in-step", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "Members of a family that begin their equal cycles almost together, where the family wants its phases spread.",
			Why:     "A row of figures that sway together reads as one figure, copied.",
			Decides: "Cycles of equal length in seconds, and of one clip where the family tells its clips apart by `name` and `each`, are sorted by `phase` as a share of the cycle. Two that lie closer than half an even share, 1 ÷ 2n of the cycle for n members, are in step; one report names all that hang together so (common practice).",
			Allow:   "When they are meant to move as one: rowers, a chorus.",
			Bad:     "family folk\n  members   \"[cp]*-wait.motet\"\n  phases    spread\n",
			Good:    "family folk\n  members   \"[ce]*-wait.motet\"\n  phases    spread\n",
		},
		Check: checkInStep,
	}
}

// beginning is where in its cycle a member begins, as a share.
type beginning struct {
	member *motion.Member
	share  float64
}

// together are members that may sway together: of one clip, in equal cycles.
type together struct {
	clip    string
	seconds grammar.Rat
}

func checkInStep(p *Pass) {
	f := p.Motion.Family()
	if f == nil || !f.SpreadPhases {
		return
	}
	rows := map[together][]beginning{}
	var order []together
	for i := range f.Members {
		m := &f.Members[i]
		if !certain(m.Motion) || !isCycle(m) {
			continue
		}
		s := m.Motion.Sheet
		_, clip := person(f, m)
		key := together{clip, s.Seconds(s.Length)}
		if rows[key] == nil {
			order = append(order, key)
		}
		rows[key] = append(rows[key], beginning{m, s.Phase.Mod(s.Length).Div(s.Length).Float()})
	}
	for _, key := range order {
		p.inStep(f, rows[key])
	}
}

func (p *Pass) inStep(f *motion.Family, all []beginning) {
	n := len(all)
	if n < 2 {
		return
	}
	slices.SortStableFunc(all, func(a, b beginning) int { return cmp.Compare(a.share, b.share) })
	limit := 1 / float64(2*n)
	gap := func(i int) float64 { // from all[i] on to the next, round the cycle
		d := all[(i+1)%n].share - all[i].share
		if i == n-1 {
			d++
		}
		return d
	}
	// Counting starts behind a gap that is wide enough, so that no group is cut by the end of the list.
	start := 0
	for i := range n {
		if gap(i) >= limit-1e-9 {
			start = i + 1
		}
	}
	group := []beginning{all[start%n]}
	for k := range n {
		i := (start + k) % n
		if k < n-1 && gap(i) < limit-1e-9 {
			group = append(group, all[(i+1)%n])
			continue
		}
		if len(group) > 1 {
			p.reportGroup(f, group, limit)
		}
		group = []beginning{all[(i+1)%n]}
	}
}

func (p *Pass) reportGroup(f *motion.Family, group []beginning, limit float64) {
	names := make([]string, len(group))
	related := make([]motion.Related, len(group))
	for i, b := range group {
		names[i] = called(f, b.member) + " at " + number(rounded(100*b.share, 1)) + "%"
		related[i] = opens(b.member)
	}
	finding := p.Report(f.At("phases"), "these begin closer than %s%% of their cycle to one another: %s; give them other phases", number(rounded(100*limit, 1)), strings.Join(names, ", "))
	finding.Related = related
}
