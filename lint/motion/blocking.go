package motion

import (
	"slices"
	"sort"

	"github.com/motet-sheet/motet/grammar"
)

// blockingPart is the pose-to-pose keys of a sheet.
type blockingPart struct {
	repeat
	rows []blockRow
	at   grammar.Ref
	// frozen are the keys themselves where a change has made them something that rows cannot say (`reverse`).
	frozen []*columnPart
}

// blockRow is one pose at one time. Its values are complete: each channel that any of the poses names.
type blockRow struct {
	time, until         grammar.Rat // frames
	written             *grammar.Time
	untilWritten        *grammar.Time
	held                bool
	drift               float64
	pose                string
	ease                *Ease
	index               int
	values              []rowValue
	timeAt, poseAt, end grammar.Ref // the cells at, pose and until
}

// rowValue is one channel's value in a row.
type rowValue struct {
	channel int
	value   float64
	first   float64     // before any change
	at      grammar.Ref // the pose's line
	changes []Change
}

func (b *blockingPart) copied() *blockingPart {
	if b == nil {
		return nil
	}
	out := *b
	out.rows = slices.Clone(b.rows)
	for i := range out.rows {
		out.rows[i].values = slices.Clone(b.rows[i].values)
		for k := range out.rows[i].values {
			out.rows[i].values[k].changes = slices.Clip(out.rows[i].values[k].changes)
		}
	}
	if b.frozen != nil {
		out.frozen = copyColumns(b.frozen)
	}
	return &out
}

// value gives a channel's value in a row, nil where the row does not name it.
func (row *blockRow) value(channel int) *rowValue {
	for i := range row.values {
		if row.values[i].channel == channel {
			return &row.values[i]
		}
	}
	return nil
}

// blocking reads the sheet's own pose-to-pose keys, which replace an inherited blocking whole. Each row keys every
// channel that any pose of the table names; a pose that leaves one out has it at rest.
func (r *resolver) blocking() {
	var first *grammar.Block
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.BlockingLine)
		if !ok {
			continue
		}
		part := r.blockTable(b, r.repeat(opener.Every, everyAt(b, opener.Every)))
		if first != nil { // it is read for its own faults alone
			problem := r.add(ruleRepeatedName, b.RefLine(b.Open), "the sheet already has a blocking; put all rows into one")
			problem.Related = []Related{{first.RefLine(first.Open), "the first one"}}
			continue
		}
		first, r.material.blocking = b, part
	}
}

func (r *resolver) blockTable(b *grammar.Block, period repeat) *blockingPart {
	t := tableOf(b)
	var rows []blockRow
	for i := range b.Rows() {
		if row, ok := r.blockRow(t.row(i), period.period); ok {
			row.index = len(rows)
			rows = append(rows, row)
		}
	}
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].time.Cmp(rows[j].time) < 0 })
	rows = r.oneRowAMoment(rows)
	for i := range rows {
		r.checkHold(rows, i, period.period)
	}
	part := &blockingPart{repeat: period, rows: rows, at: b.RefLine(b.Open)}
	part.complete(r)
	return part
}

func (r *resolver) blockRow(row tableRow, period grammar.Rat) (blockRow, bool) {
	at := row.cell("at")
	out := blockRow{
		time: r.frames(*at.Time), written: at.Time, pose: row.name("pose"),
		timeAt: row.ref("at"), poseAt: row.ref("pose"), end: row.ref("until"),
	}
	inside := r.inside(out.time, period, out.timeAt)
	pose := r.poseOf[out.pose]
	if pose == nil && r.Motion.Rig == nil {
		return out, false // the rig may have that pose; that the rig is missing is reported already
	}
	if pose == nil {
		r.noPose(out.poseAt, out.pose)
		return out, false
	}
	pose.Used = true
	out.values = pose.rowValues()
	if until := row.cell("until"); until != nil {
		out.until, out.untilWritten, out.held = r.frames(*until.Time), until.Time, true
	}
	if drift := row.cell("drift"); drift != nil {
		out.drift = drift.Value / 100
		if !out.held {
			r.add(ruleMissingLine, row.ref("drift"), "a drift needs to know how long the hold lasts; write a time under `until`")
		}
	}
	out.ease = r.easeCell(row)
	return out, inside
}

func (p *Pose) rowValues() []rowValue {
	values := make([]rowValue, len(p.Values))
	for i, v := range p.Values {
		values[i] = rowValue{channel: v.Channel, value: v.Value, first: v.Value, at: v.At}
	}
	return values
}

