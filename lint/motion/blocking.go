package motion

import (
	"sort"

	"github.com/motet-sheet/motet/grammar"
)

// blockRow is a row of the blocking.
type blockRow struct {
	row         tableRow
	time, until grammar.Rat
	held        bool
	drift       float64
	pose        *Pose
	ease        *Ease
	index       int
}

// blocking reads the pose-to-pose keys. Each row keys every channel that any pose of the table names; a pose that leaves
// one out has it at rest.
func (r *resolver) blocking() {
	var first *grammar.Block
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.BlockingLine)
		if !ok {
			continue
		}
		if first != nil {
			problem := r.add(ruleRepeatedName, b.RefLine(b.Open), "the sheet already has a blocking; put all rows into one")
			problem.Related = []Related{{first.RefLine(first.Open), "the first one"}}
			continue
		}
		first = b
		var at grammar.Ref
		if opener.Every != nil {
			at = b.Ref(b.Open, opener.Every.Where())
		}
		r.blockTable(b, r.period(opener.Every, at))
	}
}

func (r *resolver) blockTable(b *grammar.Block, period grammar.Rat) {
	t := tableOf(b)
	var rows []blockRow
	for i := range b.Rows() {
		if row, ok := r.blockRow(t.row(i), period); ok {
			row.index = len(rows)
			rows = append(rows, row)
		}
	}
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].time.Cmp(rows[j].time) < 0 })
	rows = r.oneRowAMoment(rows)
	for i := range rows {
		r.checkHold(rows, i, period)
		r.Plain = append(r.Plain, Accent{rows[i].time, rows[i].row.ref("at"), rows[i].pose.Name})
	}
	for _, channel := range namedChannels(rows) {
		part := r.strand(channel, -1).part(period)
		for i := range rows {
			part.keys = append(part.keys, r.blockKeys(rows, i, channel, period)...)
		}
	}
}

func (r *resolver) blockRow(row tableRow, period grammar.Rat) (blockRow, bool) {
	out := blockRow{row: row, time: r.frames(*row.cell("at").Time)}
	inside := r.inside(out.time, period, row.ref("at"))
	name := row.name("pose")
	out.pose = r.poseOf[name]
	if out.pose == nil {
		r.unknown(row.ref("pose"), name, r.poseNames(), "there is no pose `%s`", name)
		return out, false
	}
	out.pose.Used = true
	if until := row.cell("until"); until != nil {
		out.until, out.held = r.frames(*until.Time), true
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

func (r *resolver) oneRowAMoment(rows []blockRow) []blockRow {
	var out []blockRow
	for _, row := range rows {
		if n := len(out); n > 0 && out[n-1].time == row.time {
			problem := r.add(ruleSameTime, row.row.ref("at"), "the blocking already has a row at this exact time, frame %s; keep one of the two", row.time)
			problem.Related = []Related{{out[n-1].row.ref("at"), "the other row"}}
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
	} else if r.Sheet.Closed {
		next = period.Add(rows[0].time)
	}
	at := row.row.ref("until")
	switch {
	case row.until.Cmp(row.time) <= 0:
		r.add(ruleOutside, at, "the hold ends at frame %s, but its row begins at frame %s; let it end later", row.until, row.time)
	case row.until.Cmp(next) >= 0:
		r.add(ruleOutside, at, "the hold ends at frame %s, but the next row comes at frame %s; let it end sooner", row.until, next)
	default:
		return
	}
	row.held = false
}

// namedChannels are the channels that any of the rows' poses names, each once.
func namedChannels(rows []blockRow) []int {
	seen := map[int]bool{}
	var out []int
	for _, row := range rows {
		for _, v := range row.pose.Values {
			if !seen[v.Channel] {
				seen[v.Channel] = true
				out = append(out, v.Channel)
			}
		}
	}
	sort.Ints(out)
	return out
}

// blockKeys are the one or two keys that a row gives a channel: the pose, and the end of its hold, which has gone on by
// the drift's share of the way from the previous row's pose.
func (r *resolver) blockKeys(rows []blockRow, i, channel int, period grammar.Rat) []Key {
	row := &rows[i]
	value, at := r.poseAt(row.pose, channel)
	key := Key{Time: row.time, Value: value, At: row.row.ref("pose"), From: FromBlocking, Pose: at, Row: row.index, Ease: row.ease}
	if !row.held {
		return []Key{key}
	}
	hold := key
	key.Ease = nil
	hold.Time, hold.From = row.until, FromHold
	if row.until.Cmp(period) > 0 { // the hold of a cycle's last row goes on round the seam
		hold.Time = row.until.Sub(period)
	}
	if before := previous(rows, i, r.Sheet.Closed, period); before != nil {
		from, _ := r.poseAt(before.pose, channel)
		hold.Value += row.drift * (value - from)
	}
	return []Key{key, hold}
}

// previous is the row whose pose the body comes from: in a cycle the first row comes from the last that is not the
// closing row.
func previous(rows []blockRow, i int, closed bool, period grammar.Rat) *blockRow {
	if i > 0 {
		return &rows[i-1]
	}
	for last := len(rows) - 1; closed && last > 0; last-- {
		if rows[last].time.Cmp(period) != 0 {
			return &rows[last]
		}
	}
	return nil
}

func (r *resolver) poseAt(p *Pose, channel int) (float64, grammar.Ref) {
	if v, ok := p.Value(channel); ok {
		return v.Value, v.At
	}
	return r.Motion.Rig.Channels[channel].Rest, p.At
}
