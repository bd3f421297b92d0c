package motion

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// repeat is the period of a block with an `every`, or the sheet's whole length.
func (r *resolver) repeat(every *grammar.Moment, at grammar.Ref) repeat {
	length := r.Sheet.Length
	if every == nil || length.Sign() <= 0 {
		return repeat{period: length}
	}
	period := r.frames(every.Time)
	if period.Sign() <= 0 || !period.OK() {
		return repeat{period: length}
	}
	if rounds := length.Div(period); !rounds.IsWhole() {
		r.partCycle(every, at, rounds)
		return repeat{period: length}
	}
	return repeat{&every.Time, period}
}

// partCycle reports a period that does not fit, with the nearest that do.
func (r *resolver) partCycle(every *grammar.Moment, at grammar.Ref, rounds grammar.Rat) {
	problem := r.add(rulePartCycle, at, "a period of %s fits the length of %s frames %s times; it must fit a whole number of times", every.Time, r.Sheet.Length, rounds)
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
	s := r.Sheet
	problem := r.add(ruleOutside, at, "%s", outsideMessage(t, period, s, at.Text()))
	if s.Closed {
		if t.Sign() > 0 {
			problem.Mends = append(problem.Mends, Write(at, s.TimeLike(at.Text(), period)))
		}
		problem.Mends = append(problem.Mends, Write(at, s.TimeLike(at.Text(), t.Mod(period))))
	}
	problem.Mends = append(problem.Mends, s.longer(t, period)...)
	return false
}

// longer offers a length that reaches to a time behind the sheet's own, where a line of the sheet gives it.
func (s *Sheet) longer(t, period grammar.Rat) []Mend {
	if t.Cmp(period) <= 0 || period != s.Length {
		return nil
	}
	for _, word := range []string{"cycle", "span"} {
		line, ok := s.Lines[word]
		if !ok || line.Path() != s.Block.Path {
			continue
		}
		var length *grammar.Moment
		switch stmt := line.Block.Lines[line.Line].Stmt.(type) {
		case *grammar.CycleLine:
			length = &stmt.Length
		case *grammar.SpanLine:
			length = &stmt.Length
		default:
			continue
		}
		at := line.Block.Ref(line.Line, length.Where())
		if s.Closed { // up to the next whole beat, so that the key does not become the closing row
			t = grammar.Whole(s.Beats(t).Floor() + 1).Mul(s.Beat)
		}
		mend := Write(at, s.TimeLike(at.Text(), t))
		mend.Title = "make the " + word + " " + mend.Edits[0].Text + " long"
		return []Mend{mend}
	}
	return nil
}

func outsideMessage(t, period grammar.Rat, s *Sheet, written string) string {
	what := "cycle"
	if !s.Closed {
		what = "span"
	}
	if period != s.Length {
		what = "period"
	}
	if t.Sign() < 0 {
		return fmt.Sprintf("the key is %s before the start", amount(t.Neg(), s, written))
	}
	return fmt.Sprintf("the key is %s behind the end of the %s, which is %s", amount(t.Sub(period), s, written), what, s.TimeLike(written, period))
}

// amount tells a length of time in the unit of a time that is written, and in seconds.
func amount(t grammar.Rat, s *Sheet, written string) string {
	inUnit := s.TimeLike(written, t)
	if strings.HasSuffix(inUnit, "s") {
		return inUnit
	}
	return fmt.Sprintf("%s (%.3g s)", inUnit, s.Seconds(t).Float())
}

// TimeLike writes a time in frames in the unit in which text, a time, is written: beats where it has beats, seconds
// where it has only seconds, frames otherwise. A whole frame that lies at an awkward share of a beat is so many frames
// behind a whole beat, or just frames where beats are no whole number of them.
func (s *Sheet) TimeLike(text string, frames grammar.Rat) string {
	like, _ := grammar.ParseTime(text)
	switch {
	case !like.Beats.IsZero() || like.IsZero() && len(text) > 1 && text[len(text)-1] == 'b':
		beats := s.Beats(frames)
		if beats.OK() && (!frames.IsWhole() || s.reads(beats, like.Beats)) {
			return grammar.Time{Beats: beats}.String()
		}
		whole := grammar.Whole(beats.Floor())
		if rest := frames.Sub(whole.Mul(s.Beat)); rest.IsWhole() {
			return grammar.Time{Beats: whole, Frames: rest}.String()
		}
		return grammar.Time{Frames: frames}.String()
	case !like.Seconds.IsZero() && like.Frames.IsZero():
		return grammar.Time{Seconds: s.Seconds(frames)}.String()
	case frames.IsZero():
		return "0f"
	}
	return grammar.Time{Frames: frames}.String()
}

