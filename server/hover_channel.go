package server

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// sparkColumns is how wide sparklines are: a hover of an editor shows that many beside two numbers without wrapping.
const sparkColumns = 40

// columnCard tells about the channel that a column of a track holds.
func columnCard(m *motion.Motion, b *grammar.Block, name string) (card, bool) {
	control, _, ok := trackOf(b)
	if !ok {
		return card{}, false
	}
	channel := m.Channel(control + "/" + grammar.NameKey(name))
	if channel == nil {
		return card{}, false
	}
	c := channelCard(m, channel)
	c.title = channel.Dial.Path
	return c, true
}

// trackOf is the control and the layer of a table of channels; the layer is empty for the base.
func trackOf(b *grammar.Block) (control, layer string, ok bool) {
	var in *grammar.Name
	switch opener := b.Opener.(type) {
	case *grammar.TrackLine:
		control, in = opener.Control.Key(), opener.Layer
	case *grammar.AmendLine:
		control, in = opener.Control.Key(), opener.Layer
	default:
		return "", "", false
	}
	if in != nil {
		layer = in.Key()
	}
	return control, layer, true
}

// channelCard tells what a channel is, and how it moves over the whole cycle with all that moves it.
func channelCard(m *motion.Motion, c *motion.Channel) card {
	out := card{title: c.Dial.Path, tells: dialTells(c.Dial)}
	out.add(dialRange(c.Dial))
	out.add(dialBlends(m.Rig, c.Dial))
	if !c.Moves() || m.Sheet == nil || m.Sheet.Length.Sign() <= 0 {
		out.add("nothing moves it here")
		return out
	}
	out.showChannel(m, c, -1)
	out.curve = sparkline(c.At, m.Sheet.Length.Float(), sparkColumns, -1)
	for layer, strand := range c.Strands() {
		least, most := strand.Curve.Range()
		out.add(fmt.Sprintf("%d keys%s, from %s to %s", countKeys(strand), inLayer(layer), measured(least, c.Dial.Unit), measured(most, c.Dial.Unit)))
	}
	return out
}

// countKeys counts the keys of a strand; the closing row is not another one.
func countKeys(s *motion.Strand) int {
	n := len(s.Keys)
	if 1 < n && s.Closes(n-1) && s.Keys[0].Time.IsZero() {
		n--
	}
	return n
}

// dialTells says in which unit a channel counts and which way is plus.
func dialTells(d *motion.Dial) string {
	unit := map[string]string{"deg": "degrees", "cm": "centimetres", "%": "per cent"}[d.Unit]
	if d.Positive != "" {
		unit = strings.TrimSpace(unit + ", plus is “" + d.Positive + "”")
	}
	return unit
}

// dialRange says what the rig allows a channel, and where it rests.
func dialRange(d *motion.Dial) string {
	rest := "rests at " + measured(d.Rest, d.Unit)
	if !d.HasRange {
		return rest
	}
	return "the rig allows " + measured(d.Range[0], d.Unit) + " to " + measured(d.Range[1], d.Unit) + ", " + rest
}

// dialBlends says which morph targets a channel blends in; empty for none.
func dialBlends(rig *motion.Rig, d *motion.Dial) string {
	var names []string
	for i := range d.Morphs {
		if name := rig.Morphs[d.Morphs[i].Target].Target.Name; !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "blends in the morph target" + map[bool]string{true: " “", false: "s “"}[len(names) == 1] + strings.Join(names, "”, “") + "”"
}

func inLayer(layer string) string {
	if layer == "" {
		return ""
	}
	return " in the layer `" + layer + "`"
}

// patternCard tells which channels a control, a channel or a pattern of them means.
func patternCard(m *motion.Motion, text string) (card, bool) {
	if m.Rig == nil {
		return card{}, false
	}
	pattern := grammar.NameKey(text)
	if c := m.Channel(pattern); c != nil {
		return channelCard(m, c), true
	}
	if dial := m.Rig.DialIndex(pattern); 0 <= dial {
		return dialCard(m.Rig, &m.Rig.Channels[dial]), true
	}
	var fits []string
	for i := range m.Rig.Channels {
		d := &m.Rig.Channels[i]
		if grammar.MatchPattern(pattern, d.Path) || grammar.MatchPattern(pattern, d.Control) {
			fits = append(fits, "`"+d.Path+"` "+dialTells(d))
		}
	}
	if len(fits) == 0 {
		return card{}, false
	}
	c := card{title: text, tells: several(grammar.Whole(int64(len(fits))), "channel")}
	c.lines = shortened(fits, "channels")
	return c, true
}

// longestList is how many lines a hover lists before it only counts.
const longestList = 16

// shortened leaves out what a list has too many of, and says how many: two at least, since one more line is as short.
func shortened(lines []string, what string) []string {
	if len(lines) <= longestList+1 {
		return lines
	}
	return append(lines[:longestList:longestList], fmt.Sprintf("and %d %s more", len(lines)-longestList, what))
}

// poseEntryCard tells about one value of a pose.
func poseEntryCard(m *motion.Motion, entry *grammar.PoseEntry) (card, bool) {
	if m.Rig == nil || m.Rig.DialIndex(entry.Channel.Key()) < 0 {
		return card{}, false
	}
	d := &m.Rig.Channels[m.Rig.DialIndex(entry.Channel.Key())]
	c := card{title: d.Path, tells: measured(entry.Value.Decimal.Value, d.Unit)}
	c.add(dialTells(d))
	if channel := m.Channel(d.Path); channel != nil && channel.Base != nil {
		c.showChannel(m, channel, -1)
		c.curve = drawn(m.Sheet, channel, channel.Base, -1)
		c.add(rangeTells(d, channel.Base))
	} else {
		c.add(dialRange(d))
	}
	c.span = grammar.Span{Start: entry.Channel.Where().Start, End: entry.Value.Where().End}
	return c, true
}

// poseCard lists a pose's values, its own and those it takes over.
func poseCard(m *motion.Motion, name string) (card, bool) {
	if m.Rig == nil {
		return card{}, false
	}
	for _, p := range m.Poses {
		if p.Name != name {
			continue
		}
		c := card{title: name, tells: "pose of " + several(grammar.Whole(int64(len(p.Values))), "channel")}
		var lines []string
		for _, v := range p.Values {
			d := &m.Rig.Channels[v.Channel]
			lines = append(lines, "`"+d.Path+"` "+measured(v.Value, d.Unit))
		}
		c.lines = shortened(lines, "values")
		c.showPose(m, p)
		return c, true
	}
	return card{}, false
}
