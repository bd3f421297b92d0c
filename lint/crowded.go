package lint

import (
	"fmt"
	"iter"
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
			Decides: "The most keys within a second, wherever it begins, round the seam in a cycle; a cycle shorter than a second counts once. More than 6 are too many, or 12 for fingers, faces, eyes and lids (common practice). A closing row is the first row again and does not count. Keys of the blocking count with those of the tracks; where only the blocking is crowded, one report says so for all its channels. Where five curves or more are crowded, and a tenth of all, one report at the top says so: that is a clip that was read in, or a motion that is fast by nature.",
			Allow:   "When the motion is fast by nature: a shiver, a run, a drum roll.",
			Mends:   "Drops the curve's spare keys, which leaves the motion as it is; --fix does so.",
			Bad:     "track hips\n  at      side\n  0f      0\n  3f      0.2\n  6f      1.2\n  9f      1.4\n  12f     2.6\n  15f     2.8\n  18f     4\n",
			Good:    "track hips\n  at      side\n  0f      0\n  6f      1.2\n  12f     2.6\n  18f     4\n",
		},
		Check: checkCrowded,
	}
}

// crowd is the densest second of a curve that has too many keys in it.
type crowd struct {
	*Strand
	from, count int // its keys are so many from that one on, round the seam
}

func (c *crowd) first() *motion.Key { return &c.Keys[c.from] }

// ofBlocking tells whether only the blocking takes part.
func (c *crowd) ofBlocking() bool {
	for k := range c.keys() {
		if c.Keys[k].From == motion.FromTrack {
			return false
		}
	}
	return true
}

func checkCrowded(p *Pass) {
	var crowds []crowd
	told := map[grammar.Ref]bool{} // where only the blocking is crowded
	for i := range p.Strands() {
		s := &p.Strands()[i]
		from, count := p.densest(s)
		if count <= p.mostKeys(s) {
			continue
		}
		c := crowd{s, from, count}
		if c.ofBlocking() && told[c.first().At] {
			continue
		}
		told[c.first().At] = c.ofBlocking()
		crowds = append(crowds, c)
	}
	if allOver(len(crowds), len(p.Strands())) {
		p.crowdedAllOver(crowds)
		return
	}
	for i := range crowds {
		p.crowded(&crowds[i])
	}
}

// crowdedAllOver reports all crowded curves at once.
func (p *Pass) crowdedAllOver(crowds []crowd) {
	slices.SortStableFunc(crowds, func(a, b crowd) int { return b.count - a.count })
	densest := &crowds[0]
	s := p.Motion.Sheet
	finding := p.Report(s.Block.RefLine(s.Block.Open), "%d of %d curves have more than %d keys in some second, the densest %s with %d from %s on: no one shapes that by hand; let fewer keys say it, or allow it here for a motion that is fast by nature",
		len(crowds), len(p.Strands()), int(p.Limit("")), densest.Name(), densest.count, moment(s, densest.first().Time))
	finding.faults = len(crowds)
	const shown = 3
	for i := range crowds[:min(len(crowds), shown)] {
		c := &crowds[i]
		finding.Related = append(finding.Related, motion.Related{At: c.first().At, Message: fmt.Sprintf("%s has %d", c.Name(), c.count)})
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

// second is so many keys within a second, and the first of them.
type second struct{ from, count int }

// densest is the most keys of a curve within one second, and the first of them.
func (p *Pass) densest(s *Strand) (from, count int) {
	rate := p.Motion.Sheet.Rate
	most := recall(p.subject, &p.ofCurve(s).densest, rate, func() (most second) {
		most.from, most.count = s.densest(rate)
		return most
	})
	return most.from, most.count
}

func (s *Strand) densest(second grammar.Rat) (from, count int) {
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
	if i < n {
		return s.Keys[i].Time
	}
	return s.Keys[i%n].Time.Add(s.Period.Mul(grammar.Whole(int64(i / n))))
}

// keys gives the indices of the second's keys in the order of time.
func (c *crowd) keys() iter.Seq[int] {
	return func(yield func(int) bool) {
		n := c.distinct()
		for i := range c.count {
			if !yield((c.from + i) % n) {
				return
			}
		}
	}
}

func (p *Pass) crowded(c *crowd) {
	s, first := c.Strand, c.first()
	spare := slices.DeleteFunc(slices.Collect(c.keys()), func(k int) bool { return !slices.Contains(p.spareOf(s), k) })
	which := "none of them is spare; let fewer say it, or let a `quiver` do the small ones"
	if len(spare) > 0 {
		which = fmt.Sprintf("%d of them %s spare; drop what is not needed", len(spare), isOrAre(len(spare)))
	}
	finding := p.Report(first.At, "%s has %d keys in the second from %s on, more than %d: %s", s.Name(), c.count, moment(p.Motion.Sheet, first.Time), p.mostKeys(s), which)
	if all := p.spareOf(s); len(spare) > 0 { // of the whole curve, since the next densest second may be crowded too
		finding.Mends = []motion.Mend{{Title: "drop the curve's " + plural(len(all), "spare key"), Edits: p.dropKeys(s, all), Safe: true}}
	}
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