// reads tells whether somebody counts a share of a beat: halves, thirds and what comes of parting those, or a share that the
// grid has or that is written in another time's place already.
func (s *Sheet) reads(beats, written grammar.Rat) bool {
	const most = 16
	share := beats.Den()
	if share <= most && (48%share == 0) { // 1 2 3 4 6 8 12 16
		return true
	}
	grid := s.Beats(s.Grid)
	return written.OK() && written.Den() <= most && written.Den()%share == 0 || s.Grid.Sign() > 0 && grid.OK() && grid.Den()%share == 0
}

// trackIdentity is what makes a track the same one: one a control and layer.
type trackIdentity struct{ control, layer string }

// tracks reads the sheet's own tracks, each control's once in each layer. One that the sheet inherits is replaced. A second
// one has no part in the motion, but is read too, so that its own faults are told with it and not after it.
func (r *resolver) tracks() {
	seen := map[trackIdentity]grammar.Ref{}
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.TrackLine)
		if !ok {
			continue
		}
		id := trackIdentity{opener.Control.Key(), layerKey(opener.Layer)}
		at := b.Ref(b.Open, opener.Control.Where())
		read := func() {
			r.readTrack(b, id, r.repeat(opener.Every, everyAt(b, opener.Every)), opener.Control)
		}
		if before, twice := seen[id]; twice {
			problem := r.add(ruleRepeatedName, at, "the control `%s` already has a track%s; put both in one", id.control, inLayer(id.layer))
			problem.Related = []Related{{before, "the first one"}}
			read()
			r.material.tracks = r.material.tracks[:len(r.material.tracks)-1]
			continue
		}
		seen[id] = at
		r.material.dropTrack(id)
		r.readOnce(b, read)
	}
}

func layerKey(name *grammar.Name) string {
	if name == nil {
		return ""
	}
	return name.Key()
}

func inLayer(layer string) string {
	if layer == "" {
		return ""
	}
	return " in the layer `" + layer + "`"
}

func (m *material) track(id trackIdentity) *trackPart {
	for _, t := range m.tracks {
		if t.control == id.control && t.layer == id.layer {
			return t
		}
	}
	return nil
}

func (m *material) dropTrack(id trackIdentity) {
	for i, t := range m.tracks {
		if t.control == id.control && t.layer == id.layer {
			m.tracks = append(m.tracks[:i:i], m.tracks[i+1:]...)
			return
		}
	}
}

// readTrack reads a block's keys and adds them to the material.
func (r *resolver) readTrack(b *grammar.Block, id trackIdentity, period repeat, control grammar.Name) {
	part := &trackPart{repeat: period, control: id.control, layer: id.layer, at: b.RefLine(b.Open)}
	columns := r.trackColumns(b, control)
	makeRoom(b, columns)
	t := tableOf(b)
	for i := range b.Rows() {
		r.trackRow(t.row(i), columns, period.period)
	}
	for _, c := range columns {
		if c != nil {
			c.keys = r.oneAMoment(c.keys)
			part.columns = append(part.columns, c)
		}
	}
	r.material.tracks = append(r.material.tracks, part)
}

// trackColumns opens a part for each column that is a channel; nil for the others.
func (r *resolver) trackColumns(b *grammar.Block, name grammar.Name) []*columnPart {
	columns := make([]*columnPart, len(b.Columns))
	if r.Motion.Rig == nil {
		return columns
	}
	control := name.Key()
	if len(r.Motion.Rig.ControlChannels(control)) == 0 {
		if r.Motion.Rig.unreadChannels(func(c, _ string) bool { return c == control }) {
			return columns
		}
		r.unknown(b.Ref(b.Open, name.Where()), control, r.Motion.Rig.Controls(), "the rig `%s` has no control `%s`", r.Motion.Rig.Name, control)
		return columns
	}
	for i := range b.Columns {
		column := &b.Columns[i]
		if column.Kind != grammar.ValueColumn {
			continue
		}
		path := control + "/" + grammar.NameKey(column.Name)
		channel := r.Motion.Rig.DialIndex(path)
		if channel < 0 && slices.Contains(r.Motion.Rig.unread(grammar.ChannelsBlock), path) {
			continue
		}
		if channel < 0 {
			r.unknown(b.Ref(b.Header, column.Span), column.Name, r.Motion.Rig.channelNames(control), "the control `%s` has no channel `%s`", control, column.Name)
			continue
		}
		columns[i] = &columnPart{channel: channel}
	}
	return columns
}

