package motion

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// changer applies the lines of a `change` block, in order, to inherited material.
type changer struct {
	*resolver
	block *grammar.Block
	line  int
	means map[int]float64 // of the base's curves by channel, taken once before all changes
}

func (r *resolver) changes() {
	var first *grammar.Block
	for _, b := range r.blocks {
		if b.Kind != grammar.ChangeBlock {
			continue
		}
		if first != nil {
			problem := r.add(ruleRepeatedName, b.RefLine(b.Open), "the sheet already has a change; put all lines into one, since their order counts")
			problem.Related = []Related{{first.RefLine(first.Open), "the first one"}}
			continue
		}
		first = b
		if r.Sheet.From == nil {
			r.add(ruleMisplaced, b.RefLine(b.Open), "`change` works on what a sheet inherits, but this sheet has no `from`; name its base first")
			continue
		}
		if r.Base == nil || r.Motion.Rig == nil {
			continue
		}
		c := &changer{resolver: r, block: b, means: r.baseMeans()}
		for i, stmt := range b.Entries() {
			c.line = i
			c.apply(stmt)
		}
	}
}

// baseMeans are the time means of the inherited base curves, in this rig's channels and measures.
func (r *resolver) baseMeans() map[int]float64 {
	f := &refit{from: r.Base.Rig, to: r.Motion.Rig, tall: 1, lost: map[string]bool{}}
	if r.Base.Rig != r.Motion.Rig && r.Base.Rig.Height > 0 {
		f.tall = r.Motion.Rig.Height / r.Base.Rig.Height
	}
	means := map[int]float64{}
	for i := range r.Base.Channels {
		c := &r.Base.Channels[i]
		if to := f.index(i); to >= 0 && c.Base != nil {
			means[to] = c.Base.Curve.Mean() * f.scale(i)
		}
	}
	return means
}

func (c *changer) apply(stmt grammar.Statement) {
	switch line := stmt.(type) {
	case *grammar.AmplifyLine:
		c.amplify(line.Of, line.By.Decimal.Value/100, true)
	case *grammar.ScaleLine:
		c.amplify(line.Of, line.By.Decimal.Value/100, false)
	case *grammar.OffsetLine:
		c.offset(line)
	case *grammar.DelayLine:
		c.delay(line)
	case *grammar.MirrorLine:
		c.mirror(line)
	case *grammar.WithoutLine:
		c.without(line)
	case *grammar.ReseedLine:
		for _, q := range c.material.quivers {
			q.seed = uint64(line.Seed.Decimal.Value)
		}
	case *grammar.SwapLine:
		c.swap(line)
	case *grammar.ReverseLine:
		c.reverse()
	case *grammar.StartLine:
		c.start(line)
	}
}

func (c *changer) ref(at grammar.At) grammar.Ref { return c.block.Ref(c.line, at.Where()) }

// step notes on a value what this line did to it.
func (c *changer) step(changes []Change, value float64) []Change {
	at := c.block.RefLine(c.line)
	return append(changes[:len(changes):len(changes)], Change{at, at.Text(), value})
}

// eachKey calls change for every inherited key of some channels, those of the blocking too.
func (c *changer) eachKey(channels []int, change func(channel int, layer *Layer, k *Key)) {
	visit := func(columns []*columnPart, layer *Layer) {
		for _, column := range columns {
			if !slices.Contains(channels, column.channel) {
				continue
			}
			for i := range column.keys {
				k := &column.keys[i]
				change(column.channel, layer, k)
				k.Changes = c.step(k.Changes, k.Value)
			}
		}
	}
	for _, t := range c.material.tracks {
		visit(t.columns, c.layer(t.layer))
	}
	b := c.material.blocking
	if b == nil {
		return
	}
	visit(b.frozen, nil)
	for i := range b.rows {
		for k := range b.rows[i].values {
			v := &b.rows[i].values[k]
			if !slices.Contains(channels, v.channel) {
				continue
			}
			key := Key{Value: v.value}
			change(v.channel, nil, &key)
			v.value = key.Value
			v.changes = c.step(v.changes, v.value)
		}
	}
}

