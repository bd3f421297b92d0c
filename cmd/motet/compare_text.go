package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// comparisonText tells what differs, for people.
func comparisonText(oldPath, newPath string, found *motion.Comparison) string {
	var out strings.Builder
	fmt.Fprintf(&out, "--- %s\n+++ %s\n", oldPath, newPath)
	header := headerRows(found)
	for _, row := range header {
		fmt.Fprintf(&out, "%-7s %s -> %s\n", row[0], row[1], row[2])
	}
	if found.ByBeat {
		out.WriteString("as many beats at another tempo: equal beats are compared\n")
	}
	if len(found.Channels) == 0 {
		if len(header) == 0 {
			return out.String() + "the motion is the same\n"
		}
		return out.String() + "no channel differs\n"
	}
	rows := [][]string{{"channel", "largest", "at", "mean", "keys", "seam"}}
	for i := range found.Channels {
		rows = append(rows, channelRow(found, &found.Channels[i]))
	}
	out.WriteString(columns(rows))
	return out.String()
}

// headerRows are what differs in the sheets' own lines, before and after.
func headerRows(found *motion.Comparison) (rows [][3]string) {
	a, b := found.Old.Sheet, found.New.Sheet
	add := func(name, old, now string) {
		if old != now {
			rows = append(rows, [3]string{name, old, now})
		}
	}
	add("name", a.Name, b.Name)
	add("rate", shortNumber(a.Rate.Float())+" fps", shortNumber(b.Rate.Float())+" fps")
	add("beat", lengthText(a, a.Beat), lengthText(b, b.Beat))
	add("plays", plays(a), plays(b))
	add("length", lengthWithBeats(a), lengthWithBeats(b))
	return rows
}

func plays(s *motion.Sheet) string {
	if s.Closed {
		return "round and round"
	}
	return "once"
}

func lengthText(s *motion.Sheet, frames grammar.Rat) string {
	return shortNumber(frames.Float()) + "f (" + shortNumber(s.Seconds(frames).Float()) + " s)"
}

func lengthWithBeats(s *motion.Sheet) string {
	return shortNumber(s.Beats(s.Length).Float()) + "b, " + lengthText(s, s.Length)
}

func channelRow(found *motion.Comparison, d *motion.ChannelDifference) []string {
	unit := unitSign(d.Unit)
	row := []string{d.Path, "0", "", "", "", ""}
	if d.Largest > 0 {
		at := d.AtFrame
		row[1] = shortNumber(rounded3(d.Largest)) + unit
		row[2] = fmt.Sprintf("frame %s (%s s)", shortNumber(math.Round(at*100)/100), shortNumber(rounded3(at/found.New.Sheet.Rate.Float())))
		row[3] = shortNumber(rounded3(d.Mean)) + unit
	}
	var keys []string
	if n := len(d.Added); n > 0 {
		keys = append(keys, fmt.Sprintf("+%d (%s)", n, someTimes(d.Added)))
	}
	if n := len(d.Removed); n > 0 {
		keys = append(keys, fmt.Sprintf("-%d (%s)", n, someTimes(d.Removed)))
	}
	row[4] = strings.Join(keys, " ")
	if math.Abs(d.SeamNew-d.SeamOld) > 1e-6 {
		row[5] = shortNumber(rounded3(d.SeamOld)) + " -> " + shortNumber(rounded3(d.SeamNew)) + unit
	}
	switch d.In {
	case "old":
		row[0] += " (gone)"
	case "new":
		row[0] += " (new)"
	}
	return row
}

func rounded3(v float64) float64 { return math.Round(v*1000) / 1000 }

// someTimes names the first few of some times, in frames.
func someTimes(times []grammar.Rat) string {
	const most = 4
	var out []string
	for _, t := range times[:min(len(times), most)] {
		out = append(out, shortNumber(t.Float())+"f")
	}
	if len(times) > most {
		out = append(out, "…")
	}
	return strings.Join(out, " ")
}

// columns sets rows of cells below one another; columns that are empty below their name are left out.
func columns(rows [][]string) string {
	var out strings.Builder
	widths := make([]int, len(rows[0]))
	for i := range widths {
		if !slices.ContainsFunc(rows[1:], func(row []string) bool { return row[i] != "" }) {
			continue
		}
		for _, row := range rows {
			widths[i] = max(widths[i], utf8.RuneCountInString(row[i]))
		}
	}
	for _, row := range rows {
		line := ""
		for i, width := range widths {
			if width > 0 {
				line += row[i] + strings.Repeat(" ", width-utf8.RuneCountInString(row[i])+2)
			}
		}
		out.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return out.String()
}

// motionText is a motion as text: the header, and a line for each key with its channel's value as played then, every
// layer put together. Two motions that differ do so on the lines of the keys that differ.
func motionText(m *motion.Motion) string {
	var out strings.Builder
	s := m.Sheet
	fmt.Fprintf(&out, "sheet %s on the rig %s\nplays %s, %s at %s fps, a beat is %s\n%s\n", s.Name, m.Rig.Name, plays(s), lengthWithBeats(s), shortNumber(s.Rate.Float()), lengthText(s, s.Beat), report.Count(m.KeyCount(), "key"))
	for i := range m.Channels {
		c := &m.Channels[i]
		if !c.Moves() {
			continue
		}
		fmt.Fprintf(&out, "\n%s, %s\n", c.Dial.Path, c.Dial.Unit)
		for layer, strand := range c.Strands() {
			late := 0.0
			if layer == "" {
				late = c.Late.Float()
			} else {
				fmt.Fprintf(&out, "  layer %s\n", layer)
			}
			for k := range strand.Keys {
				at := strand.Keys[k].Time.Float() + late
				left, right := c.Slope(at)
				value := c.At(at)
				if strand.Closes(k) {
					value = c.At(at - justBefore) // and not the start of the next round
				}
				fmt.Fprintf(&out, "  %9s  %12s  %s\n", shortNumber(at)+"f", shortNumber(rounded3(value)), slopeText(left, right))
			}
			if gap := strand.Curve.SeamGap(); math.Abs(gap) > 1e-6 {
				fmt.Fprintf(&out, "  seam gap %s\n", shortNumber(rounded3(gap)))
			}
		}
	}
	return out.String()
}

// justBefore is a moment, in frames, in which nothing moves that can be seen.
const justBefore = 1e-6

// slopeText says how fast a channel moves through a key, a frame.
func slopeText(left, right float64) string {
	if math.Abs(left-right) < 5e-4 {
		return shortNumber(rounded3(right)) + " a frame"
	}
	return shortNumber(rounded3(left)) + " and then " + shortNumber(rounded3(right)) + " a frame"
}