// makeRoom sizes each column's keys before they are read, since keys are large and a track is mostly keys.
func makeRoom(b *grammar.Block, columns []*columnPart) {
	counts := make([]int, len(columns))
	for line := range b.Rows() {
		for i, cell := range b.Lines[line].Cells {
			if cell.Class != grammar.Dot && i < len(counts) {
				counts[i]++
			}
		}
	}
	for i, c := range columns {
		if c != nil {
			c.keys = make([]Key, 0, counts[i])
		}
	}
}

func (r *resolver) trackRow(row tableRow, columns []*columnPart, period grammar.Rat) {
	cells := row.block.Lines[row.line].Cells
	t := r.frames(*cells[0].Time)
	if !r.inside(t, period, row.block.Ref(row.line, cells[0].Span)) {
		return
	}
	ease := r.easeCell(row)
	for i := range cells {
		if i >= len(columns) || columns[i] == nil || cells[i].Class == grammar.Dot {
			continue
		}
		columns[i].keys = append(columns[i].keys, r.trackKey(row, i, t, ease))
	}
}

func (r *resolver) trackKey(row tableRow, i int, t grammar.Rat, ease *Ease) Key {
	cells := row.block.Lines[row.line].Cells
	cell := &cells[i]
	k := Key{
		Time: t, Written: cells[0].Time, Value: cell.Value, First: cell.Value, At: row.block.Ref(row.line, cell.Span),
		Ease: ease, Marked: cell.Shape != grammar.NoMark,
	}
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

// overlap reads how much later than written controls play. A row of a pattern that the sheet inherits replaces it.
func (r *resolver) overlap() {
	for _, b := range r.blocks {
		if b.Kind != grammar.OverlapBlock {
			continue
		}
		for i, stmt := range b.Entries() {
			entry := stmt.(*grammar.LateEntry)
			row, ok := r.lateRow(entry.Controls, entry.Late, b, i)
			if !ok {
				continue
			}
			r.material.setLate(row, b)
		}
	}
}

func (m *material) setLate(row lateRow, own *grammar.Block) {
	for i := range m.late {
		if m.late[i].pattern == row.pattern && m.late[i].at.Block != own {
			m.late[i] = row
			return
		}
	}
	m.late = append(m.late, row)
}

// lateRow resolves a pattern of controls and a time.
func (r *resolver) lateRow(controls grammar.PatternText, late grammar.Moment, b *grammar.Block, line int) (lateRow, bool) {
	row := lateRow{pattern: grammar.NameKey(controls.Text), written: late.Time, late: r.frames(late.Time), at: b.RefLine(line)}
	if !row.late.OK() {
		r.add(ruleOutside, b.Ref(line, late.Where()), "the time has too many digits to be kept exactly; use a rounder one")
		return row, false
	}
	row.controls = r.controlsOf(controls, b.Ref(line, controls.Where()))
	return row, true
}

// controlsOf are the controls that fit a pattern; where none does, that is reported.
func (r *resolver) controlsOf(pattern grammar.PatternText, at grammar.Ref) []string {
	if r.Motion.Rig == nil {
		return nil
	}
	controls := r.Motion.Rig.Controls()
	var out []string
	for _, c := range controls {
		if pattern.Match(c) {
			out = append(out, c)
		}
	}
	if len(out) == 0 && !r.Motion.Rig.unreadChannels(func(control, _ string) bool { return pattern.Match(control) }) {
		r.unknown(at, pattern.Text, controls, "no control of the rig `%s` fits `%s`", r.Motion.Rig.Name, pattern.Text)
	}
	return out
}

// channelsOf are the channels whose control or whose path fits a pattern; where none does, that is reported.
func (r *resolver) channelsOf(pattern grammar.PatternText, at grammar.Ref) []int {
	if r.Motion.Rig == nil {
		return nil
	}
	var out []int
	var paths []string
	for i := range r.Motion.Rig.Channels {
		d := &r.Motion.Rig.Channels[i]
		paths = append(paths, d.Path)
		if control, channel, ok := strings.Cut(pattern.Text, "/"); ok && strings.Contains(control, "*") && !strings.Contains(channel, "*") && grammar.MatchPattern(grammar.NameKey(control), d.Control) {
			paths = append(paths, control+"/"+d.Name)
		}
		if pattern.Match(d.Path) || pattern.Match(d.Control) {
			out = append(out, i)
		}
	}
	if len(out) == 0 && !r.Motion.Rig.unreadChannels(func(control, path string) bool { return pattern.Match(path) || pattern.Match(control) }) {
		r.unknown(at, pattern.Text, append(r.Motion.Rig.Controls(), paths...), "no channel of the rig `%s` fits `%s`", r.Motion.Rig.Name, pattern.Text)
	}
	return out
}
