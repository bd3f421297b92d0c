package server

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// What a hover says about the language's own words, and about blocks that make movement by themselves.

// blockTells says in a line what each block is for. LANGUAGE.md says the rest.
var blockTells = map[grammar.BlockKind]string{
	grammar.SheetBlock:    "one movement of one character: a cycle that loops, or a span that plays once",
	grammar.RigBlock:      "the dials that an animator turns, and what they move; many sheets share one",
	grammar.JointsBlock:   "the skeleton: each joint stands below the one that it is on",
	grammar.ChannelsBlock: "the dials: what each moves, by how much and how far, and which way is plus",
	grammar.ChainsBlock:   "limbs of two bones that are solved from where their end shall be",
	grammar.PairsBlock:    "controls that a mirror swaps, beside those that end in .left and .right",
	grammar.PoseBlock:     "values of channels under one name; those that it does not name are at rest",
	grammar.BlockingBlock: "the poses of the whole body, one a row",
	grammar.TrackBlock:    "the keys of one control, one row a moment and one column a channel",
	grammar.AmendBlock:    "replaces or adds single cells of an inherited track, in every round",
	grammar.EasesBlock:    "names for ways from one row to the next",
	grammar.OverlapBlock:  "controls that play later than they are written",
	grammar.FollowBlock:   "controls that move because a leader does, later or as on a spring",
	grammar.LayerBlock:    "how what is written in it goes on top of everything before",
	grammar.QuiverBlock:   "small restless movement that always loops",
	grammar.BreathBlock:   "breathing: each channel goes from 0 to its depth and back",
	grammar.PlantBlock:    "goals that stay where they are for a while, on the ground or on a joint",
	grammar.ChangeBlock:   "what this sheet makes of its base, line after line",
	grammar.NotesBlock:    "review notes that travel with the sheet",
	grammar.HouseBlock:    "levels and limits of rules, for this sheet, or in house.motet for a folder",
	grammar.FamilyBlock:   "what a cast of sheets has in common",
}

// wordCard tells about a word of the language: what its block is for, and how its line is written.
func wordCard(b *grammar.Block, line int, t grammar.Token) (card, bool) {
	l := &b.Lines[line]
	info := grammar.InfoOf(b.Kind)
	if info == nil || t.Class != grammar.Word {
		return card{}, false
	}
	text := l.Text[t.Span.Start:t.Span.End]
	kind, opens := info.Opener, line == b.Open
	if !opens {
		var known bool
		if kind, known = lineKindOf(info, l.FirstWord()); !known {
			return card{}, false
		}
	}
	if text != kind.Word && !slices.ContainsFunc(kind.Words(), func(w grammar.LineWord) bool { return w.Text == text }) {
		return card{}, false
	}
	c := card{tells: "is written `" + strings.ReplaceAll(kind.Usage, "`", "'") + "`"}
	if opens {
		c.tells, c.lines = blockTells[b.Kind], []string{c.tells}
	}
	return c, c.tells != ""
}

// wavesCard tells about a quiver or a breath as a whole, where the cursor is on its name or on a line about its pace.
func wavesCard(m *motion.Motion, b *grammar.Block, line int, t grammar.Token) (card, bool) {
	switch opener := b.Opener.(type) {
	case *grammar.QuiverLine:
		if line != b.Open || t.Span != opener.Name.Where() {
			return card{}, false
		}
		for _, stmt := range b.Entries() {
			if band, ok := stmt.(*grammar.BandLine); ok {
				return bandCard(m, b, band), true
			}
		}
	case *grammar.BreathLine:
		switch b.Lines[line].Stmt.(type) {
		case *grammar.CountLine, *grammar.InhaleLine, *grammar.PauseLine:
			c, ok := breathCard(m, b, opener)
			if ok {
				return wholeLine(&b.Lines[line], c)
			}
		default:
			if line == b.Open && t.Span == opener.Name.Where() {
				return breathCard(m, b, opener)
			}
		}
	}
	return card{}, false
}

// breathCard tells how long a breath is and what it is made of, beside what the rig's character breathes at rest.
func breathCard(m *motion.Motion, b *grammar.Block, opener *grammar.BreathLine) (card, bool) {
	count, inhale, pause := 1.0, 40.0, 0.0
	for _, stmt := range b.Entries() {
		switch line := stmt.(type) {
		case *grammar.CountLine:
			count = line.Count.Decimal.Value
		case *grammar.InhaleLine:
			inhale = line.Inhale.Decimal.Value
		case *grammar.PauseLine:
			pause = line.Pause.Decimal.Value
		}
	}
	period := m.Sheet.Length
	if opener.Every != nil {
		period = opener.Every.Time.In(m.Sheet.Rate, m.Sheet.Beat)
	}
	long := m.Sheet.Seconds(period).Float() / count
	if !(0 < long) || !period.OK() {
		return card{}, false
	}
	c := card{tells: fmt.Sprintf("a breath takes %s s · %s a minute", figure(long, 3), figure(60/long, 1))}
	c.add(fmt.Sprintf("in for %s s, out for %s s, still for %s s", figure(long*inhale/100, 3), figure(long*max(100-inhale-pause, 0)/100, 3), figure(long*pause/100, 3)))
	if usual := m.Rig.Breathes; usual[0] < usual[1] {
		c.add("at rest `" + m.Rig.Name + "` breathes " + figure(usual[0], 1) + " to " + figure(usual[1], 1) + " times a minute")
	}
	return c, true
}
