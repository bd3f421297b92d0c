package server

import (
	"fmt"
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// What a hover says about the lines of follows, changes, layers and quivers: what each comes to here, in numbers.

// lineCard tells about a line as a whole, or about a name in it that other cards know nothing of.
func lineCard(m *motion.Motion, b *grammar.Block, line int, t grammar.Token) (card, bool) {
	l := &b.Lines[line]
	text := l.Text[t.Span.Start:t.Span.End]
	if m.Sheet == nil || m.Rig == nil {
		return card{}, false
	}
	switch stmt := l.Stmt.(type) {
	case *grammar.LagLine:
		return wholeLine(l, lagCard(m, b))
	case *grammar.SpringLine:
		return wholeLine(l, springCard(m, b, stmt))
	case *grammar.GainLine:
		if t.Class != grammar.Word || text == "of" {
			return wholeLine(l, gainCard(m, b, line, stmt))
		}
	case *grammar.BandLine:
		return wholeLine(l, bandCard(m, b, stmt))
	case *grammar.FromLine:
		return wholeLine(l, baseCard(m))
	case *grammar.LayerLine, *grammar.LayerEntry:
		if layer, ok := b.Opener.(*grammar.LayerLine); ok {
			return layerCard(m, layer.Name.Key())
		}
	case *grammar.SwapLine:
		if t.Class == grammar.Word && text != "swap" {
			return poseCard(m, grammar.NameKey(text))
		}
	}
	if c, ok := wavesCard(m, b, line, t); ok {
		return c, true
	}
	if b.Kind == grammar.ChangeBlock && l.Kind == grammar.EntryLine {
		return wholeLine(l, changeCard(m, b, line))
	}
	for _, name := range blockMentions(nil, b) {
		if name.kind == layerName && name.at.Line == line && name.at.Span == t.Span {
			return layerCard(m, name.key)
		}
	}
	return card{}, false
}

// wholeLine makes a card one about a line's content.
func wholeLine(l *grammar.Line, c card) (card, bool) {
	c.span = l.Content()
	c.title = strings.Join(strings.Fields(l.Text[c.span.Start:c.span.End]), " ")
	return c, c.tells != "" || 0 < len(c.lines)
}

// lagCard tells the lag that is measured beside the one that is asked for.
func lagCard(m *motion.Motion, b *grammar.Block) card {
	all := bonds(m, b, -1)
	if len(all) == 0 {
		return card{tells: "nothing follows by it here"}
	}
	asked := all[0].follow.Lag
	c := card{tells: "asked " + several(asked, "frame") + " · " + seconds(m.Sheet, asked)}
	c.add(measuredTells(m, all))
	return c
}

func measuredTells(m *motion.Motion, all []bond) string {
	frames, likeness, ok := measuredLag(m.Sheet, all)
	if !ok {
		return "the leader stands still, so no lag can be measured"
	}
	return fmt.Sprintf("measured %s frames, %s s, where followers and leaders are %s %% alike", figure(frames, 2),
		figure(frames/m.Sheet.Rate.Float(), 3), figure(100*likeness, 0))
}

// springCard tells a spring in both spellings.
func springCard(m *motion.Motion, b *grammar.Block, line *grammar.SpringLine) card {
	rate := m.Sheet.Rate.Float()
	var spring motion.Spring
	if line.Arrives != nil {
		frames := line.Arrives.Time.In(m.Sheet.Rate, m.Sheet.Beat)
		spring = motion.SpringByArrival(frames.Float(), line.Overshoot.Decimal.Value/100)
	} else {
		spring = motion.SpringByFrequency(line.Frequency.Float(), line.Damping.Decimal.Value, rate)
	}
	// Without any overshoot the damping is 1, which the formula of the arrival only comes near to.
	c := card{tells: "spring " + figure(spring.Hertz(rate), 3) + " Hz damping " + figure(spring.Zeta, 3)}
	if frames, over := spring.Arrival(); !math.IsInf(frames, 0) && !math.IsNaN(frames) {
		c.add("spring arrives " + figure(frames, 2) + "f overshoot " + figure(100*over, 1) + "%")
	} else {
		c.add("comes to the goal without going beyond it")
	}
	if all := bonds(m, b, -1); 0 < len(all) {
		c.add(measuredTells(m, all))
	}
	return c
}

// gainCard tells what a line of a follow adds to its followers.
func gainCard(m *motion.Motion, b *grammar.Block, line int, stmt *grammar.GainLine) card {
	all := bonds(m, b, line)
	if len(all) == 0 {
		return card{tells: "nothing follows by it here"}
	}
	leader := all[0].follow.Leader
	least, most := extent(m, leader.At)
	c := card{tells: "gain " + figure(stmt.Gain.Decimal.Value, 3) + " · `" + leader.Dial.Path + "` moves by " + measured(most-least, leader.Dial.Unit)}
	for i, one := range all {
		if longestList == i && longestList+1 < len(all) {
			c.add(fmt.Sprintf("and %d followers more", len(all)-i))
			break
		}
		least, most := extent(m, func(t float64) float64 { return one.follow.Adds(t) })
		c.add("adds " + measured(least, one.follower.Dial.Unit) + " to " + measured(most, one.follower.Dial.Unit) + " to `" + one.follower.Dial.Path + "`")
	}
	c.add(measuredTells(m, all))
	return c
}

// extent is the least and the greatest value of a curve over the whole sheet, by sampling.
func extent(m *motion.Motion, at func(float64) float64) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for i := range lagSamples + 1 {
		v := at(m.Sheet.Length.Float() * float64(i) / lagSamples)
		least, most = min(least, v), max(most, v)
	}
	return least, most
}

