package motion

import "slices"

// Voice stands for all that decides how a channel plays: its dial, its curves and how late they are, its layers, quivers,
// breaths and leaders, and the sheet's length and rate. Two channels with one voice have the same value at every time, and so
// has whatever is worked out from how they play alone. The channels of one motion have one each; those of a motion that was
// resolved after an earlier one share that one's where they play as before, wherever what moves them stands in the text.
type Voice struct{ _ byte } // a byte, since addresses of things without a size may be alike

// voicing gives the channels of a motion their voices.
type voicing struct {
	now, before *Motion // before is nil where no channel can play as before
}

func (r *resolver) voices() {
	w := voicing{now: r.Motion}
	if e := r.earlier; e != nil && e.Rig != nil && e.Sheet != nil && e.Rig.origin == r.Motion.Rig.origin &&
		len(e.Channels) == len(r.Channels) && e.Sheet.Length == r.Sheet.Length && e.Sheet.Rate == r.Sheet.Rate && e.Sheet.Closed == r.Sheet.Closed {
		w.before = e
	}
	for i := range r.Channels {
		w.voice(i)
	}
}

// voice gives a channel its voice, and its leaders theirs first.
func (w *voicing) voice(i int) {
	c := &w.now.Channels[i]
	if c.Voice != nil {
		return
	}
	for k := range c.Follows {
		w.voice(c.Follows[k].Leader.Index)
	}
	if w.before != nil && c.playsAs(&w.before.Channels[i]) && w.now.Sheet.Advance[c.Dial.Path] == w.before.Sheet.Advance[c.Dial.Path] {
		c.Voice = w.before.Channels[i].Voice
		return
	}
	c.Voice = new(Voice)
}

// playsAs compares all that moves two channels of one rig, in sheets of one length and rate. What is not sure to be the same
// counts as different.
func (c *Channel) playsAs(o *Channel) bool {
	return c.Dial == o.Dial && c.Late == o.Late && c.Base.curve() == o.Base.curve() &&
		slices.EqualFunc(c.Follows, o.Follows, sameFollow) &&
		slices.EqualFunc(c.Waves, o.Waves, sameWave) &&
		slices.EqualFunc(c.over, o.over, sameOverlay)
}

// sameFollow may say no where only what a leader's layers, quivers and breaths do has changed, which no follower reads.
func sameFollow(a, b Follow) bool {
	return a.Leader.Voice == b.Leader.Voice && a.Gain == b.Gain && a.Lag == b.Lag && samePointed(a.Spring, b.Spring)
}

func sameWave(a, b Wave) bool { return a.Quiver == b.Quiver && samePointed(a.Breath, b.Breath) }

func sameOverlay(a, b overlay) bool {
	return a.layer.Strength == b.layer.Strength && a.layer.Replaces == b.layer.Replaces && a.strand.curve() == b.strand.curve() &&
		slices.EqualFunc(a.waves, b.waves, sameWave)
}

// curve is a strand's curve; nil where there is no strand.
func (s *Strand) curve() *Curve {
	if s == nil {
		return nil
	}
	return s.Curve
}