// amplify makes motion larger or smaller: about the mean of the channel's base curve, or about rest. Departures of a
// layer that adds, amplitudes and depths are multiplied; a follow's gain only where the same line leaves its leader be,
// since the leader's motion brings its own change along.
func (c *changer) amplify(of grammar.PatternText, by float64, aboutMean bool) {
	channels := c.channelsOf(of, c.ref(of.At))
	c.eachKey(channels, func(channel int, layer *Layer, k *Key) {
		about := 0.0
		if layer == nil || layer.Replaces {
			about = c.Motion.Rig.Channels[channel].Rest
			if mean, ok := c.means[channel]; ok && aboutMean {
				about = mean
			}
		}
		k.Value = about + by*(k.Value-about)
		k.In, k.Out = k.In*by, k.Out*by
	})
	c.eachAmount(channels, by)
	for _, f := range c.material.follows {
		for i := range f.gains {
			g := &f.gains[i]
			if slices.Contains(channels, g.channel) && !slices.Contains(channels, g.leader) {
				g.gain *= by
			}
		}
	}
}

func (c *changer) eachAmount(channels []int, by float64) {
	multiply := func(amounts []amountPart) {
		for i := range amounts {
			if slices.Contains(channels, amounts[i].channel) {
				amounts[i].amount *= by
			}
		}
	}
	for _, q := range c.material.quivers {
		multiply(q.amounts)
	}
	for _, b := range c.material.breaths {
		multiply(b.amounts)
	}
}

// offset moves the base curve of some channels; one that no key moves yet gets a key at the start.
func (c *changer) offset(line *grammar.OffsetLine) {
	by := line.By.Decimal.Value
	channels := c.channelsOf(line.Of, c.ref(line.Of.At))
	keyed := map[int]bool{}
	c.eachKey(channels, func(channel int, layer *Layer, k *Key) {
		if layer == nil {
			keyed[channel] = true
			k.Value += by
		}
	})
	for _, channel := range channels {
		if keyed[channel] {
			continue
		}
		dial := &c.Motion.Rig.Channels[channel]
		id := trackIdentity{control: dial.Control}
		track := c.material.track(id)
		if track == nil {
			track = &trackPart{repeat: repeat{period: c.Sheet.Length}, control: dial.Control, at: c.block.RefLine(c.line)}
			c.material.tracks = append(c.material.tracks, track)
		}
		key := Key{Written: &grammar.Time{}, Value: dial.Rest + by, First: dial.Rest + by, At: c.block.RefLine(c.line)}
		if empty := track.column(channel); empty != nil { // a column that the base began and left without a key
			empty.keys = []Key{key}
			continue
		}
		track.columns = append(track.columns, &columnPart{channel, []Key{key}})
	}
}

// delay makes controls play later: their base, and their follow-through behind its leaders.
func (c *changer) delay(line *grammar.DelayLine) {
	row, ok := c.lateRow(line.Of, line.By, c.block, c.line)
	if !ok {
		return
	}
	c.material.delays = append(c.material.delays, row)
	for _, f := range c.material.follows {
		if slices.Contains(row.controls, f.control) {
			f.lagWritten = f.lagWritten.Add(row.written)
			f.lag = c.frames(f.lagWritten)
		}
	}
}

func (c *changer) without(line *grammar.WithoutLine) {
	m := c.material
	match := func(name string) bool { return line.Of == nil || line.Of.Match(name) }
	before := m.count(line.Kind)
	switch line.Kind {
	case "quiver":
		m.quivers = slices.DeleteFunc(m.quivers, func(q *quiverPart) bool { return match(q.name) })
	case "breath":
		m.breaths = slices.DeleteFunc(m.breaths, func(b *breathPart) bool { return match(b.name) })
	case "track":
		m.tracks = slices.DeleteFunc(m.tracks, func(t *trackPart) bool {
			return match(t.control) && (line.Layer == nil || line.Layer.Key() == t.layer)
		})
	case "follow":
		m.follows = slices.DeleteFunc(m.follows, func(f *followPart) bool {
			return match(f.control) && (line.After == nil || line.After.Key() == f.leader)
		})
	case "layer":
		m.tracks = slices.DeleteFunc(m.tracks, func(t *trackPart) bool { return t.layer != "" && match(t.layer) })
		m.quivers = slices.DeleteFunc(m.quivers, func(q *quiverPart) bool { return q.layer != "" && match(q.layer) })
		m.breaths = slices.DeleteFunc(m.breaths, func(b *breathPart) bool { return b.layer != "" && match(b.layer) })
	case "plant":
		m.plants = slices.DeleteFunc(m.plants, func(p *plantPart) bool { return match(p.goal) })
	case "blocking":
		m.blocking = nil
	case "overlap":
		m.late = slices.DeleteFunc(m.late, func(l lateRow) bool { return match(l.pattern) })
	case "notes":
		return // notes move nothing
	}
	if m.count(line.Kind) == before {
		name := line.Kind
		if line.Of != nil {
			name += " " + line.Of.Text
		}
		c.add(ruleUnknownName, c.block.RefLine(c.line), "the base has no %s to leave out", name)
	}
}

