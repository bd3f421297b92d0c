package server

import (
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// sheetCard tells what a sheet comes to as a whole.
func sheetCard(m *motion.Motion) card {
	if !m.Whole() {
		return card{}
	}
	c := card{title: m.Sheet.Name, tells: sheetLens(m)}
	c.showCycle(m)
	return c
}

// headerCard tells what a sheet's header line comes to.
func headerCard(m *motion.Motion, stmt grammar.Statement) (card, bool) {
	s := m.Sheet
	switch line := stmt.(type) {
	case *grammar.TempoLine:
		return tempoCard(s, line.Exact()), true
	case *grammar.RateLine:
		frame := grammar.Whole(1).Div(s.Rate)
		return card{tells: fmt.Sprintf("%s frames a second · a frame is %s ms", exactly(s.Rate), figure(1000*frame.Float(), 3))}, true
	case *grammar.BeatLine:
		c := card{tells: several(s.Beat, "frame") + " · " + seconds(s, s.Beat)}
		c.add(figure(s.Rate.Mul(grammar.Whole(60)).Div(s.Beat).Float(), 3) + " beats a minute")
		return c, true
	case *grammar.CycleLine, *grammar.SpanLine:
		return lengthCard(s, s.Length), 0 < s.Length.Sign()
	case *grammar.GridLine:
		return lengthCard(s, s.Grid), true
	case *grammar.RigEntryLine:
		return rigCard(m.Rig)
	}
	return card{}, false
}

// tempoCard tells how many frames a beat takes, and where that is no whole number which tempos beside it make it one.
func tempoCard(s *motion.Sheet, tempo grammar.Rat) card {
	c := card{tells: several(s.Beat, "frame") + " a beat at " + exactly(s.Rate) + " fps · " + seconds(s, s.Beat)}
	if s.Beat.IsWhole() {
		return c
	}
	var near []string
	for _, frames := range []int64{s.Beat.Floor() + 1, s.Beat.Floor()} {
		if 0 < frames {
			bpm := s.Rate.Mul(grammar.Whole(60)).Div(grammar.Whole(frames))
			near = append(near, fmt.Sprintf("%s bpm makes it %d frames", figure(bpm.Float(), 3), frames))
		}
	}
	c.add(exactly(tempo) + " bpm falls between frames; " + strings.Join(near, ", "))
	return c
}

// exactly writes a number as it is, as a fraction where it has no short decimals.
func exactly(r grammar.Rat) string {
	if !r.OK() {
		return unknown
	}
	if decimal := figure(r.Float(), 3); strings.HasPrefix(r.String(), decimal) || 1000%r.Den() == 0 {
		return decimal
	}
	return r.String() + " (" + figure(r.Float(), 3) + ")"
}

// rigCard tells what a rig offers.
func rigCard(r *motion.Rig) (card, bool) {
	if r == nil {
		return card{}, false
	}
	c := card{tells: r.Name}
	c.add(fmt.Sprintf("%s tall · %d joints · %d channels", measured(r.Height, "cm"), len(r.Joints), len(r.Channels)))
	c.add("controls: " + strings.Join(r.Controls(), " "))
	return c, true
}
