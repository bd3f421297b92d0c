package motion

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// linkBase finds and resolves the sheet that this one is a variant of. It answers nil, and says why, where there is none
// or where it leads back here.
func (r *resolver) linkBase() *Motion {
	from := r.Sheet.From
	if from == nil || !r.chainOfSheets() {
		return nil
	}
	var found problems
	file := r.project.linked(r.File, from.File, r.Sheet.Lines["from"], &found)
	if file == nil || file == r.File {
		return nil
	}
	base := r.project.shared(file)
	for _, linked := range base.Linked {
		r.link(linked)
	}
	if base.Sheet == nil || base.Rig == nil || base.material == nil {
		return nil
	}
	return base
}

// inheritHeader takes the header over from the base: beats stay beats and seconds seconds, and frames stay as long as
// they were, which at another rate is another number of frames.
func (r *resolver) inheritHeader(base *Sheet) {
	s := r.Sheet
	s.Rate, s.Beat, s.Closed, s.View = base.Rate, base.Beat, base.Closed, base.View
	s.length, s.grid, s.phase = base.length, base.grid, base.phase
	for path, gain := range base.Advance {
		s.Advance[path] = gain
	}
}

// retime is how the base's times become this sheet's.
type retime struct {
	frames grammar.Rat // this rate ÷ the base's
	slope  float64     // the base's beat ÷ this one, both in frames
	r      *resolver
}

func (t *retime) written(w grammar.Time) grammar.Time {
	w.Frames = w.Frames.Mul(t.frames)
	return w
}

func (t *retime) pointer(w *grammar.Time) *grammar.Time {
	if w == nil || w.Frames.IsZero() || t.frames == grammar.Whole(1) {
		return w
	}
	out := t.written(*w)
	return &out
}

func (t *retime) in(w *grammar.Time) grammar.Rat { return t.r.frames(*w) }

// inherit takes the base's material over: its times worked out anew, its channels found in this sheet's rig, and all of
// it repeated where this cycle is longer than the base's.
func (r *resolver) inherit(base *Motion) {
	m := base.material.copied()
	t := &retime{r.Sheet.Rate.Div(base.Sheet.Rate), base.Sheet.Beat.Float() / r.Sheet.Beat.Float(), r}
	every := r.roundOf(base, t)
	fit := func(old repeat) repeat {
		if old.every == nil {
			return every
		}
		written := t.written(*old.every)
		return repeat{&written, r.frames(written)}
	}
	for _, track := range m.tracks {
		track.repeat = fit(track.repeat)
		for _, c := range track.columns {
			t.keys(c.keys)
		}
	}
	if b := m.blocking; b != nil {
		b.repeat = fit(b.repeat)
		t.rows(b)
	}
	for i := range m.late {
		m.late[i].written = t.written(m.late[i].written)
		m.late[i].late = r.frames(m.late[i].written)
	}
	for i := range m.delays {
		m.delays[i].written = t.written(m.delays[i].written)
		m.delays[i].late = r.frames(m.delays[i].written)
	}
	for _, f := range m.follows {
		f.lagWritten = t.written(f.lagWritten)
		f.lag = r.frames(f.lagWritten)
		if f.spring != nil {
			spring := *f.spring
			spring.arrives = t.pointer(spring.arrives)
			f.spring = &spring
		}
	}
	for _, q := range m.quivers {
		q.repeat = fit(q.repeat)
	}
	for _, b := range m.breaths {
		b.repeat = fit(b.repeat)
		b.startsWritten = t.written(b.startsWritten)
		b.starts = r.frames(b.startsWritten)
	}
	for _, p := range m.plants {
		p.repeat = fit(p.repeat)
		p.from, p.to = t.written(p.from), t.written(p.to)
	}
	r.material = m
	r.fitRig(base)
}

func (t *retime) keys(keys []Key) {
	for i := range keys {
		k := &keys[i]
		k.Written = t.pointer(k.Written)
		k.Time = t.in(k.Written)
		k.In, k.Out = k.In*t.slope, k.Out*t.slope
	}
}

func (t *retime) rows(b *blockingPart) {
	for i := range b.rows {
		row := &b.rows[i]
		row.written = t.pointer(row.written)
		row.time = t.in(row.written)
		if row.held {
			row.untilWritten = t.pointer(row.untilWritten)
			row.until = t.in(row.untilWritten)
		}
	}
	for _, c := range b.frozen {
		t.keys(c.keys)
	}
}

