package motion

import (
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// header reads a sheet's header lines. Whatever is left out has its default, so that the rest can be judged.
func (r *resolver) header(block *grammar.Block) {
	s := &Sheet{
		Block: block, Rate: grammar.Whole(24), View: "front",
		Advance: map[string]float64{}, Lines: map[string]grammar.Ref{},
	}
	r.Sheet = s
	if opener, ok := block.Opener.(*grammar.SheetLine); ok {
		s.Name = opener.Name.Key()
	}
	lines := r.headerLines(block)
	if line, ok := lines["rate"].(*grammar.RateLine); ok {
		s.Rate = line.Exact()
	}
	s.Beat = r.beat(lines)
	if line, ok := lines["cycle"].(*grammar.CycleLine); ok {
		s.Length, s.Closed = r.frames(line.Length.Time), true
	} else if line, ok := lines["span"].(*grammar.SpanLine); ok {
		s.Length = r.frames(line.Length.Time)
	}
	s.Grid = s.Beat.Mul(grammar.NewRat(1, 2))
	if line, ok := lines["grid"].(*grammar.GridLine); ok {
		s.Grid = r.frames(line.Grid.Time)
	}
	if line, ok := lines["phase"].(*grammar.PhaseLine); ok {
		s.Phase = r.frames(line.Phase.Time)
	}
	if line, ok := lines["view"].(*grammar.ViewLine); ok {
		s.View = line.View
	}
	s.From, _ = lines["from"].(*grammar.FromLine)
	r.checkHeader(lines)
}

// headerLines gives the header's statements by their first word, and reports what stands twice. `advance` may stand
// once a channel.
func (r *resolver) headerLines(block *grammar.Block) map[string]grammar.Statement {
	lines, seen := map[string]grammar.Statement{}, map[string]int{}
	for i, stmt := range block.Entries() {
		if advance, ok := stmt.(*grammar.AdvanceLine); ok {
			key := advance.Channel.Key()
			if _, twice := r.Sheet.Advance[key]; twice {
				r.add(ruleRepeatedName, block.RefLine(i), "`advance %s` is already given above; leave one of the two out", key)
			}
			r.Sheet.Advance[key] = advance.Gain.Decimal.Value
			r.advances = append(r.advances, placed[*grammar.AdvanceLine]{advance, block, i})
			continue
		}
		r.once(block, i, seen)
		word, _, _ := strings.Cut(strings.TrimSpace(block.Lines[i].Text), " ")
		if _, twice := lines[word]; !twice {
			lines[word] = stmt
			r.Sheet.Lines[word] = block.RefLine(i)
		}
	}
	return lines
}

// beat is the beat in frames, exactly: rate × 60 ÷ tempo.
func (r *resolver) beat(lines map[string]grammar.Statement) grammar.Rat {
	if line, ok := lines["tempo"].(*grammar.TempoLine); ok {
		return r.Sheet.Rate.Mul(grammar.Whole(60)).Div(line.Exact())
	}
	if line, ok := lines["beat"].(*grammar.BeatLine); ok {
		return line.Beat.Time.In(r.Sheet.Rate, grammar.Rat{})
	}
	return r.Sheet.Rate
}

// frames gives a time in frames of this sheet's rate.
func (r *resolver) frames(t grammar.Time) grammar.Rat { return t.In(r.Sheet.Rate, r.Sheet.Beat) }

func (r *resolver) checkHeader(lines map[string]grammar.Statement) {
	s := r.Sheet
	exclude := func(one, other string) {
		if lines[one] != nil && lines[other] != nil {
			problem := r.add(ruleRepeatedName, s.Lines[other], "`%s` and `%s` say the same thing; leave one of the two out", one, other)
			problem.Related = []Related{{s.Lines[one], "the first one"}}
		}
	}
	exclude("tempo", "beat")
	exclude("cycle", "span")
	opener := s.Block.RefLine(s.Block.Open)
	switch {
	case s.From != nil:
	case lines["cycle"] == nil && lines["span"] == nil && !r.badLine("cycle", "span"):
		r.add(ruleMissingLine, opener, "the sheet has no length; add `cycle 4b` for a loop, or `span 48f` for a motion that plays once")
	case s.Length.Sign() <= 0 && s.Length.OK() && (lines["cycle"] != nil || lines["span"] != nil):
		r.add(ruleOutside, s.At("cycle"), "the sheet's length comes to %s frames, but must be above 0", s.Length)
	}
	if s.From == nil && lines["rig"] == nil && !r.badLine("rig") && r.File.First(grammar.RigBlock) == nil {
		r.add(ruleMissingLine, opener, "the sheet names no rig; add `rig NAME in \"FILE\"`, or write the rig into this file")
	}
	if !s.Beat.OK() || !s.Length.OK() || !s.Grid.OK() || !s.Phase.OK() {
		r.add(ruleOutside, opener, "the sheet's times have too many digits to be kept exactly; use rounder ones")
	}
	for _, word := range []string{"leaves", "rejoins"} {
		if lines[word] != nil {
			r.Deferred = append(r.Deferred, s.Lines[word])
		}
	}
	if s.From != nil {
		r.Deferred = append(r.Deferred, s.Lines["from"])
	}
}

// badLine tells whether the header has a broken line that begins with one of some words: one mistake is one error.
func (r *resolver) badLine(words ...string) bool {
	for i := range r.Sheet.Block.Lines {
		l := &r.Sheet.Block.Lines[i]
		if l.Kind != grammar.BadLine {
			continue
		}
		first, _, _ := strings.Cut(strings.TrimSpace(l.Text), " ")
		for _, word := range words {
			if first == word || grammar.Nearest(first, []string{word}) != "" {
				return true
			}
		}
	}
	return false
}

// placed is a statement and where it stands.
type placed[S grammar.Statement] struct {
	stmt  S
	block *grammar.Block
	line  int
}

func (p placed[S]) ref(at grammar.At) grammar.Ref { return p.block.Ref(p.line, at.Where()) }
