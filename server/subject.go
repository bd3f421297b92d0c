package server

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// cardAt finds what stands at a column, in bytes, of a block's line, and tells about it. It is false where there is
// nothing to tell.
func cardAt(m *motion.Motion, b *grammar.Block, line, column int) (card, bool) {
	l := &b.Lines[line]
	if l.Allow != nil && l.Allow.At.Contains(column) {
		return ruleCard(l.Allow)
	}
	token, ok := tokenAt(l.Text, column)
	if !ok {
		return card{}, false
	}
	var c card
	switch l.Kind {
	case grammar.RowLine:
		if c, ok = houseRuleCard(b, line, column); !ok {
			c, ok = rowCard(m, b, line, column)
		}
	case grammar.HeaderLine:
		c, ok = columnCard(m, b, l.Text[token.Span.Start:token.Span.End])
	case grammar.OpenerLine, grammar.EntryLine:
		if c, ok = lineCard(m, b, line, token); ok {
			break
		}
		if c, ok = timeCard(m, l, token, column); !ok {
			c, ok = statementCard(m, b, l, token)
		}
		if !ok {
			c, ok = wordCard(b, line, token)
		}
	default:
		return card{}, false
	}
	if c.span.Len() == 0 {
		c.span = token.Span
	}
	if c.title == "" {
		c.title = l.Text[c.span.Start:c.span.End]
	}
	return c, ok
}

// ruleCard tells what a rule looks for.
func ruleCard(allow *grammar.Allow) (card, bool) {
	rule := lint.RuleNamed(allow.Rule)
	if rule == nil {
		return card{}, false
	}
	return card{
		span: allow.At, title: rule.Name, tells: rule.Level.String(),
		lines: []string{rule.Doc.Reports, rule.Doc.Why, "to allow: " + rule.Doc.Allow},
	}, true
}

// timeCard tells about a time in a list's line or in an opening line.
func timeCard(m *motion.Motion, l *grammar.Line, t grammar.Token, column int) (card, bool) {
	if m.Sheet == nil || t.Class != grammar.TimeAtom && t.Class != grammar.RangeAtom {
		return card{}, false
	}
	time, span, ok := timesOf(l.Text, t, column)
	if !ok {
		return card{}, false
	}
	frames := time.In(m.Sheet.Rate, m.Sheet.Beat)
	if !frames.OK() {
		return card{}, false
	}
	var c card
	switch senseOf(l.Stmt) {
	case momentSense:
		c = momentCard(m.Sheet, frames)
	case lengthSense:
		c = lengthCard(m.Sheet, frames)
	default:
		c = card{tells: several(frames, "frame") + " · " + seconds(m.Sheet, frames) + " in the other sheet's time, as far as both share rate and tempo"}
	}
	c.span = span
	return c, true
}

// statementCard tells about a name or a number in a list's line or in an opening line.
func statementCard(m *motion.Motion, b *grammar.Block, l *grammar.Line, t grammar.Token) (card, bool) {
	text := l.Text[t.Span.Start:t.Span.End]
	switch stmt := l.Stmt.(type) {
	case *grammar.PoseEntry:
		return poseEntryCard(m, stmt)
	case *grammar.AdvanceLine:
		if c := m.Channel(stmt.Channel.Key()); c != nil {
			return channelCard(m, c), true
		}
		return card{}, false
	case *grammar.PlantEntry:
		return bodyCard(m, text)
	case *grammar.TrackLine, *grammar.AmendLine, *grammar.LateEntry, *grammar.FollowLine, *grammar.AmountLine:
		return patternCard(m, text)
	case *grammar.GainLine: // a name alone is a channel of the followers, and behind `of` one of the leader
		if follow, ok := b.Opener.(*grammar.FollowLine); ok {
			of := follow.Followers.Text
			if t.Span == stmt.Leader.Where() {
				of = follow.Leader.Text
			}
			return patternCard(m, of+"/"+text)
		}
	case *grammar.PoseLine:
		return poseCard(m, grammar.NameKey(text))
	case *grammar.SheetLine:
		return sheetCard(m), m.Whole()
	}
	if b.Kind != grammar.SheetBlock || m.Sheet == nil {
		return card{}, false
	}
	c, ok := headerCard(m, l.Stmt)
	c.span = l.Content()
	c.title = l.FirstWord()
	return c, ok
}
