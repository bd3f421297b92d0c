package lint

import (
	"fmt"
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// meeting is one channel at one end of a span, and the same channel of the idle that it meets there.
type meeting struct {
	*motion.Join
	own, idle  *motion.Channel
	when       float64 // in the idle's frames
	idleSheet  *motion.Sheet
	is, should float64 // the values of both, quivers left out
}

// meetings gives every channel of the span at each of its joins whose idle has the channel too.
func (p *Pass) meetings(each func(m *meeting)) {
	if len(p.Motion.Joins) == 0 || !certain(p.Motion) {
		return
	}
	for i := range p.Motion.Joins {
		join := &p.Motion.Joins[i]
		idle, when := join.Idle()
		if !certain(idle) {
			continue
		}
		for k := range p.Motion.Channels {
			own := &p.Motion.Channels[k]
			there := idle.Channel(own.Dial.Path)
			if there == nil {
				continue
			}
			m := &meeting{Join: join, own: own, idle: there, when: when, idleSheet: idle.Sheet}
			m.is, m.should = posed(own, join.Own), posed(there, when)
			// An idle that steps at this moment is met on both sides of the step.
			if before := posed(there, when-1e-6); math.Abs(m.is-before) < math.Abs(m.is-m.should) {
				m.should = before
			}
			each(m)
		}
	}
}

// posed is a channel's value without its quivers.
func posed(c *motion.Channel, frames float64) float64 {
	quiver, _ := c.Quivered(frames)
	return c.At(frames) - quiver
}

// travels tells whether the idle carries the channel on from round to round, so that where it is says nothing.
func (m *meeting) travels() bool { return m.idleSheet.Advance[m.own.Dial.Path] != 0 }

// leaves tells whether the meeting is at the span's start.
func (m *meeting) leaves() bool { return m.Word == "leaves" }

// jump is the gap as it plays: from the idle into the span, or from the span into the idle.
func (m *meeting) jump(gap float64) float64 {
	if m.leaves() {
		return gap
	}
	return -gap
}

// endKey is the key that gives the base's value at the span's end where it joins, nil where several do or none.
func (m *meeting) endKey() *motion.Key {
	base := m.own.Base
	if base == nil || base.Closed() {
		return nil
	}
	k := &base.Keys[0]
	if !m.leaves() {
		k = &base.Keys[len(base.Keys)-1]
	}
	plays := k.Time.Add(m.own.Late).Float()
	if m.leaves() && plays < m.Own || !m.leaves() && plays > m.Own {
		return nil
	}
	return k
}

// reportAt is the key at the span's end, or the join's own line.
func (m *meeting) reportAt() grammar.Ref {
	if k := m.endKey(); k != nil {
		return k.At
	}
	return m.At
}

// joinFaults are meetings that are at fault, by the place at which they are reported.
type joinFaults struct {
	order []grammar.Ref
	all   map[grammar.Ref][]joinFault
}

type joinFault struct {
	*meeting
	over float64 // how many limits it is off
}

func (f *joinFaults) add(at grammar.Ref, m *meeting, over float64) {
	if f.all == nil {
		f.all = map[grammar.Ref][]joinFault{}
	}
	if f.all[at] == nil {
		f.order = append(f.order, at)
	}
	f.all[at] = append(f.all[at], joinFault{m, over})
}

// worst is the meeting that is farthest off at a place, and how many more there are.
func (f *joinFaults) worst(at grammar.Ref) (m *meeting, more int) {
	worst := f.all[at][0]
	for _, fault := range f.all[at] {
		if fault.over > worst.over {
			worst = fault
		}
	}
	return worst.meeting, len(f.all[at]) - 1
}

// explainJoin adds what else is at fault at the same place, and what to do: the keys may be right and play too late.
func (p *Pass) explainJoin(finding *Finding, m *meeting, more int, advice string) {
	if more > 0 {
		finding.Message += fmt.Sprintf(" (and %s more with it)", plural(more, "channel"))
	}
	finding.Related = []motion.Related{{At: m.At, Message: "the join"}}
	late := m.own.Base != nil && m.own.Late.Sign() > 0
	if late {
		finding.Related = append(finding.Related, motion.Related{At: m.own.LateAt, Message: "the overlap"})
	}
	switch {
	case m.own.Base == nil:
		advice = "; no key of the span's own holds it there"
	case late && m.leaves():
		advice = fmt.Sprintf("; its keys play %s late, and until then it stays as it is", duration(p.Motion.Sheet, m.own.Late))
	case late && m.endKey() == nil:
		advice = fmt.Sprintf("; its keys play %s late, so let them end that much earlier", duration(p.Motion.Sheet, m.own.Late))
	}
	finding.Message += advice
}

// speeds are both channels' speeds a second at the join, quivers left out: the span's inside; the idle's on the side
// that is nearer.
func (m *meeting) speeds(own *motion.Sheet) (is, should float64) {
	left, right := steady(m.own, m.Own)
	if m.leaves() {
		left = right
	}
	is = left * own.Rate.Float()
	before, after := steady(m.idle, m.when)
	before, after = before*m.idleSheet.Rate.Float(), after*m.idleSheet.Rate.Float()
	outside, inside := before, after
	if !m.leaves() {
		outside, inside = after, before
	}
	if math.Abs(is-inside) < math.Abs(is-outside)-1e-9 {
		return is, inside
	}
	return is, outside
}

// steady is a channel's speed a frame before and after a time, without its quivers.
func steady(c *motion.Channel, frames float64) (left, right float64) {
	left, right = c.Slope(frames)
	_, quiver := c.Quivered(frames)
	return left - quiver, right - quiver
}

// speedJumps tells whether the speed jumps by more than is let pass: a share of the larger of both peaks, or a corner
// sharper than any that one of the two makes elsewhere.
func (m *meeting) speedJumps(p *Pass, r *Rule) (over float64, ok bool) {
	is, should := m.speeds(p.Motion.Sheet)
	jump, limit := math.Abs(is-should), r.limit("deg/s")
	if m.own.Dial.Unit == "cm" {
		limit = r.limit("cm/s")
	}
	if jump <= limit || p.darts(m.own) {
		return 0, false
	}
	for _, side := range []struct {
		channel *motion.Channel
		sheet   *motion.Sheet
	}{{m.own, p.Motion.Sheet}, {m.idle, m.idleSheet}} {
		rate := side.sheet.Rate.Float()
		limit = max(limit, r.limit("%")/100*peakOf(side.channel, side.sheet)*rate)
		if side.channel.Base != nil {
			corner, _ := side.channel.Base.Curve.SharpestCorner()
			limit = max(limit, corner*rate+1e-9)
		}
	}
	return jump / limit, jump > limit
}

// darts tells whether a channel moves eyes or lids, which go from rest to full speed within a frame.
func (p *Pass) darts(c *motion.Channel) bool {
	part := p.Motion.Rig.PartOf(c.Dial)
	return part == motion.PartEye || part == motion.PartLid
}

// peakOf is a channel's greatest speed a frame, quivers left out, looked at twice a frame.
func peakOf(c *motion.Channel, s *motion.Sheet) (peak float64) {
	if !c.Moves() {
		return 0
	}
	for i := range int(2*s.Length.Float()) + 1 {
		left, right := steady(c, float64(i)/2)
		peak = max(peak, math.Abs(left), math.Abs(right))
	}
	return peak
}
