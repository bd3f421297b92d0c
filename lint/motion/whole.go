package motion

import (
	"slices"
	"sync"
)

// whole stands for how a whole motion plays, as a [Voice] does for one channel: motions of which one was resolved after the
// other share it where every channel has its voice still, and nothing else that moves a joint has changed. What is worked out
// from the motion as it plays is kept here.
type whole struct {
	once     sync.Once
	likeness *Likeness
}

func (r *resolver) wholes() {
	if e := r.earlier; e != nil && e.whole != nil && r.Motion.playsAs(e) {
		r.whole = e.whole
		return
	}
	r.whole = new(whole)
}

// playsAs compares all that a motion's figures are made from.
func (m *Motion) playsAs(o *Motion) bool {
	return m.Rig.origin == o.Rig.origin && len(m.Channels) == len(o.Channels) && m.Sheet.Beat == o.Sheet.Beat &&
		slices.EqualFunc(m.Channels, o.Channels, func(a, b Channel) bool { return a.Voice == b.Voice }) &&
		slices.Equal(m.solved, o.solved) && slices.EqualFunc(m.Plants, o.Plants, samePlant)
}

// samePlant compares plants wherever they stand in the text.
func samePlant(a, b Plant) bool {
	a.At = b.At
	return a == b
}

// Likeness is what the members of a family are compared by; nil for a span, and for a rig without joints. It is worked out once.
func (m *Motion) Likeness() *Likeness {
	if m.whole == nil {
		return m.SampledByBeat(samplesABeat).Likeness()
	}
	m.whole.once.Do(func() { m.whole.likeness = m.SampledByBeat(samplesABeat).Likeness() })
	return m.whole.likeness
}