// count is how many parts of a kind there are.
func (m *material) count(kind string) int {
	switch kind {
	case "quiver":
		return len(m.quivers)
	case "breath":
		return len(m.breaths)
	case "follow":
		return len(m.follows)
	case "plant":
		return len(m.plants)
	case "overlap":
		return len(m.late)
	case "blocking":
		if m.blocking == nil {
			return 0
		}
		return 1
	}
	return len(m.tracks) + len(m.quivers) + len(m.breaths)
}

// swap puts one pose where another stood in the blocking.
func (c *changer) swap(line *grammar.SwapLine) {
	pose := c.poseOf[line.New.Key()]
	if pose == nil {
		c.noPose(c.ref(line.New.At), line.New.Key())
		return
	}
	pose.Used = true
	b := c.material.blocking
	if b != nil && b.frozen != nil {
		c.add(ruleMisplaced, c.block.RefLine(c.line), "poses cannot be swapped after `reverse`; move this line above it")
		return
	}
	swapped := 0
	for i := 0; b != nil && i < len(b.rows); i++ {
		row := &b.rows[i]
		if row.pose != line.Old.Key() {
			continue
		}
		swapped++
		row.pose, row.values = pose.Name, pose.rowValues()
		for k := range row.values {
			v := &row.values[k]
			v.changes = c.step(v.changes, v.value)
		}
	}
	if swapped == 0 {
		var there []string
		for i := 0; b != nil && i < len(b.rows); i++ {
			there = append(there, b.rows[i].pose)
		}
		c.unknown(c.ref(line.Old.At), line.Old.Key(), there, "the inherited blocking has no row with the pose `%s`", line.Old.Key())
		return
	}
	b.complete(c.resolver)
}

// reverse runs time backward within each block's period. Slopes swap and turn round, a straight mark moves to the other
// end of its segment and so does an easing, turned over; a stay keeps holding forward.
func (c *changer) reverse() {
	for _, t := range c.material.tracks {
		for _, column := range t.columns {
			column.keys = c.reversed(column.keys, t.repeat)
		}
	}
	b := c.material.blocking
	if b == nil {
		return
	}
	b.frozen = b.columns(c.resolver)
	for _, column := range b.frozen {
		column.keys = c.reversed(column.keys, b.repeat)
	}
	for i := range b.rows {
		row := &b.rows[i]
		at := row.time
		if row.held {
			at = row.until
		}
		row.time = c.turnedBack(at, b.period)
		row.written = &grammar.Time{Frames: row.time}
		row.held = false
	}
	slices.SortStableFunc(b.rows, func(x, y blockRow) int { return x.time.Cmp(y.time) })
}

// turnedBack is where a moment comes when time runs backward. In a cycle the start stays the start.
func (c *changer) turnedBack(t, period grammar.Rat) grammar.Rat { return period.Sub(t) }

func (c *changer) reversed(keys []Key, over repeat) []Key {
	closed := c.Sheet.Closed || over.every != nil
	if len(keys) == 0 {
		return keys
	}
	hasClosing := keys[len(keys)-1].Time == over.period
	hasStart := keys[0].Time.IsZero()
	n := len(keys)
	out := make([]Key, n)
	for i := range keys {
		k := keys[n-1-i]
		k.Time = over.period.Sub(k.Time)
		k.In, k.Out = -k.Out, -k.In
		k.Written = &grammar.Time{Frames: k.Time}
		k.Changes = c.step(k.Changes, k.Value)
		out[i] = k
	}
	// The key that a segment left is now the one at which it arrives.
	for i := range out {
		from := n - 2 - i // in keys: the one whose segment arrived at out[i] before
		if from < 0 {
			from = n - 1
			if !closed || hasStart && hasClosing {
				from = -1
			}
		}
		moveLeaving(&out[i], keys, n-1-i, from)
	}
	if closed && hasStart && !hasClosing {
		// The row at 0 would become the closing row; it stays the first.
		last := out[n-1]
		last.Time, last.Written = grammar.Rat{}, &grammar.Time{}
		out = append([]Key{last}, out[:n-1]...)
	} else if closed && hasClosing && !hasStart {
		first := out[0]
		first.Time, first.Written = over.period, &grammar.Time{Frames: over.period}
		out = append(out[1:], first)
	}
	return out
}

