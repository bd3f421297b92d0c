package lint

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func crowded() *Rule {
	return &Rule{
		Name: "crowded", Group: EconomyGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 6}},
		Doc: Doc{
			Reports: "Too many keys of one channel in any one second.",
			Why:     "An idle that is busy draws the eye from whoever is speaking. And nobody can shape a curve that has a key on every third frame.",
			Decides: "The most keys within a second, wherever it begins, round the seam in a cycle; a cycle shorter than a second counts once. More than 6 are too many, or 12 for fingers, faces, eyes and lids (common practice). A closing row is the first row again and does not count. Keys of the blocking count with those of the tracks; where only the blocking is crowded, one report says so for all its channels.",
			Allow:   "When the motion is fast by nature: a shiver, a drum roll.",
			Mends:   "Drops those of the keys that are spare, which leaves the motion as it is; --fix does so.",
			Bad:     "track hips\n  at      side\n  0f      0\n  3f      0.2\n  6f      1.2\n  9f      1.4\n  12f     2.6\n  15f     2.8\n  18f     4\n",
			Good:    "track hips\n  at      side\n  0f      0\n  6f      1.2\n  12f     2.6\n  18f     4\n",
		},
		Check: checkCrowded,
	}
}

func checkCrowded(p *Pass) {
	told := map[grammar.Ref]bool{} // where only the blocking is crowded
	for i := range p.Strands() {
		s := &p.Strands()[i]
		from, count := p.densest(s)
		if count <= p.mostKeys(s) {
			continue
		}
		keys := s.run(from, count)
		first := s.Keys[keys[0]].At
		if !slices.ContainsFunc(keys, func(k int) bool { return s.Keys[k].From == motion.FromTrack }) {
			if told[first] {
				continue
			}
			told[first] = true
		}
		p.crowded(s, keys)
	}
}

func (p *Pass) mostKeys(s *Strand) int {
	most := int(p.Limit(""))
	switch p.Motion.Rig.PartOf(s.Channel.Dial) {
	case motion.PartFinger, motion.PartFace, motion.PartEye, motion.PartLid:
		return 2 * most
	}
	return most
}

// distinct is the number of a curve's keys, the closing row beside a first one left out.
func (s *Strand) distinct() int {
	if last := len(s.Keys) - 1; last > 0 && s.Closes(last) && s.Keys[0].Time.IsZero() {
		return last
	}
	return len(s.Keys)
}

// densest is the most keys of a curve within one second, and the first of them.
func (p *Pass) densest(s *Strand) (from, count int) {
	second := p.Motion.Sheet.Rate
	n := s.distinct()
	end := 0 // the first key behind the second, counted on round the seam
	for i := range n {
		end = max(end, i)
		for end < i+n && (end < n || s.Closed()) && s.timeOf(end).Sub(s.Keys[i].Time).Cmp(second) < 0 {
			end++
		}
		if end-i > count {
			from, count = i, end-i
		}
	}
	return from, count
}

// timeOf is the time of a key counted on round the seam.
func (s *Strand) timeOf(i int) grammar.Rat {
	n := s.distinct()
	return s.Keys[i%n].Time.Add(s.Period.Mul(grammar.Whole(int64(i / n))))
}

// run gives the indices of keys in a row, round the seam.
func (s *Strand) run(from, count int) []int {
	out := make([]int, count)
	for i := range out {
		out[i] = (from + i) % s.distinct()
	}
	return out
}

func (p *Pass) crowded(s *Strand, keys []int) {
	spare := slices.DeleteFunc(slices.Clone(keys), func(k int) bool { return !slices.Contains(p.spareOf(s), k) })
	first := &s.Keys[keys[0]]
	which := "none of them is spare; let fewer say it, or let a `quiver` do the small ones"
	if len(spare) > 0 {
		which = fmt.Sprintf("%d of them %s spare; drop what is not needed", len(spare), isOrAre(len(spare)))
	}
	finding := p.Report(first.At, "%s has %d keys in the second from %s on, more than %d: %s", s.Name(), len(keys), moment(p.Motion.Sheet, first.Time), p.mostKeys(s), which)
	if len(spare) > 0 {
		finding.Mends = []motion.Mend{{Title: theSpare(len(spare)), Edits: p.dropKeys(s, spare), Safe: true}}
	}
}

func theSpare(n int) string {
	if n == 1 {
		return "drop the spare key"
	}
	return fmt.Sprintf("drop the %d spare keys", n)
}

// dropKeys takes some keys of a curve out of the text.
func (p *Pass) dropKeys(s *Strand, keys []int) []motion.Edit {
	var edits []motion.Edit
	for _, k := range keys {
		at := s.Keys[k].At
		edits = append(edits, dropCells(p.Motion.File, at.Block, at.Line, []grammar.Span{at.Span})...)
	}
	return edits
}
