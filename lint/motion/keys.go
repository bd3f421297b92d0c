package motion

import (
	"fmt"
	"sort"

	"github.com/motet-sheet/motet/grammar"
)

// strandKey names one curve: a channel in a layer, -1 being the base.
type strandKey struct{ channel, layer int }

// strandBuilder gathers the keys of one curve from the blocks that give it some.
type strandBuilder struct {
	parts []*strandPart
}

// strandPart is the keys that one block gives a channel, and the period after which they come again.
type strandPart struct {
	period grammar.Rat
	keys   []Key
}

func (r *resolver) strand(channel, layer int) *strandBuilder {
	key := strandKey{channel, layer}
	b := r.strands[key]
	if b == nil {
		b = &strandBuilder{}
		r.strands[key] = b
	}
	return b
}

// part opens the keys of one block; keys of one block stay together, since they share a period.
func (b *strandBuilder) part(period grammar.Rat) *strandPart {
	p := &strandPart{period: period}
	b.parts = append(b.parts, p)
	return p
}

// period is the length after which a block's material comes again: its `every`, or the sheet's whole length.
func (r *resolver) period(every *grammar.Moment, at grammar.Ref) grammar.Rat {
	length := r.Sheet.Length
	if every == nil || length.Sign() <= 0 {
		return length
	}
	period := r.frames(every.Time)
	if period.Sign() <= 0 || !period.OK() {
		return length
	}
	if rounds := length.Div(period); !rounds.IsWhole() {
		r.partCycle(every, at, rounds)
		return length
	}
	return period
}

// partCycle reports a period that does not fit, with the nearest that do.
func (r *resolver) partCycle(every *grammar.Moment, at grammar.Ref, rounds grammar.Rat) {
	problem := r.add("part-cycle", at, "a period of %s fits the length of %s frames %s times; it must fit a whole number of times", every.Time, r.Sheet.Length, rounds)
	for _, n := range []int64{max(rounds.Floor(), 1), rounds.Floor() + 1} {
		fits := r.Sheet.Length.Div(grammar.Whole(n))
		text := fits.String() + "f"
		if !every.Time.Beats.IsZero() {
			text = r.Sheet.Beats(fits).String() + "b"
		}
		problem.Mends = append(problem.Mends, Write(at, text))
	}
}

// inside tells whether a time may hold a key, and reports one that may not.
func (r *resolver) inside(t, period grammar.Rat, at grammar.Ref) bool {
	switch {
	case !t.OK():
		r.add(ruleOutside, at, "the time has too many digits to be kept exactly; use a rounder one")
		return false
	case period.Sign() <= 0:
		return false
	case t.Sign() >= 0 && t.Cmp(period) <= 0:
		return true
	}
	problem := r.add(ruleOutside, at, "%s", outsideMessage(t, period, r.Sheet))
	if r.Sheet.Closed {
		problem.Mends = []Mend{Write(at, r.timeLike(at.Text(), t.Mod(period)))}
	}
	return false
}

func outsideMessage(t, period grammar.Rat, s *Sheet) string {
	what, end := "cycle", period
	if !s.Closed {
		what = "span"
	}
	if period != s.Length {
		what = "period"
	}
	if t.Sign() < 0 {
		return fmt.Sprintf("the key is %s before the start", amount(t.Neg(), s))
	}
	return fmt.Sprintf("the key is %s behind the end of the %s, which is frame %s", amount(t.Sub(end), s), what, end)
}

// amount tells a length of time in frames and in seconds.
func amount(t grammar.Rat, s *Sheet) string {
	return fmt.Sprintf("%sf (%.3g s)", t, s.Seconds(t).Float())
}

// timeLike writes a time in the unit in which another one is written.
func (r *resolver) timeLike(text string, frames grammar.Rat) string {
	return r.Sheet.TimeLike(text, frames)
}