// roundOf is the period of inherited material that repeats once in the base's length: that length, where this sheet's
// is longer and holds it a whole number of times.
func (r *resolver) roundOf(base *Motion, t *retime) repeat {
	written := t.written(base.Sheet.length)
	length := r.frames(written)
	if length == r.Sheet.Length || length.Sign() <= 0 || r.Sheet.Length.Sign() <= 0 {
		return repeat{period: r.Sheet.Length}
	}
	if rounds := r.Sheet.Length.Div(length); !rounds.IsWhole() {
		word := "cycle"
		if !r.Sheet.Closed {
			word = "span"
		}
		r.add(rulePartCycle, r.Sheet.At(word), "the base's length of %s fits this one's %s times; it must fit a whole number of times", base.Sheet.length, rounds)
		return repeat{period: r.Sheet.Length}
	}
	return repeat{&written, length}
}

// fitRig finds the inherited channels in this sheet's rig. With another rig, lengths in cm scale with the figures'
// heights, and what the rig lacks is left out and said once.
func (r *resolver) fitRig(base *Motion) {
	if base.Rig == r.Motion.Rig {
		return
	}
	f := &refit{from: base.Rig, to: r.Motion.Rig, tall: 1, lost: map[string]bool{}}
	if base.Rig.Height > 0 && r.Motion.Rig.Height > 0 {
		f.tall = r.Motion.Rig.Height / base.Rig.Height
	}
	m := r.material
	for _, track := range m.tracks {
		track.columns = f.columns(track.columns)
	}
	m.tracks = slices.DeleteFunc(m.tracks, func(t *trackPart) bool { return len(t.columns) == 0 })
	if m.blocking != nil {
		for i := range m.blocking.rows {
			m.blocking.rows[i].values = f.values(m.blocking.rows[i].values)
		}
		m.blocking.frozen = f.columns(m.blocking.frozen)
	}
	f.others(m)
	for path := range r.Sheet.Advance {
		if i := base.Rig.DialIndex(path); i >= 0 {
			r.Sheet.Advance[path] *= f.scale(i)
		}
	}
	if len(f.lost) == 0 {
		return
	}
	var names []string
	for path := range f.lost {
		names = append(names, "`"+path+"`")
	}
	slices.Sort(names)
	at := r.Sheet.At("from")
	r.add(ruleLostChannel, at, "the rig `%s` has no %s, so that part of the base's motion is left out", r.Motion.Rig.Name, strings.Join(names, ", "))
}

// refit moves material from one rig to another.
type refit struct {
	from, to *Rig
	tall     float64 // the new figure's height ÷ the old one's
	lost     map[string]bool
}

// index finds a channel in the new rig, -1 where it lacks it.
func (f *refit) index(channel int) int {
	path := f.from.Channels[channel].Path
	i := f.to.DialIndex(path)
	if i < 0 {
		f.lost[path] = true
	}
	return i
}

// scale is what a channel's values are multiplied by.
func (f *refit) scale(channel int) float64 {
	if f.from.Channels[channel].Unit == "cm" {
		return f.tall
	}
	return 1
}

func (f *refit) columns(columns []*columnPart) []*columnPart {
	var out []*columnPart
	for _, c := range columns {
		i := f.index(c.channel)
		if i < 0 {
			continue
		}
		scale := f.scale(c.channel)
		for k := range c.keys {
			key := &c.keys[k]
			key.Value, key.In, key.Out = key.Value*scale, key.In*scale, key.Out*scale
		}
		out = append(out, &columnPart{i, c.keys})
	}
	return out
}

func (f *refit) values(values []rowValue) []rowValue {
	var out []rowValue
	for _, v := range values {
		if i := f.index(v.channel); i >= 0 {
			v.value *= f.scale(v.channel)
			v.channel = i
			out = append(out, v)
		}
	}
	return out
}

func (f *refit) others(m *material) {
	for _, p := range m.follows {
		p.gains = slices.DeleteFunc(p.gains, func(g gainPart) bool { return f.index(g.channel) < 0 || f.index(g.leader) < 0 })
		for i := range p.gains {
			g := &p.gains[i]
			g.gain *= f.scale(g.channel) / f.scale(g.leader)
			g.channel, g.leader = f.index(g.channel), f.index(g.leader)
		}
	}
	for _, q := range m.quivers {
		q.amounts = f.amounts(q.amounts)
	}
	for _, b := range m.breaths {
		b.amounts = f.amounts(b.amounts)
	}
}

