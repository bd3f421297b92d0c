package main

import (
	"fmt"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

const traceHelp = `
motet trace SHEET CONTROL/CHANNEL [TIME]

Tells why a channel has the value it has: the keys around a moment, each with
what its base sheet wrote and what every change line made of it, the curve
between them, what it takes over from others, and each layer, with the value
after every step. Without a TIME, tells it of every key.

  motet trace testdata/quay/keeper.motet head/nod 3/2b

exit codes:
  0  done
  2  the sheet could not be read, or has no such channel or moment
`

type traceFlags struct {
	Sheet   string `arg:""`
	Channel string `arg:""`
	Time    string `arg:"" optional:""`
}

func (f *traceFlags) run(c *console) int {
	m, all, p, err := resolveSheet(f.Sheet)
	if err != nil {
		c.complain("%s: %s", f.Sheet, plainIO(err))
		return exitFailed
	}
	channel, err := findChannel(m, f.Channel, f.Sheet)
	if err != nil {
		c.complain("%s", err)
		return exitFailed
	}
	t := tracer{c, m, channel, func(at grammar.Ref) string { return tracePlace(all, p, m, at) }}
	if f.Time == "" {
		t.everyKey()
		return exitClean
	}
	written, ok := grammar.ParseTime(f.Time)
	if !ok {
		c.complain("`%s` is not a time; write one such as 2b, 3/2b, 36f or 0.75s", f.Time)
		return exitFailed
	}
	t.at(written.In(m.Sheet.Rate, m.Sheet.Beat))
	return exitClean
}

func findChannel(m *motion.Motion, path, sheet string) (*motion.Channel, error) {
	if !m.Whole() {
		return nil, fmt.Errorf("%s has %s", sheet, motionless(m, sheet, "trace"))
	}
	if channel := m.Channel(grammar.NameKey(path)); channel != nil {
		return channel, nil
	}
	var paths []string
	for i := range m.Channels {
		paths = append(paths, m.Channels[i].Dial.Path)
	}
	if near := grammar.Nearest(path, paths); near != "" {
		return nil, fmt.Errorf("the rig `%s` has no channel `%s`; did you mean `%s`?", m.Rig.Name, path, near)
	}
	if _, isTime := grammar.ParseTime(path); isTime {
		return nil, fmt.Errorf("`%s` is a time; the channel stands before it: motet trace SHEET CHANNEL TIME", path)
	}
	if own := channelsOf(path, paths); own != nil {
		return nil, fmt.Errorf("`%s` is a control; its channels are %s", path, strings.Join(own, " "))
	}
	return nil, fmt.Errorf("the rig `%s` has no channel `%s`; its channels are %s", m.Rig.Name, path, strings.Join(paths, " "))
}

// tracePlace is file:line of a reference, empty for none.
func tracePlace(all *projects, p *project, m *motion.Motion, at grammar.Ref) string {
	if at.IsZero() {
		return ""
	}
	files := append([]*grammar.File{m.File}, m.Linked...)
	for _, file := range files {
		if line, ok := file.LineNumber(at); ok {
			return fmt.Sprintf("%s:%d", all.shown(p, file.Path), line+1)
		}
	}
	return ""
}

type tracer struct {
	*console
	motion  *motion.Motion
	channel *motion.Channel
	place   func(grammar.Ref) string
}

// everyKey traces the channel at each of its keys' own moments.
func (t tracer) everyKey() {
	if t.channel.Base == nil {
		t.at(grammar.Rat{})
		return
	}
	for i, key := range t.channel.Base.Keys {
		if i > 0 {
			t.print("\n")
		}
		t.at(key.Time.Add(t.channel.Late))
	}
}

func (t tracer) at(frames grammar.Rat) {
	s := t.motion.Sheet
	wrapped := ""
	if s.Closed && (frames.Sign() < 0 || frames.Cmp(s.Length) > 0) {
		wrapped = fmt.Sprintf(", which is frame %s of the cycle's %s", shortNumber(frames.Mod(s.Length).Float()), shortNumber(s.Length.Float()))
	}
	t.print(fmt.Sprintf("%s at frame %s (%s s, beat %s)%s\n", t.channel.Dial.Path, shortNumber(frames.Float()), shortNumber(s.Seconds(frames).Float()), s.Beats(frames), wrapped))
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	for _, step := range t.channel.Trace(frames.Float()) {
		row := "  " + shortNumber(step.Value) + unitSign(t.channel.Dial.Unit) + "\t" + step.What
		if place := t.place(step.At); place != "" {
			row += "\t" + place
		}
		_, _ = fmt.Fprintln(table, row)
	}
	_ = table.Flush()
}

// shortNumber writes a number with at most four decimals.
func shortNumber(v float64) string {
	text := strconv.FormatFloat(v, 'f', 4, 64)
	if text = strings.TrimRight(strings.TrimRight(text, "0"), "."); text == "-0" {
		return "0"
	}
	return text
}

func unitSign(unit string) string {
	switch unit {
	case "deg":
		return "°"
	case "%":
		return " %"
	}
	return " " + unit
}