// TimeLike writes a time in frames in the unit in which text, a time, is written: beats where it has beats, seconds
// where it has only seconds, frames otherwise.
func (s *Sheet) TimeLike(text string, frames grammar.Rat) string {
	like, _ := grammar.ParseTime(text)
	switch {
	case !like.Beats.IsZero() || like.IsZero() && len(text) > 1 && text[len(text)-1] == 'b':
		if beats := s.Beats(frames); beats.OK() && (beats.Den() <= 16 || !frames.IsWhole()) {
			return grammar.Time{Beats: beats}.String()
		}
		whole := grammar.Whole(s.Beats(frames).Floor())
		return grammar.Time{Beats: whole, Frames: frames.Sub(whole.Mul(s.Beat))}.String()
	case !like.Seconds.IsZero() && like.Frames.IsZero():
		return grammar.Time{Seconds: s.Seconds(frames)}.String()
	case frames.IsZero():
		return "0f"
	}
	return grammar.Time{Frames: frames}.String()
}

// tracks reads the tracks, each control's once in each layer.
func (r *resolver) tracks() {
	type identity struct{ control, layer string }
	seen := map[identity]grammar.Ref{}
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.TrackLine)
		if !ok {
			continue
		}
		id := identity{control: opener.Control.Key()}
		if opener.Layer != nil {
			id.layer = opener.Layer.Key()
		}
		at := b.Ref(b.Open, opener.Control.Where())
		if before, twice := seen[id]; twice {
			problem := r.add(ruleRepeatedName, at, "the control `%s` already has a track%s; put both in one", id.control, inLayer(id.layer))
			problem.Related = []Related{{before, "the first one"}}
			continue
		}
		seen[id] = at
		r.track(b, opener)
	}
}

func inLayer(layer string) string {
	if layer == "" {
		return ""
	}
	return " in the layer `" + layer + "`"
}

func (r *resolver) track(b *grammar.Block, opener *grammar.TrackLine) {
	layer := -1
	if opener.Layer != nil {
		for i, l := range r.Layers {
			if l.Name == opener.Layer.Key() {
				layer = i
			}
		}
	}
	var at grammar.Ref
	if opener.Every != nil {
		at = b.Ref(b.Open, opener.Every.Where())
	}
	period := r.period(opener.Every, at)
	parts := r.trackColumns(b, opener, layer, period)
	makeRoom(b, parts)
	t := tableOf(b)
	for i := range b.Rows() {
		r.trackRow(t.row(i), parts, period)
	}
}

// trackColumns opens a part for each column that is a channel; nil for the others.
func (r *resolver) trackColumns(b *grammar.Block, opener *grammar.TrackLine, layer int, period grammar.Rat) []*strandPart {
	parts := make([]*strandPart, len(b.Columns))
	if r.Motion.Rig == nil {
		return parts
	}
	control := opener.Control.Key()
	if len(r.Motion.Rig.ControlChannels(control)) == 0 {
		at := b.Ref(b.Open, opener.Control.Where())
		r.unknown(at, control, r.Motion.Rig.Controls(), "the rig `%s` has no control `%s`", r.Motion.Rig.Name, control)
		return parts
	}
	for i := range b.Columns {
		column := &b.Columns[i]
		if column.Kind != grammar.ValueColumn {
			continue
		}
		name := grammar.NameKey(column.Name)
		channel := r.Motion.Rig.DialIndex(control + "/" + name)
		if channel < 0 {
			r.unknown(b.Ref(b.Header, column.Span), name, r.Motion.Rig.channelNames(control), "the control `%s` has no channel `%s`", control, name)
			continue
		}
		parts[i] = r.strand(channel, layer).part(period)
	}
	return parts
}

// makeRoom sizes each column's keys before they are read, since keys are large and a track is mostly keys.
func makeRoom(b *grammar.Block, parts []*strandPart) {
	counts := make([]int, len(parts))
	for line := range b.Rows() {
		for i, cell := range b.Lines[line].Cells {
			if cell.Class != grammar.Dot && i < len(counts) {
				counts[i]++
			}
		}
	}
	for i, part := range parts {
		if part != nil {
			part.keys = make([]Key, 0, counts[i])
		}
	}
}

