package server

import (
	"fmt"
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// rowCard tells about a cell of a table's row: a time, a pose, or a key of a channel.
func rowCard(m *motion.Motion, b *grammar.Block, line, column int) (card, bool) {
	l := &b.Lines[line]
	for i := range l.Cells {
		cell := &l.Cells[i]
		if !cell.Span.Contains(column) || len(b.Columns) <= i {
			continue
		}
		switch kind := b.Columns[i].Kind; {
		case cell.Time != nil && m.Sheet != nil:
			return timeCellCard(m, b, cell)
		case kind == grammar.ValueColumn && 0 < i:
			return valueCellCard(m, b, line, i)
		case kind == grammar.NameColumn && b.Kind == grammar.BlockingBlock:
			return poseCard(m, grammar.NameKey(l.CellText(i)))
		case kind == grammar.NameColumn && b.Kind != grammar.HouseBlock && cell.Class != grammar.Dot:
			return bodyCard(m, l.CellText(i))
		case kind == grammar.PathColumn:
			return patternCard(m, l.CellText(i))
		case kind == grammar.DrivesColumn:
			return morphCard(m, l.CellText(i))
		}
	}
	return card{}, false
}

// timeCellCard tells about a time in a table, and when a control that plays late really plays it.
func timeCellCard(m *motion.Motion, b *grammar.Block, cell *grammar.Cell) (card, bool) {
	frames := cell.Time.In(m.Sheet.Rate, m.Sheet.Beat)
	if !frames.OK() {
		return card{}, false
	}
	c := momentCard(m.Sheet, frames)
	control, layer, _ := trackOf(b)
	if m.Rig != nil && layer == "" {
		for _, i := range m.Rig.ControlChannels(control) {
			if i < len(m.Channels) && m.Channels[i].Base != nil {
				c.add(playsLate(m.Sheet, &m.Channels[i], frames))
				break
			}
		}
	}
	return c, true
}

// playsLate tells when a channel with an `overlap` plays what is written at a time.
func playsLate(s *motion.Sheet, c *motion.Channel, frames grammar.Rat) string {
	if c.Late.IsZero() {
		return ""
	}
	plays := frames.Add(c.Late)
	if s.Closed && 0 < s.Length.Sign() {
		plays = plays.Mod(s.Length)
	}
	return fmt.Sprintf("plays %s later, at frame %s", several(c.Late, "frame"), mixed(plays))
}

// playedAt is when a channel plays what a table of a layer, empty for the base, says at a time.
func playedAt(s *motion.Sheet, c *motion.Channel, layer string, frames grammar.Rat) float64 {
	if layer == "" {
		frames = frames.Add(c.Late)
	}
	if s.Closed && 0 < s.Length.Sign() && frames.Cmp(s.Length) != 0 {
		frames = frames.Mod(s.Length)
	}
	return frames.Float()
}

// valueCellCard tells about a key of a track, or about the moment of a cell without one.
func valueCellCard(m *motion.Motion, b *grammar.Block, line, column int) (card, bool) {
	l := &b.Lines[line]
	control, layer, ok := trackOf(b)
	channel := m.Channel(control + "/" + grammar.NameKey(b.Columns[column].Name))
	if !ok || channel == nil || m.Sheet == nil || l.Cells[0].Time == nil {
		return card{}, false
	}
	c := card{title: channel.Dial.Path, span: l.Cells[column].Span}
	strand := strandOf(channel, layer)
	frames := l.Cells[0].Time.In(m.Sheet.Rate, m.Sheet.Beat)
	if strand == nil || !frames.OK() {
		c.tells = dialTells(channel.Dial)
		c.add("no key moves it" + inLayer(layer))
		return c, true
	}
	at := b.Ref(line, l.Cells[column].Span)
	key := keyAt(strand, at)
	if 0 <= key {
		c.tells = measured(strand.Keys[key].Value, channel.Dial.Unit) + shapeTells(&strand.Keys[key])
	} else {
		c.tells = "no key here, passes " + measured(strand.Curve.At(frames.Float()), channel.Dial.Unit)
	}
	if channel.Dial.Positive != "" {
		c.tells += ", plus is “" + channel.Dial.Positive + "”"
	}
	c.showChannel(m, channel, playedAt(m.Sheet, channel, layer, frames))
	c.curve = drawn(m.Sheet, channel, strand, frames.Float())
	c.add(speedTells(m.Sheet, channel, strand, frames.Float()))
	c.add(neighboursTell(m.Sheet, channel, strand, frames))
	c.add(rangeTells(channel.Dial, strand))
	if layer == "" {
		c.add(playsLate(m.Sheet, channel, frames))
	}
	c.add(togetherTells(channel, layer, frames))
	return c, true
}

// strandOf is a channel's curve in a layer, the empty one being the base; nil where it has none.
func strandOf(c *motion.Channel, layer string) *motion.Strand {
	for name, strand := range c.Strands() {
		if name == layer {
			return strand
		}
	}
	return nil
}

// keyAt is the first key that a cell gives; -1 for none.
func keyAt(s *motion.Strand, at grammar.Ref) int {
	for i := range s.Keys {
		if s.Keys[i].At == at {
			return i
		}
	}
	return -1
}

func shapeTells(k *motion.Key) string {
	switch k.Shape {
	case motion.Rest:
		return ", rests"
	case motion.Straight:
		return ", goes straight on"
	case motion.Stay:
		return ", stays"
	}
	return ""
}

// speedTells tells how fast a channel goes just before and just after a moment, and in units a beat, in which sheets
// write slopes.
func speedTells(s *motion.Sheet, channel *motion.Channel, strand *motion.Strand, frames float64) string {
	in, out := strand.Curve.Slope(frames)
	rate, beat, unit := s.Rate.Float(), s.Beat.Float(), channel.Dial.Unit
	if math.Abs(in-out) <= 1e-9*max(1, math.Abs(in), math.Abs(out)) {
		if figure(out*rate, 2) == "0" {
			return "stands still"
		}
		return "speed " + speed(out*rate, unit) + ", " + figure(out*beat, 3) + " a beat"
	}
	return "arrives at " + speed(in*rate, unit) + ", leaves at " + speed(out*rate, unit) +
		" (" + figure(in*beat, 3) + " and " + figure(out*beat, 3) + " a beat)"
}

// neighboursTell tells the keys before and after a moment, and how far they are.
func neighboursTell(s *motion.Sheet, channel *motion.Channel, strand *motion.Strand, frames grammar.Rat) string {
	var out []string
	if before, apart, ok := neighbour(strand, frames, -1); ok {
		out = append(out, "before: "+keyTells(s, channel, before)+", "+several(apart, "frame")+" ago")
	}
	if after, apart, ok := neighbour(strand, frames, +1); ok {
		out = append(out, "after: "+keyTells(s, channel, after)+", in "+several(apart, "frame"))
	}
	return strings.Join(out, " · ")
}

func keyTells(s *motion.Sheet, channel *motion.Channel, k *motion.Key) string {
	return measured(k.Value, channel.Dial.Unit) + " at beat " + mixed(s.Beats(k.Time))
}

// neighbour is the nearest key before (step -1) or after (step 1) a moment, and how far it is; round the seam where the
// strand comes again. Keys at the moment itself, the closing row and the row at 0 being one, are no neighbours.
func neighbour(strand *motion.Strand, frames grammar.Rat, step int) (key *motion.Key, apart grammar.Rat, ok bool) {
	for i := range strand.Keys {
		k := &strand.Keys[i]
		distance := k.Time.Sub(frames)
		if step < 0 {
			distance = distance.Neg()
		}
		if strand.Closed() {
			distance = distance.Mod(strand.Period)
		}
		if 0 < distance.Sign() && (!ok || distance.Cmp(apart) < 0) {
			key, apart, ok = k, distance, true
		}
	}
	return key, apart, ok
}

// drawn is a strand over the whole sheet, its least value before and its greatest behind, with a moment marked.
func drawn(s *motion.Sheet, channel *motion.Channel, strand *motion.Strand, marked float64) string {
	least, most := strand.Curve.Range()
	line := sparkline(strand.Curve.At, s.Length.Float(), sparkColumns, marked)
	return measured(least, channel.Dial.Unit) + " " + line + " " + measured(most, channel.Dial.Unit)
}

// rangeTells says how far a strand moves, and how far the rig lets it.
func rangeTells(d *motion.Dial, strand *motion.Strand) string {
	least, most := strand.Curve.Range()
	moves := "moves from " + measured(least, d.Unit) + " to " + measured(most, d.Unit)
	if d.HasRange {
		moves += "; the rig allows " + measured(d.Range[0], d.Unit) + " to " + measured(d.Range[1], d.Unit)
	}
	return moves
}

// togetherTells tells what a channel comes to when what is written at a moment plays, where more than the strand moves
// it.
func togetherTells(channel *motion.Channel, layer string, frames grammar.Rat) string {
	if layer == "" && len(channel.Layers)+len(channel.Follows)+len(channel.Waves) == 0 {
		return ""
	}
	plays := frames.Float()
	if layer == "" {
		plays += channel.Late.Float()
	}
	return "with all that moves it: " + measured(channel.At(plays), channel.Dial.Unit)
}
