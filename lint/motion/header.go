package motion

import (
	"fmt"
	"path"
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
	s.From, _ = lines["from"].(*grammar.FromLine)
	s.grid = grammar.Time{Beats: grammar.NewRat(1, 2)}
	if r.Base = r.linkBase(); r.Base != nil {
		r.inheritHeader(r.Base.Sheet)
	}
	baseRate := s.Rate
	if line, ok := lines["rate"].(*grammar.RateLine); ok {
		s.Rate = line.Exact()
	}
	s.Beat = r.beat(lines, baseRate)
	if toRate := s.Rate.Div(baseRate); r.Base != nil && toRate != grammar.Whole(1) {
		for _, t := range []*grammar.Time{&s.length, &s.grid, &s.phase} {
			t.Frames = t.Frames.Mul(toRate)
		}
	}
	if line, ok := lines["cycle"].(*grammar.CycleLine); ok {
		s.length, s.Closed = line.Length.Time, true
	} else if line, ok := lines["span"].(*grammar.SpanLine); ok {
		s.length, s.Closed = line.Length.Time, false
	}
	if line, ok := lines["grid"].(*grammar.GridLine); ok {
		s.grid = line.Grid.Time
	}
	if line, ok := lines["phase"].(*grammar.PhaseLine); ok {
		s.phase = line.Phase.Time
	}
	s.Length, s.Grid, s.Phase = r.frames(s.length), r.frames(s.grid), r.frames(s.phase)
	if line, ok := lines["view"].(*grammar.ViewLine); ok {
		s.View = line.View
	}
	r.checkHeader(lines)
	r.joins(lines)
}

// headerLines gives the header's statements by their first word, and reports what stands twice. `advance` may stand
// once a channel.
func (r *resolver) headerLines(block *grammar.Block) map[string]grammar.Statement {
	lines, seen := map[string]grammar.Statement{}, map[string]int{}
	for i, stmt := range block.Entries() {
		if advance, ok := stmt.(*grammar.AdvanceLine); ok {
			key := advance.Channel.Key()
			if r.hasAdvance(key) {
				r.add(ruleRepeatedName, block.RefLine(i), "`advance %s` is already given above; leave one of the two out", key)
			}
			r.advances = append(r.advances, placed[*grammar.AdvanceLine]{advance, block, i})
			continue
		}
		r.once(block, i, seen)
		word := block.Lines[i].FirstWord()
		if _, twice := lines[word]; !twice {
			lines[word] = stmt
			r.Sheet.Lines[word] = block.RefLine(i)
		}
	}
	return lines
}

func (r *resolver) hasAdvance(key string) bool {
	for _, a := range r.advances {
		if a.stmt.Channel.Key() == key {
			return true
		}
	}
	return false
}

// beat is the beat in frames, exactly: rate × 60 ÷ tempo. A beat that is inherited keeps its length in seconds.
func (r *resolver) beat(lines map[string]grammar.Statement, baseRate grammar.Rat) grammar.Rat {
	if line, ok := lines["tempo"].(*grammar.TempoLine); ok {
		return r.Sheet.Rate.Mul(grammar.Whole(60)).Div(line.Exact())
	}
	if line, ok := lines["beat"].(*grammar.BeatLine); ok {
		return line.Beat.Time.In(r.Sheet.Rate, grammar.Rat{})
	}
	if r.Base != nil {
		return r.Sheet.Beat.Mul(r.Sheet.Rate).Div(baseRate)
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
		r.noRig(opener)
	}
	if !s.Beat.OK() || !s.Length.OK() || !s.Grid.OK() || !s.Phase.OK() {
		r.add(ruleOutside, opener, "the sheet's times have too many digits to be kept exactly; use rounder ones")
	}
}

// noRig reports that no line names a rig. The only one beside the sheet is probably meant.
func (r *resolver) noRig(opener grammar.Ref) {
	problem := r.add(ruleMissingLine, opener, "the sheet names no rig; add `rig NAME in \"FILE\"`, or write the rig into this file")
	if rigs := r.rigsBeside(); len(rigs) == 1 {
		line := "rig " + rigs[0].name + " in \"" + rigs[0].file + "\""
		problem.Message = fmt.Sprintf("the sheet names no rig; add `%s`, which is the one beside it, or write one into this file", line)
		end := len(opener.Block.Lines[opener.Line].Text)
		problem.Mends = []Mend{{Title: "add `" + line + "`", Edits: []Edit{{
			At:   opener.Block.Ref(opener.Line, grammar.Span{Start: end, End: end}),
			Text: "\n  rig       " + strings.TrimPrefix(line, "rig "),
		}}}}
	}
}

// rigBeside is a rig in a file of its own in a sheet's folder.
type rigBeside struct{ name, file string }

// rigsBeside finds the rigs in the sheet's folder. It reads files, and so is only asked where something is missing; a folder
// with very many gives none.
func (r *resolver) rigsBeside() (rigs []rigBeside) {
	const most = 100
	if r.project.list == nil {
		return nil
	}
	files := r.project.list(path.Dir(r.File.Path))
	if len(files) > most {
		return nil
	}
	for _, name := range files {
		file, err := r.project.trees(name)
		if err != nil || file == nil || file.First(grammar.SheetBlock) != nil {
			continue
		}
		if rig := file.First(grammar.RigBlock); rig != nil {
			if opener, ok := rig.Opener.(*grammar.RigLine); ok {
				rigs = append(rigs, rigBeside{opener.Name.Text, path.Base(name)})
			}
		}
	}
	return rigs
}

// badLine tells whether the header has a broken line that begins with one of some words: one mistake is one error.
func (r *resolver) badLine(words ...string) bool {
	for i := range r.Sheet.Block.Lines {
		l := &r.Sheet.Block.Lines[i]
		if l.Kind != grammar.BadLine {
			continue
		}
		first := l.FirstWord()
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