func (r *resolver) trackRow(row tableRow, parts []*strandPart, period grammar.Rat) {
	cells := row.block.Lines[row.line].Cells
	t := r.frames(*cells[0].Time)
	if !r.inside(t, period, row.block.Ref(row.line, cells[0].Span)) {
		return
	}
	ease := r.easeCell(row)
	for i := range cells {
		if i >= len(parts) || parts[i] == nil || cells[i].Class == grammar.Dot {
			continue
		}
		parts[i].keys = append(parts[i].keys, r.trackKey(row, i, t, ease))
	}
}

func (r *resolver) trackKey(row tableRow, i int, t grammar.Rat, ease *Ease) Key {
	cell := &row.block.Lines[row.line].Cells[i]
	k := Key{Time: t, Value: cell.Value, At: row.block.Ref(row.line, cell.Span), Ease: ease, Marked: cell.Shape != grammar.NoMark}
	switch cell.Shape {
	case grammar.RestMark:
		k.Shape = Rest
	case grammar.GoesMark:
		k.Shape = Straight
	case grammar.StaysMark:
		k.Shape = Stay
	case grammar.SlopeMark:
		// Slopes are written a beat, so that they keep their shape when the tempo changes.
		beat := r.Sheet.Beat.Float()
		k.Shape, k.In, k.Out = Sloped, cell.Slope.In/beat, cell.Slope.Out/beat
	}
	return k
}

// lateRow is a row of an `overlap`.
type lateRow struct {
	pattern grammar.PatternText
	late    grammar.Rat
	at      grammar.Ref
}

// overlap reads how much later than written controls play; the last matching row counts.
func (r *resolver) overlap() {
	for _, b := range r.blocks {
		if b.Kind != grammar.OverlapBlock {
			continue
		}
		for i, stmt := range b.Entries() {
			entry := stmt.(*grammar.LateEntry)
			at := b.Ref(i, entry.Controls.Where())
			row := lateRow{entry.Controls, r.frames(entry.Late.Time), b.RefLine(i)}
			if !row.late.OK() {
				r.add(ruleOutside, b.Ref(i, entry.Late.Where()), "the time has too many digits to be kept exactly; use a rounder one")
				continue
			}
			r.late = append(r.late, row)
			r.checkControls(entry.Controls, at)
		}
	}
}

func (r *resolver) checkControls(pattern grammar.PatternText, at grammar.Ref) {
	if r.Motion.Rig == nil {
		return
	}
	controls := r.Motion.Rig.Controls()
	for _, c := range controls {
		if pattern.Match(c) {
			return
		}
	}
	r.unknown(at, pattern.Text, controls, "no control of the rig `%s` fits `%s`", r.Motion.Rig.Name, pattern.Text)
}

func (r *resolver) lateness(control string) (late grammar.Rat, at grammar.Ref) {
	for _, row := range r.late {
		if row.pattern.Match(control) {
			late, at = row.late, row.at
		}
	}
	return late, at
}

// weave makes the curves: one channel's keys from all blocks, sorted, one a moment.
func (r *resolver) weave() {
	if r.Motion.Rig == nil {
		return
	}
	r.Channels = make([]Channel, len(r.Motion.Rig.Channels))
	for i := range r.Channels {
		dial := &r.Motion.Rig.Channels[i]
		c := &r.Channels[i]
		c.Dial, c.Index = dial, i
		c.Late, c.LateAt = r.lateness(dial.Control)
		c.Base = r.weaveStrand(r.strands[strandKey{i, -1}], r.Sheet.Advance[dial.Path])
		for l, layer := range r.Layers {
			if s := r.weaveStrand(r.strands[strandKey{i, l}], 0); s != nil {
				c.Layers = append(c.Layers, LayerStrand{layer, s})
			}
		}
	}
}

