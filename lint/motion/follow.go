package motion

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// followPart is one control's follow-through behind a leader.
type followPart struct {
	control, leader string
	lagWritten      grammar.Time
	lag             grammar.Rat // frames
	spring          *springPart
	gains           []gainPart
	at              grammar.Ref
}

// springPart is a spring as it is written.
type springPart struct {
	arrives        *grammar.Time
	overshoot      float64 // share
	hertz, damping float64
	at             grammar.Ref
}

// gainPart adds a share of a leader's channel to a follower's.
type gainPart struct {
	channel, leader int
	gain            float64
	at              grammar.Ref
}

// Follow is what a channel takes over from another one.
type Follow struct {
	Leader *Channel
	Gain   float64
	Lag    grammar.Rat // frames
	Spring *Spring     // nil for none
	At     grammar.Ref // the line that gives the gain
	Block  grammar.Ref // the follow's first line

	shifted *drive    // gain × the leader's departure, late; nil with a spring
	swings  *response // the spring's answer to it, before the lag
}

// Adds is what the follow adds to its follower at a time in frames, in the follower's unit.
func (f *Follow) Adds(frames float64) float64 { value, _ := f.signal(frames); return value }

// signal is what the follow adds at a time in frames, and its slope.
func (f *Follow) signal(t float64) (value, slope float64) {
	if f.swings != nil {
		return f.swings.at(t - f.Lag.Float())
	}
	return f.shifted.at(t)
}

func (f *Follow) slopeBefore(t float64) float64 {
	if f.swings != nil {
		_, slope := f.swings.at(t - f.Lag.Float())
		return slope // a spring's answer has no corners
	}
	return f.shifted.before(t)
}

// follows reads the sheet's own follows; each replaces an inherited one of the same control and leader.
func (r *resolver) follows() {
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.FollowLine)
		if !ok || r.Motion.Rig == nil {
			continue
		}
		leader := opener.Leader.Key()
		if len(r.Motion.Rig.ControlChannels(leader)) == 0 {
			if r.Motion.Rig.unreadChannels(func(control, _ string) bool { return control == leader }) {
				continue
			}
			r.unknown(b.Ref(b.Open, opener.Leader.Where()), leader, r.Motion.Rig.Controls(), "the rig `%s` has no control `%s`", r.Motion.Rig.Name, leader)
			continue
		}
		controls := r.controlsOf(opener.Followers, b.Ref(b.Open, opener.Followers.Where()))
		part := r.followPart(b, leader)
		gains := r.gainLines(b, controls, leader)
		for _, control := range controls {
			p := part
			p.control = control
			p.gains = r.gainsOf(gains, control)
			if before := r.material.setFollow(&p); before != nil {
				problem := r.add(ruleRepeatedName, part.at, "`%s` already follows `%s`; put both in one block", control, leader)
				problem.Related = []Related{{before.at, "the first one"}}
				break
			}
		}
	}
}

// setFollow puts a follow in, in place of an inherited one of the same identity; it answers one of this very sheet.
func (m *material) setFollow(p *followPart) (before *followPart) {
	for i, f := range m.follows {
		if f.control != p.control || f.leader != p.leader {
			continue
		}
		if f.at.Path() == p.at.Path() {
			return f
		}
		m.follows[i] = p
		return nil
	}
	m.follows = append(m.follows, p)
	return nil
}

// followPart reads what holds for all followers of a block.
func (r *resolver) followPart(b *grammar.Block, leader string) followPart {
	part := followPart{leader: leader, at: b.RefLine(b.Open)}
	seen := map[string]int{}
	for i, stmt := range b.Entries() {
		switch line := stmt.(type) {
		case *grammar.LagLine:
			r.once(b, i, seen)
			part.lagWritten, part.lag = line.Lag.Time, r.frames(line.Lag.Time)
			if !part.lag.OK() {
				r.add(ruleOutside, b.RefLine(i), "the lag has too many digits to be kept exactly; use a rounder one")
				part.lag = grammar.Rat{}
			}
		case *grammar.SpringLine:
			r.once(b, i, seen)
			part.spring = &springPart{at: b.RefLine(i)}
			if line.Arrives != nil {
				arrives := line.Arrives.Time
				part.spring.arrives, part.spring.overshoot = &arrives, line.Overshoot.Decimal.Value/100
				continue
			}
			part.spring.hertz, part.spring.damping = line.Frequency.Float(), line.Damping.Decimal.Value
		}
	}
	return part
}

// gainLine is a line `CHANNEL GAIN of LEADER-CHANNEL`.
type gainLine struct {
	channel string
	leader  int
	gain    float64
	at      grammar.Ref
}