func (f *refit) amounts(amounts []amountPart) []amountPart {
	var out []amountPart
	for _, a := range amounts {
		if i := f.index(a.channel); i >= 0 {
			a.amount *= f.scale(a.channel)
			a.channel = i
			out = append(out, a)
		}
	}
	return out
}

// inheritPoses takes the base's poses over; their values are worked out already.
func (r *resolver) inheritPoses(base *Motion) {
	f := &refit{from: base.Rig, to: r.Motion.Rig, tall: 1, lost: map[string]bool{}}
	if base.Rig != r.Motion.Rig && base.Rig.Height > 0 {
		f.tall = r.Motion.Rig.Height / base.Rig.Height
	}
	for _, p := range base.Poses {
		c := *p
		c.Values = nil
		for _, v := range p.Values {
			if i := f.index(v.Channel); i >= 0 {
				v.Value *= f.scale(v.Channel)
				v.Channel = i
				c.Values = append(c.Values, v)
			}
		}
		c.inherited, c.state = true, 2
		r.Poses = append(r.Poses, &c)
		r.poseOf[c.Name] = &c
	}
}

// inheritLayers takes the base's layers and easings over.
func (r *resolver) inheritLayers(base *Motion) {
	for _, l := range base.Layers {
		c := *l
		c.inherited = true
		r.Layers = append(r.Layers, &c)
	}
	r.Eases = append(r.Eases, base.Eases...)
	for i := range r.Eases {
		r.Eases[i].inherited = true
	}
}

// replacePoses puts this sheet's own poses in the inherited blocking, where they have the name of one of the base's.
func (r *resolver) replacePoses() {
	if r.material.blocking == nil {
		return
	}
	for i := range r.material.blocking.rows {
		row := &r.material.blocking.rows[i]
		if p := r.poseOf[row.pose]; p != nil && p.replaces() {
			row.values = p.rowValues()
			p.Used = true
		}
	}
	r.material.blocking.complete(r)
}

// amend replaces or adds single cells of inherited tracks.
func (r *resolver) amend() {
	seen := map[trackIdentity]grammar.Ref{}
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.AmendLine)
		if !ok {
			continue
		}
		id := trackIdentity{opener.Control.Key(), layerKey(opener.Layer)}
		at := b.Ref(b.Open, opener.Control.Where())
		if before, twice := seen[id]; twice {
			problem := r.add(ruleRepeatedName, at, "the control `%s` is already amended%s; put both in one", id.control, inLayer(id.layer))
			problem.Related = []Related{{before, "the first one"}}
			if r.Base != nil { // it is read for its own faults alone
				r.readTrack(b, id, r.amendPeriod(id), opener.Control)
				r.material.tracks = r.material.tracks[:len(r.material.tracks)-1]
			}
			continue
		}
		seen[id] = at
		if r.Sheet.From == nil {
			r.add(ruleMisplaced, b.RefLine(b.Open), "`amend` changes what a sheet inherits, but this sheet has no `from`; write `track` instead")
			continue
		}
		if r.Base != nil {
			r.amendTrack(b, id, opener.Control)
		}
	}
}

// amendPeriod is how long the cells of an amend last until they come again.
func (r *resolver) amendPeriod(id trackIdentity) repeat {
	old := r.material.track(id)
	switch {
	case old != nil:
		return old.repeat
	case id.layer == "" && r.material.blocking != nil:
		return r.material.blocking.repeat
	}
	return repeat{period: r.Sheet.Length}
}

// amendTrack reads an amend's cells as a track of the inherited one's period, and puts them into it. Where only the
// blocking keys the control, they stand beside it, and beat it at their moments.
func (r *resolver) amendTrack(b *grammar.Block, id trackIdentity, control grammar.Name) {
	old := r.material.track(id)
	r.readTrack(b, id, r.amendPeriod(id), control)
	last := len(r.material.tracks) - 1
	own := r.material.tracks[last]
	if old == nil {
		return
	}
	r.material.tracks = r.material.tracks[:last]
	for _, c := range own.columns {
		into := old.column(c.channel)
		if into == nil {
			old.columns = append(old.columns, c)
			continue
		}
		into.keys = amendKeys(into.keys, c.keys)
	}
}

// amendKeys puts keys in place of those at the same time, or between those at others.
func amendKeys(keys, own []Key) []Key {
	for _, k := range own {
		at, found := slices.BinarySearchFunc(keys, k, func(a, b Key) int { return a.Time.Cmp(b.Time) })
		if found {
			keys[at] = k
			continue
		}
		keys = slices.Insert(keys, at, k)
	}
	return keys
}