func (r *resolver) weaveStrand(b *strandBuilder, gain float64) *Strand {
	if b == nil || r.Sheet.Length.Sign() <= 0 {
		return nil
	}
	s := &Strand{Period: r.Sheet.Length, closed: r.Sheet.Closed}
	if one := b.onePeriod(); one.Sign() > 0 {
		s.Period = one
		// Repeated material in a span wraps round like that of a cycle.
		s.closed = s.closed || one != r.Sheet.Length
	}
	for _, part := range b.parts {
		keys := r.oneAMoment(part.keys)
		if part.period != s.Period {
			keys = unrolled(keys, part.period, s.Period)
		}
		if len(s.Keys) == 0 {
			s.Keys = keys
			continue
		}
		s.Keys = mergeSources(append(s.Keys[:len(s.Keys):len(s.Keys)], keys...))
	}
	if len(s.Keys) == 0 {
		return nil
	}
	r.knots = s.appendKnots(r.knots[:0])
	s.Curve = NewCurve(r.knots, Extent{
		Length: s.Period.Float(), Closed: s.closed, Gain: gain * s.Period.Div(r.Sheet.Length).Float(),
	})
	return s
}

// onePeriod is the period that all parts with keys share; 0 where they differ.
func (b *strandBuilder) onePeriod() grammar.Rat {
	var period grammar.Rat
	for _, part := range b.parts {
		switch {
		case len(part.keys) == 0:
		case period.IsZero():
			period = part.period
		case period != part.period:
			return grammar.Rat{}
		}
	}
	return period
}

// oneAMoment sorts one block's keys of a channel and reports two at one exact time; the later written counts.
func (r *resolver) oneAMoment(keys []Key) []Key {
	if rising(keys) { // nearly always: rows stand in time order
		return keys
	}
	sort.SliceStable(keys, func(i, j int) bool { return keys[i].Time.Cmp(keys[j].Time) < 0 })
	var out []Key
	for _, k := range keys {
		if n := len(out); n > 0 && out[n-1].Time == k.Time {
			r.sameTime(out[n-1], k)
			out[n-1] = k
			continue
		}
		out = append(out, k)
	}
	return out
}

func rising(keys []Key) bool {
	for i := 1; i < len(keys); i++ {
		if keys[i-1].Time.Cmp(keys[i].Time) >= 0 {
			return false
		}
	}
	return true
}

func (r *resolver) sameTime(earlier, later Key) {
	if earlier.From != FromTrack || later.From != FromTrack {
		return // reported once a row by the blocking
	}
	problem := r.add(ruleSameTime, later.At, "the channel already has a key at this exact time, frame %s; keep one of the two", later.Time)
	problem.Related = []Related{{earlier.At, "the other key"}}
	problem.Mends = []Mend{{"drop the earlier key", []Edit{{earlier.At, "."}}}}
}

// unrolled repeats a block's keys over a longer period. At the border of two rounds the first row of the next one
// counts, since only one key can stand at a moment.
func unrolled(keys []Key, period, length grammar.Rat) []Key {
	var out []Key
	startsAtZero := len(keys) > 0 && keys[0].Time.IsZero()
	for from := (grammar.Rat{}); from.Cmp(length) < 0; from = from.Add(period) {
		last := from.Add(period).Cmp(length) >= 0
		for _, k := range keys {
			if k.Time.Cmp(period) == 0 && startsAtZero && !last {
				continue
			}
			k.Time = k.Time.Add(from)
			out = append(out, k)
		}
	}
	return out
}

// mergeSources sorts keys and keeps one a moment where blocking and track meet: the track's.
func mergeSources(keys []Key) []Key {
	sort.SliceStable(keys, func(i, j int) bool { return keys[i].Time.Cmp(keys[j].Time) < 0 })
	out := keys[:0]
	for _, k := range keys {
		if n := len(out); n > 0 && out[n-1].Time == k.Time {
			if out[n-1].From != FromTrack || k.From == FromTrack {
				out[n-1] = k
			}
			continue
		}
		out = append(out, k)
	}
	return out
}

func (s *Strand) appendKnots(knots []Knot) []Knot {
	for i := range s.Keys {
		k := &s.Keys[i]
		knots = append(knots, Knot{
			Time: k.Time.Float(), Value: k.Value, Shape: k.Shape, SlopeIn: k.In, SlopeOut: k.Out, Marked: k.Marked, Ease: k.Ease,
		})
	}
	return knots
}
