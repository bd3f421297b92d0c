package motion

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// material is what the blocks of a sheet say, before it is woven into curves: in a variant what it inherits, changed,
// and then its own. Times are kept as written too, since a variant may have another tempo, and frames of this sheet's
// rate are worked out from them.
type material struct {
	blocking *blockingPart
	tracks   []*trackPart
	late     []lateRow
	delays   []lateRow // of `delay` lines: they add up
	follows  []*followPart
	quivers  []*quiverPart
	breaths  []*breathPart
	plants   []*plantPart
}

// repeat is the period after which a block's material comes again.
type repeat struct {
	every  *grammar.Time // nil: once in the whole length
	period grammar.Rat   // frames
}

// trackPart is the keys of a control in the base or in a layer.
type trackPart struct {
	repeat
	control string
	layer   string // empty for the base
	columns []*columnPart
	at      grammar.Ref
}

// columnPart is the keys that one block gives one channel.
type columnPart struct {
	channel int
	keys    []Key
}

func (t *trackPart) column(channel int) *columnPart {
	for _, c := range t.columns {
		if c.channel == channel {
			return c
		}
	}
	return nil
}

// lateRow is a row of an `overlap`, or of a `delay`.
type lateRow struct {
	pattern  string
	controls []string
	written  grammar.Time
	late     grammar.Rat // frames
	at       grammar.Ref
}

// Change is one thing that happened to a value on its way from the base sheet.
type Change struct {
	At    grammar.Ref // the change line, or the cell that gave the value first
	What  string
	Value float64 // after it
}

// copied is a deep copy, so that a variant's changes leave its base as it is.
func (m *material) copied() *material {
	out := &material{
		late: slices.Clone(m.late), delays: slices.Clone(m.delays),
		follows: cloneAll(m.follows), quivers: cloneAll(m.quivers), breaths: cloneAll(m.breaths), plants: cloneAll(m.plants),
	}
	for i := range out.late {
		out.late[i].controls = slices.Clone(out.late[i].controls)
	}
	for i := range out.delays {
		out.delays[i].controls = slices.Clone(out.delays[i].controls)
	}
	for _, f := range out.follows {
		f.gains = slices.Clone(f.gains)
	}
	for _, q := range out.quivers {
		q.amounts = slices.Clone(q.amounts)
	}
	for _, b := range out.breaths {
		b.amounts = slices.Clone(b.amounts)
	}
	for _, t := range m.tracks {
		c := *t
		c.columns = copyColumns(t.columns)
		out.tracks = append(out.tracks, &c)
	}
	out.blocking = m.blocking.copied()
	return out
}

func cloneAll[T any](list []*T) []*T {
	out := make([]*T, len(list))
	for i, item := range list {
		c := *item
		out[i] = &c
	}
	return out
}

func copyColumns(columns []*columnPart) []*columnPart {
	out := make([]*columnPart, len(columns))
	for i, c := range columns {
		out[i] = &columnPart{c.channel, slices.Clone(c.keys)}
		for k := range out[i].keys {
			out[i].keys[k].Changes = slices.Clip(out[i].keys[k].Changes)
		}
	}
	return out
}

// strandKey names one curve: a channel, in a layer or in the base, whose name is empty.
type strandKey struct {
	channel int
	layer   string
}

// strandPart is the keys that one block gives a channel, and the period after which they come again.
type strandPart struct {
	period grammar.Rat
	keys   []Key
}

// strandsOf gathers each curve's keys from the blocks that give it some: the blocking first.
func (m *material) strandsOf(r *resolver) map[strandKey][]strandPart {
	out := map[strandKey][]strandPart{}
	if m.blocking != nil {
		for _, c := range m.blocking.columns(r) {
			key := strandKey{c.channel, ""}
			out[key] = append(out[key], strandPart{m.blocking.period, c.keys})
		}
	}
	for _, t := range m.tracks {
		for _, c := range t.columns {
			if len(c.keys) > 0 {
				key := strandKey{c.channel, t.layer}
				out[key] = append(out[key], strandPart{t.period, c.keys})
			}
		}
	}
	return out
}

// lateness is how much later than written a control's base plays, and the row that says so last.
func (m *material) lateness(control string) (late grammar.Rat, at grammar.Ref) {
	for _, row := range m.late {
		if slices.Contains(row.controls, control) {
			late, at = row.late, row.at
		}
	}
	for _, row := range m.delays {
		if slices.Contains(row.controls, control) {
			late, at = late.Add(row.late), row.at
		}
	}
	return late, at
}