// bandCard tells which harmonics of its period a quiver is made of.
func bandCard(m *motion.Motion, b *grammar.Block, line *grammar.BandLine) card {
	from, to, _, ok := line.Band.Numbers()
	period := m.Sheet.Length
	if quiver, is := b.Opener.(*grammar.QuiverLine); is && quiver.Every != nil {
		period = quiver.Every.Time.In(m.Sheet.Rate, m.Sheet.Beat)
	}
	long := m.Sheet.Seconds(period).Float()
	if !ok || !(0 < long) {
		return card{}
	}
	first, last := motion.Harmonics(long, from, to)
	if last < first {
		return card{tells: "no harmonic of " + figure(long, 3) + " s lies in the band; they are " + figure(1/long, 3) + " Hz apart"}
	}
	return card{tells: fmt.Sprintf("harmonics %d to %d of %s s, from %s to %s Hz", first, last, figure(long, 3), figure(float64(first)/long, 3), figure(float64(last)/long, 3))}
}

// baseCard tells about the sheet that this one is made from.
func baseCard(m *motion.Motion) card {
	if m.Base == nil || m.Base.Sheet == nil {
		return card{}
	}
	s := m.Base.Sheet
	c := card{tells: several(s.Length, "frame") + " · " + seconds(s, s.Length) + " · " + several(s.Beats(s.Length), "beat")}
	if s.Beat != m.Sheet.Beat || s.Rate != m.Sheet.Rate || s.Length != m.Sheet.Length {
		c.add("here " + several(m.Sheet.Length, "frame") + " · " + seconds(m.Sheet, m.Sheet.Length))
	}
	if differs := m.Differs(); 0 < len(differs) {
		c.add(fmt.Sprintf("differs in %d things", len(differs)))
	}
	return c
}

// layerCard tells what a layer does and which channels it moves.
func layerCard(m *motion.Motion, name string) (card, bool) {
	for _, layer := range m.Layers {
		if layer.Name != name {
			continue
		}
		does := "adds"
		if layer.Replaces {
			does = "replaces"
		}
		c := card{title: name, tells: "layer that " + does + ", at " + figure(100*layer.Strength, 1) + " %"}
		var keyed []string
		for i := range m.Channels {
			if strandOf(&m.Channels[i], name) != nil {
				keyed = append(keyed, "`"+m.Channels[i].Dial.Path+"`")
			}
		}
		if 0 < len(keyed) {
			c.add("keys " + strings.Join(shortened(keyed, "channels"), " "))
		}
		return c, true
	}
	return card{}, false
}

// changeCard tells what a line of a change does to the keys that it reaches: how far they went before, and go after.
func changeCard(m *motion.Motion, b *grammar.Block, line int) card {
	var lines []string
	all := 0
	for i := range m.Channels {
		d := m.Channels[i].Dial
		keys, before, after := 0, valueRange{}, valueRange{}
		for _, strand := range m.Channels[i].Strands() {
			for k := range strand.Keys {
				if was, is, ok := changedBy(&strand.Keys[k], b, line); ok {
					before.hold(was, keys == 0)
					after.hold(is, keys == 0)
					keys++
				}
			}
		}
		if 0 < keys {
			lines = append(lines, fmt.Sprintf("`%s` %s: %s, from %s", d.Path, several(grammar.Whole(int64(keys)), "key"), after.tells(d.Unit), before.tells(d.Unit)))
			all += keys
		}
	}
	if all == 0 {
		switch b.Lines[line].Stmt.(type) {
		case *grammar.AmplifyLine, *grammar.ScaleLine, *grammar.OffsetLine:
			return card{tells: "changes no key's value here"}
		}
		return card{} // other lines change times, blocks and seeds, which their names and times tell about
	}
	c := card{tells: fmt.Sprintf("changes %s of %s", several(grammar.Whole(int64(all)), "key"), several(grammar.Whole(int64(len(lines))), "channel"))}
	c.lines = shortened(lines, "channels")
	return c
}

// changedBy is the value of a key before and after a line of a change; false where the line left it alone.
func changedBy(k *motion.Key, b *grammar.Block, line int) (before, after float64, ok bool) {
	before = k.First
	for _, change := range k.Changes {
		if change.At.Block == b && change.At.Line == line {
			return before, change.Value, true
		}
		before = change.Value
	}
	return 0, 0, false
}

// valueRange is a least and a greatest value.
type valueRange [2]float64

func (s *valueRange) hold(v float64, first bool) {
	if first {
		*s = valueRange{v, v}
	}
	s[0], s[1] = min(s[0], v), max(s[1], v)
}

func (s valueRange) tells(unit string) string {
	if s[0] == s[1] {
		return measured(s[0], unit)
	}
	return measured(s[0], unit) + " to " + measured(s[1], unit)
}

// houseRuleCard tells about the rule of a row of house rules.
func houseRuleCard(b *grammar.Block, line, column int) (card, bool) {
	l := &b.Lines[line]
	if b.Kind != grammar.HouseBlock || len(l.Cells) == 0 || !l.Cells[0].Span.Contains(column) || lint.RuleNamed(l.CellText(0)) == nil {
		return card{}, false
	}
	return ruleCard(&grammar.Allow{Rule: l.CellText(0), At: l.Cells[0].Span})
}
