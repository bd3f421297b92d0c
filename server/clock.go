package server

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// clock is the time of the sheet in sight as far as header lines give it: enough to write times, where resolving the
// whole motion would take longer than typing a letter. Only its rate, beat, grid and length are meant.
func (s *sight) clock() *motion.Sheet {
	c := &motion.Sheet{Rate: grammar.Whole(24), Closed: true}
	grid, length := grammar.Time{Beats: grammar.NewRat(1, 2)}, grammar.Time{}
	var tempo grammar.Rat // beats a minute; a beat of a second where no line gives another
	for _, f := range slices.Backward(append([]*grammar.File{s.own}, s.bases...)) {
		for _, stmt := range headerOf(f) {
			switch line := stmt.(type) {
			case *grammar.RateLine:
				c.Rate = line.Exact()
			case *grammar.GridLine:
				grid = line.Grid.Time
			case *grammar.CycleLine:
				length, c.Closed = line.Length.Time, true
			case *grammar.SpanLine:
				length, c.Closed = line.Length.Time, false
			}
		}
		for _, stmt := range headerOf(f) { // behind the rate, wherever that stands
			switch line := stmt.(type) {
			case *grammar.TempoLine:
				tempo = line.Exact()
			case *grammar.BeatLine:
				if beat := line.Beat.Time.In(c.Rate, grammar.Rat{}); beat.Sign() > 0 {
					tempo = c.Rate.Mul(grammar.Whole(60)).Div(beat)
				}
			}
		}
	}
	c.Beat = c.Rate
	if tempo.Sign() > 0 {
		c.Beat = c.Rate.Mul(grammar.Whole(60)).Div(tempo)
	}
	c.Grid, c.Length = grid.In(c.Rate, c.Beat), length.In(c.Rate, c.Beat)
	return c
}

// clock is the sheet's time as far as the block that is being written in goes: to the end of its own round.
func (a *asking) clock() *motion.Sheet {
	c := a.sight().clock()
	if a.block != nil {
		c.Length = c.RoundOf(a.block)
	}
	return c
}

// mostTimes is how many times are proposed behind a row.
const mostTimes = 12

// gridTimes are the next lines of the grid behind a time and before another, in frames; a length of 0 has no end.
func gridTimes(c *motion.Sheet, after, before grammar.Rat, first bool) []grammar.Rat {
	if c.Grid.Sign() <= 0 || !c.Grid.OK() || !after.OK() {
		return nil
	}
	var out []grammar.Rat
	next := after.Sub(after.Mod(c.Grid))
	if !first {
		next = next.Add(c.Grid)
	}
	for ; len(out) < mostTimes && next.OK(); next = next.Add(c.Grid) {
		if before.Sign() > 0 && before.Cmp(next) <= 0 || c.Length.Sign() > 0 && c.Length.Cmp(next) < 0 {
			break
		}
		out = append(out, next)
	}
	return out
}

// rowTimes are the times of the nearest good rows above and below a line of a table, in frames; found is false where no
// row stands above.
func rowTimes(c *motion.Sheet, b *grammar.Block, line int) (above, below grammar.Rat, like string, found bool) {
	like = "0b"
	for i := range b.Rows() {
		cell := &b.Lines[i].Cells[0]
		if cell.Time == nil {
			continue
		}
		frames := cell.Time.In(c.Rate, c.Beat)
		switch {
		case i < line:
			above, like, found = frames, b.Lines[i].CellText(0), true
		case line < i:
			return above, frames, like, found
		}
	}
	return above, below, like, found
}

// timeLike writes a time in frames in the unit of another time as it is written; the start has that unit too.
func timeLike(c *motion.Sheet, like string, frames grammar.Rat) string {
	if frames.IsZero() {
		return "0" + like[max(len(like)-1, 0):]
	}
	return c.TimeLike(like, frames)
}
