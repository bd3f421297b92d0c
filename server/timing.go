package server

import (
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// What a hover says about times.

// timeSense says how a time is meant.
type timeSense uint8

const (
	momentSense    timeSense = iota // a place in this sheet
	lengthSense                     // how long something takes
	elsewhereSense                  // a place in another sheet
)

// momentCard tells where a time lies: frame, seconds, beat and whether on the grid, and the share of the cycle.
func momentCard(s *motion.Sheet, frames grammar.Rat) card {
	c := card{tells: strings.Join([]string{
		"frame " + mixed(frames), seconds(s, frames), "beat " + mixed(s.Beats(frames)),
	}, " · ")}
	c.add(onGrid(s, frames))
	c.add(ofWhole(s, frames))
	if !frames.IsWhole() {
		c.add("between frame " + mixed(grammar.Whole(frames.Floor())) + " and frame " + mixed(grammar.Whole(frames.Floor()+1)))
	}
	return c
}

// lengthCard tells how long a time is.
func lengthCard(s *motion.Sheet, frames grammar.Rat) card {
	c := card{tells: strings.Join([]string{
		several(frames, "frame"), seconds(s, frames), several(s.Beats(frames), "beat"),
	}, " · ")}
	if frames != s.Length && 0 < s.Length.Sign() {
		c.add(figure(100*frames.Div(s.Length).Float(), 1) + " % of the " + cycleOrSpan(s))
	}
	return c
}

func seconds(s *motion.Sheet, frames grammar.Rat) string {
	return figure(s.Seconds(frames).Float(), 3) + " s"
}

// cycleOrSpan is what a sheet is as a whole.
func cycleOrSpan(s *motion.Sheet) string {
	if s.Closed {
		return "cycle"
	}
	return "span"
}

// onGrid tells whether a time lies on the grid, and otherwise how far from its nearest line.
func onGrid(s *motion.Sheet, frames grammar.Rat) string {
	if s.Grid.Sign() <= 0 || !s.Grid.OK() {
		return ""
	}
	grid := "the grid of " + several(s.Beats(s.Grid), "beat")
	before := frames.Mod(s.Grid)
	if before.IsZero() {
		return "on " + grid
	}
	after := s.Grid.Sub(before)
	if before.Cmp(after) <= 0 {
		return several(before, "frame") + " after a line of " + grid + ", beat " + mixed(s.Beats(frames.Sub(before)))
	}
	return several(after, "frame") + " before a line of " + grid + ", beat " + mixed(s.Beats(frames.Add(after)))
}

// ofWhole tells how far through the cycle or the span a time is.
func ofWhole(s *motion.Sheet, frames grammar.Rat) string {
	switch {
	case s.Length.Sign() <= 0:
		return ""
	case frames.Sign() < 0:
		return "before the start"
	case 0 < frames.Cmp(s.Length):
		return several(frames.Sub(s.Length), "frame") + " behind the end of the " + cycleOrSpan(s)
	case frames == s.Length && s.Closed:
		return "the end of the cycle, where frame 0 comes again"
	}
	return figure(100*frames.Div(s.Length).Float(), 1) + " % of the " + cycleOrSpan(s)
}

// timesOf finds the time under the cursor in an atom: the atom itself, or the end of a range that the cursor is at.
func timesOf(line string, t grammar.Token, column int) (grammar.Time, grammar.Span, bool) {
	text, span := line[t.Span.Start:t.Span.End], t.Span
	if t.Class == grammar.RangeAtom {
		left, right, _ := strings.Cut(text, "..")
		if column <= span.Start+len(left) {
			text, span.End = left, span.Start+len(left)
		} else {
			text, span.Start = right, span.End-len(right)
		}
	}
	time, ok := grammar.ParseTime(text)
	return time, span, ok && (text != "0" || t.Class != grammar.Number)
}

// senseOf tells how times of a list's line or of an opening line are meant.
func senseOf(stmt grammar.Statement) timeSense {
	switch stmt.(type) {
	case *grammar.PhaseLine, *grammar.PlantEntry, *grammar.StartsLine, *grammar.StartLine:
		return momentSense
	case *grammar.LeavesLine, *grammar.RejoinsLine:
		return elsewhereSense
	}
	return lengthSense
}