func (r *resolver) oneRowAMoment(rows []blockRow) []blockRow {
	var out []blockRow
	for _, row := range rows {
		if n := len(out); n > 0 && out[n-1].time == row.time {
			problem := r.add(ruleSameTime, row.timeAt, "the blocking already has a row at this exact time, frame %s; keep one of the two", row.time)
			problem.Related = []Related{{out[n-1].timeAt, "the other row"}}
			out[n-1] = row
			continue
		}
		out = append(out, row)
	}
	return out
}

// checkHold drops a hold that does not end between its row and the next one.
func (r *resolver) checkHold(rows []blockRow, i int, period grammar.Rat) {
	row := &rows[i]
	if !row.held {
		return
	}
	next := period
	if i+1 < len(rows) {
		next = rows[i+1].time
	} else if r.wraps(period) {
		next = period.Add(rows[0].time)
	}
	switch {
	case row.until.Cmp(row.time) <= 0:
		r.add(ruleOutside, row.end, "the hold ends at frame %s, but its row begins at frame %s; let it end later", row.until, row.time)
	case row.until.Cmp(next) >= 0:
		r.add(ruleOutside, row.end, "the hold ends at frame %s, but the next row comes at frame %s; let it end sooner", row.until, next)
	default:
		return
	}
	row.held = false
}

// wraps tells whether material of a period comes again behind its end: in a cycle always, in a span where it repeats.
func (r *resolver) wraps(period grammar.Rat) bool { return r.Sheet.Closed || period != r.Sheet.Length }

// complete gives every row a value for each channel that any of them names: rest where a pose leaves it out.
func (b *blockingPart) complete(r *resolver) {
	named := map[int]bool{}
	var channels []int
	for _, row := range b.rows {
		for _, v := range row.values {
			if !named[v.channel] {
				named[v.channel] = true
				channels = append(channels, v.channel)
			}
		}
	}
	sort.Ints(channels)
	for i := range b.rows {
		row := &b.rows[i]
		values := make([]rowValue, len(channels))
		for k, channel := range channels {
			if v := row.value(channel); v != nil {
				values[k] = *v
				continue
			}
			rest := r.Motion.Rig.Channels[channel].Rest
			values[k] = rowValue{channel: channel, value: rest, first: rest, at: row.poseAt}
		}
		row.values = values
	}
}

// columns are the blocking's keys, a channel each.
func (b *blockingPart) columns(r *resolver) []*columnPart {
	if b.frozen != nil || len(b.rows) == 0 {
		return b.frozen
	}
	b.complete(r)
	out := make([]*columnPart, len(b.rows[0].values))
	for k := range out {
		out[k] = &columnPart{channel: b.rows[0].values[k].channel, keys: make([]Key, 0, 2*len(b.rows))}
		for i := range b.rows {
			out[k].keys = b.appendKeys(out[k].keys, i, k, r.wraps(b.period))
		}
		sort.SliceStable(out[k].keys, func(i, j int) bool { return out[k].keys[i].Time.Cmp(out[k].keys[j].Time) < 0 })
	}
	return out
}

// appendKeys adds the one or two keys that a row gives its k-th channel: the pose, and the end of its hold, which has
// gone on by the drift's share of the way from the previous row's pose.
func (b *blockingPart) appendKeys(keys []Key, i, k int, closed bool) []Key {
	row := &b.rows[i]
	v := &row.values[k]
	key := Key{
		Time: row.time, Written: row.written, Value: v.value, First: v.first, At: row.poseAt, From: FromBlocking, Pose: v.at,
		Row: row.index, Ease: row.ease, Changes: v.changes,
	}
	if !row.held {
		return append(keys, key)
	}
	hold := key
	key.Ease = nil
	hold.Time, hold.Written, hold.From = row.until, row.untilWritten, FromHold
	if row.until.Cmp(b.period) > 0 { // the hold of a cycle's last row goes on round the seam
		hold.Time = row.until.Sub(b.period)
	}
	if before := b.previous(i, closed); before != nil {
		hold.Value += row.drift * (v.value - before.values[k].value)
	}
	return append(keys, key, hold)
}

// previous is the row whose pose the body comes from: in a cycle the first row comes from the last that is not the
// closing row.
func (b *blockingPart) previous(i int, closed bool) *blockRow {
	if i > 0 {
		return &b.rows[i-1]
	}
	for last := len(b.rows) - 1; closed && last > 0; last-- {
		if b.rows[last].time.Cmp(b.period) != 0 {
			return &b.rows[last]
		}
	}
	return nil
}

// accents are the rows' moments.
func (b *blockingPart) accents() []Accent {
	if b == nil {
		return nil
	}
	out := make([]Accent, len(b.rows))
	for i := range b.rows {
		out[i] = Accent{b.rows[i].time, b.rows[i].timeAt, b.rows[i].pose}
	}
	return out
}