// gainLines reads a block's gains. A channel must be one that at least one of the followers has.
func (r *resolver) gainLines(b *grammar.Block, controls []string, leader string) []gainLine {
	rig := r.Motion.Rig
	var out []gainLine
	for i, stmt := range b.Entries() {
		line, ok := stmt.(*grammar.GainLine)
		if !ok {
			continue
		}
		from := rig.DialIndex(leader + "/" + line.Leader.Key())
		if from < 0 && rig.unreadChannels(func(_, path string) bool { return path == leader+"/"+line.Leader.Key() }) {
			continue
		}
		if from < 0 {
			r.unknown(b.Ref(i, line.Leader.Where()), line.Leader.Key(), rig.channelNames(leader), "the control `%s` has no channel `%s`", leader, line.Leader.Key())
			continue
		}
		var names []string
		for _, control := range controls {
			names = append(names, rig.channelNames(control)...)
		}
		if len(controls) > 0 && !slices.Contains(names, line.Channel.Key()) {
			if rig.unreadChannels(func(control, path string) bool {
				return slices.Contains(controls, control) && path == control+"/"+line.Channel.Key()
			}) {
				continue
			}
			r.unknown(b.Ref(i, line.Channel.Where()), line.Channel.Key(), names, "none of the followers has a channel `%s`", line.Channel.Key())
			continue
		}
		out = append(out, gainLine{line.Channel.Key(), from, line.Gain.Decimal.Value, b.RefLine(i)})
	}
	return out
}

func (r *resolver) gainsOf(lines []gainLine, control string) []gainPart {
	var out []gainPart
	for _, line := range lines {
		if channel := r.Motion.Rig.DialIndex(control + "/" + line.channel); channel >= 0 {
			out = append(out, gainPart{channel, line.leader, line.gain, line.at})
		}
	}
	return out
}

// weaveFollows joins followers to their leaders and works out their signals, leaders before followers.
func (r *resolver) weaveFollows() {
	for _, part := range r.material.follows {
		for _, g := range part.gains {
			follow := Follow{Leader: &r.Channels[g.leader], Gain: g.gain, Lag: part.lag, At: g.at, Block: part.at}
			follow.Spring = r.spring(part.spring)
			r.Channels[g.channel].Follows = append(r.Channels[g.channel].Follows, follow)
		}
	}
	r.cutRings()
	w := followWeaver{r.Sheet.Length.Float(), r.Sheet.Closed, make([]*drive, len(r.Channels))}
	for i := range r.Channels {
		for k := range r.Channels[i].Follows {
			w.weave(&r.Channels[i].Follows[k])
		}
	}
}

func (r *resolver) spring(part *springPart) *Spring {
	if part == nil {
		return nil
	}
	s := SpringByFrequency(part.hertz, part.damping, r.Sheet.Rate.Float())
	if part.arrives != nil {
		frames := r.frames(*part.arrives)
		if frames.Sign() <= 0 {
			r.add(ruleOutside, part.at, "the arrival comes to %s frames, but must be above 0", frames)
			return nil
		}
		s = SpringByArrival(frames.Float(), part.overshoot)
	}
	return &s
}

// followWeaver works out what leaders do: their base and their own follows, as one drive a channel, each once.
type followWeaver struct {
	length  float64
	closed  bool
	carries []*drive
}

func (w *followWeaver) weave(f *Follow) {
	if f.shifted != nil || f.swings != nil {
		return
	}
	signal := w.carry(f.Leader).departure(f.Gain)
	if f.Spring != nil {
		f.swings = f.Spring.respond(signal)
		return
	}
	f.shifted = signal.late(f.Lag.Float())
}

// carry is what a channel does as its followers read it: its base, late, and its own follows.
func (w *followWeaver) carry(c *Channel) *drive {
	if w.carries[c.Index] != nil {
		return w.carries[c.Index]
	}
	base := constantDrive(c.Dial.Rest, w.length, w.closed)
	if c.Base != nil {
		base = strandDrive(c.Base, w.length, w.closed).late(c.Late.Float())
	}
	drives := []*drive{base}
	for i := range c.Follows {
		f := &c.Follows[i]
		w.weave(f)
		if f.swings != nil {
			drives = append(drives, sampledDrive(w.length, w.closed, f.signal))
			continue
		}
		drives = append(drives, f.shifted)
	}
	w.carries[c.Index] = sum(drives)
	return w.carries[c.Index]
}

// cutRings finds followers that lead back to themselves, channel by channel, reports each ring spelled out and leaves
// out the follow that closes it.
func (r *resolver) cutRings() {
	const unseen, open, done = 0, 1, 2
	state := make([]uint8, len(r.Channels))
	var trail []string
	var visit func(c *Channel)
	visit = func(c *Channel) {
		state[c.Index] = open
		trail = append(trail, c.Dial.Path)
		c.Follows = slices.DeleteFunc(c.Follows, func(f Follow) bool {
			if state[f.Leader.Index] == open {
				from := slices.Index(trail, f.Leader.Dial.Path)
				names := append(slices.Clone(trail[from:]), f.Leader.Dial.Path)
				r.add(ruleRing, f.At, "the followers lead in a ring: %s; let one of them stand alone", arrows(names))
				return true
			}
			if state[f.Leader.Index] == unseen {
				visit(f.Leader)
			}
			return false
		})
		trail = trail[:len(trail)-1]
		state[c.Index] = done
	}
	for i := range r.Channels {
		if state[i] == unseen {
			visit(&r.Channels[i])
		}
	}
}