// moveLeaving gives a reversed key the straight mark and the easing of the segment that arrived at it before.
func moveLeaving(k *Key, keys []Key, self, from int) {
	k.Ease = nil
	straight := false
	if from >= 0 {
		before := &keys[from]
		straight = before.Shape == Straight
		if e := before.Ease; e != nil {
			k.Ease = &Ease{1 - e.X2, 1 - e.Y2, 1 - e.X1, 1 - e.Y1}
		}
	}
	switch {
	case straight && (k.Shape == Smooth || k.Shape == Straight):
		k.Shape, k.Marked = Straight, true
	case keys[self].Shape == Straight:
		k.Shape, k.Marked = Smooth, false
	}
}

// start turns the cycle so that a moment comes first. What repeats within it turns by what is left of that moment.
func (c *changer) start(line *grammar.StartLine) {
	if !c.Sheet.Closed {
		c.add(ruleMisplaced, c.block.RefLine(c.line), "a span has no other start; only a cycle can be turned")
		return
	}
	first := c.frames(line.When.Time)
	for _, t := range c.material.tracks {
		for _, column := range t.columns {
			column.keys = turned(column.keys, first, t.period)
		}
	}
	if b := c.material.blocking; b != nil {
		c.turnRows(b, first)
	}
	for _, breath := range c.material.breaths {
		breath.starts = breath.starts.Sub(first)
		breath.startsWritten = grammar.Time{Frames: breath.starts}
	}
	for _, p := range c.material.plants {
		shift := grammar.Time{Frames: first.Neg()}
		p.from, p.to = p.from.Add(shift), p.to.Add(shift)
	}
}

func (c *changer) turnRows(b *blockingPart, first grammar.Rat) {
	for _, column := range b.frozen {
		column.keys = turned(column.keys, first, b.period)
	}
	if n := len(b.rows); n > 1 && b.rows[n-1].time == b.period && b.rows[0].time.IsZero() {
		b.rows = b.rows[:n-1] // the closing row stands for the first one
	}
	for i := range b.rows {
		row := &b.rows[i]
		to := row.time.Sub(first).Mod(b.period)
		if row.held {
			row.until = row.until.Add(to.Sub(row.time))
			row.untilWritten = &grammar.Time{Frames: row.until}
		}
		row.time, row.written = to, &grammar.Time{Frames: to}
	}
	slices.SortStableFunc(b.rows, func(x, y blockRow) int { return x.time.Cmp(y.time) })
}

// turned moves keys earlier round their period. A closing row and the first row become one key inside the cycle: it
// arrives as the closing row did and leaves as the first row does.
func turned(keys []Key, first, period grammar.Rat) []Key {
	if period.Sign() <= 0 || first.Mod(period).IsZero() {
		return keys
	}
	n := len(keys)
	if n > 1 && keys[n-1].Time == period && keys[0].Time.IsZero() {
		keys = joinEnds(keys)
	}
	out := make([]Key, len(keys))
	for i, k := range keys {
		k.Time = k.Time.Sub(first).Mod(period)
		k.Written = &grammar.Time{Frames: k.Time}
		out[i] = k
	}
	slices.SortStableFunc(out, func(a, b Key) int { return a.Time.Cmp(b.Time) })
	return out
}

func joinEnds(keys []Key) []Key {
	closing := keys[len(keys)-1]
	joined := slices.Clone(keys[:len(keys)-1])
	k := &joined[0]
	switch {
	case !k.Marked && closing.Marked:
		k.Shape, k.In, k.Out, k.Marked = closing.Shape, closing.In, closing.Out, true
	case k.Shape == Sloped && closing.Shape == Sloped:
		k.In = closing.In
	}
	if k.Ease == nil {
		k.Ease = closing.Ease
	}
	return joined
}
