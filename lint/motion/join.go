package motion

import "github.com/motet-sheet/motet/grammar"

// Join is an end of a span that meets an idle: where it leaves it, or where it rejoins it.
type Join struct {
	Word string      // leaves or rejoins
	At   grammar.Ref // the header line
	Own  float64     // the moment in this span, frames: its start or its end

	idle func() *Motion
	when grammar.Time // frames of the idle's rate
}

// Idle is the idle's motion and the moment in it, in its own frames; the motion is nil where it cannot be resolved. It
// is looked up only when it is asked for, so that two spans may name each other.
func (j *Join) Idle() (idle *Motion, when float64) {
	idle = j.idle()
	if idle == nil || !idle.Whole() {
		return nil, 0
	}
	return idle, j.when.In(idle.Sheet.Rate, idle.Sheet.Beat).Float()
}

// joins reads the header lines `leaves` and `rejoins`.
func (r *resolver) joins(lines map[string]grammar.Statement) {
	if line, ok := lines["leaves"].(*grammar.LeavesLine); ok {
		r.join("leaves", line.Idle, line.File, line.When.Time, 0)
	}
	if line, ok := lines["rejoins"].(*grammar.RejoinsLine); ok {
		r.join("rejoins", line.Idle, line.File, line.When.Time, r.Sheet.Length.Float())
	}
}

func (r *resolver) join(word string, name grammar.Name, in *grammar.FileName, when grammar.Time, own float64) {
	at := r.Sheet.Lines[word]
	if r.Sheet.Closed {
		r.add(ruleMisplaced, at, "a cycle plays round and round and does not join another; write `span` for a motion that plays once")
		return
	}
	file := r.project.linked(r.File, in, at, &r.problems)
	if file == nil {
		return
	}
	nameAt := at.Block.Ref(at.Line, name.Where())
	if sheet := file.First(grammar.SheetBlock); sheet == nil || !sameSheet(sheet, name.Key()) {
		r.notThere(nameAt, name.Key(), sheet)
		return
	}
	r.link(file)
	project, rate := r.project, r.Sheet.Rate
	r.Joins = append(r.Joins, Join{Word: word, At: at, Own: own, when: when, idle: func() *Motion {
		return project.shared(file)
	}})
	join := &r.Joins[len(r.Joins)-1]
	if idleRate, ok := rateOf(file); ok && idleRate != rate {
		join.when.Frames = when.Frames.Mul(idleRate).Div(rate) // frames mean those of the file that wrote them
	}
}

// rateOf is the rate that a file's sheet writes.
func rateOf(file *grammar.File) (grammar.Rat, bool) {
	for _, stmt := range file.First(grammar.SheetBlock).Entries() {
		if line, ok := stmt.(*grammar.RateLine); ok {
			return line.Exact(), true
		}
	}
	return grammar.Rat{}, false
}
