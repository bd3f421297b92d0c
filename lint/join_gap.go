package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func joinGap() *Rule {
	return &Rule{
		Name: "join-gap", Group: SeamGroup, Level: Error,
		Limits: seamGapLimits(),
		Doc: Doc{
			Reports: "A span that does not leave its idle, or rejoin it, in the idle's own pose.",
			Why:     "Where the player cuts from the idle to the span and back, the body jumps.",
			Decides: "Each channel's value at the span's start against the idle's at the moment that `leaves` names, and at its end against the one that `rejoins` names, all layers, followers and breaths included. The limits are those of `seam-gap` (common practice).",
			Allow:   "When the engine blends from one clip into the other.",
			Mends:   "Writes the idle's value into the span's first or last key.",
			Bad:     "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 0b\n\ntrack hips\n  at      side\n  0b      3\n  2b      -2\n\ntrack coat\n  at      swing\n  0b      4\n",
			Good:    "sheet example\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n  leaves    shore in \"shore.motet\" at 0b\n\ntrack hips\n  at      side\n  0b      2\n  2b      -2\n\ntrack coat\n  at      swing\n  0b      4\n",
		},
		Check: checkJoinGap,
	}
}

// meeting is one channel at one end of a span, and the same channel of the idle that it meets there.
type meeting struct {
	*motion.Join
	own, idle *motion.Channel
	when      float64 // in the idle's frames
	idleSheet *motion.Sheet
}

// meetings gives every channel of the span at each of its joins whose idle has the channel too.
func (p *Pass) meetings(each func(m *meeting)) {
	if !p.Motion.Whole() {
		return
	}
	for i := range p.Motion.Joins {
		join := &p.Motion.Joins[i]
		idle, when := join.Idle()
		if idle == nil {
			continue
		}
		for k := range p.Motion.Channels {
			own := &p.Motion.Channels[k]
			if there := idle.Channel(own.Dial.Path); there != nil {
				each(&meeting{join, own, there, when, idle.Sheet})
			}
		}
	}
}

func checkJoinGap(p *Pass) {
	p.meetings(func(m *meeting) {
		is, should := m.own.At(m.Own), m.idle.At(m.when)
		gap := is - should
		if !(math.Abs(gap) > p.Limit(m.own.Dial.Unit)) {
			return
		}
		at, key := p.endKey(m)
		finding := p.Report(at, "%s is %s where the span %s %s, but the idle has %s there: it jumps %s%s", m.own.Dial.Path, value(m.own, rounded(is, 3)), m.Word, m.idleSheet.Name, value(m.own, rounded(should, 3)), value(m.own, rounded(math.Abs(gap), 3)), toward(m.own, m.jump(gap)))
		finding.Related = []motion.Related{{At: m.At, Message: "the join"}}
		if key != nil && len(m.own.Follows)+len(m.own.Waves)+len(m.own.Layers) == 0 {
			finding.Mends = []motion.Mend{copyNumber("write the idle's value", key, should)}
		}
	})
}

// jump is the gap as it plays: from the idle into the span, or from the span into the idle.
func (m *meeting) jump(gap float64) float64 {
	if m.Word == "leaves" {
		return gap
	}
	return -gap
}

// endKey is the key at the span's end where it joins, and the place to report: the join's own line where this file has
// no such key.
func (p *Pass) endKey(m *meeting) (at grammar.Ref, key *motion.Key) {
	if m.own.Base == nil {
		return m.At, nil
	}
	for i := range m.own.Base.Keys {
		k := &m.own.Base.Keys[i]
		if k.Time.Add(m.own.Late).Float() == m.Own && p.writable(k) {
			return k.At, k
		}
	}
	return m.At, nil
}
