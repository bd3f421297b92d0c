package lint

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// Mended is a text to which its safe mends are applied.
type Mended struct {
	File   *grammar.File
	Motion *motion.Motion
	Done   []Done        // in the order in which it was done
	Left   []Finding     // what is still reported
	Held   map[Held]bool // which safe mends were tried and held back, since more would be reported after them
}

// Held names a mend that was held back, by its title and its finding.
type Held struct{ Rule, Message, Title string }

// Done is one mend that was applied.
type Done struct {
	Rule    string
	Message string // of the finding
	Title   string // of the mend
	Line    int    // at which the finding stood when it was mended, counted from 0
}

// Apply gives a file's text with a mend applied; it is false where the mend is about another file.
func Apply(f *grammar.File, mend motion.Mend) (string, bool) {
	edits, ok := edits(f, mend)
	if !ok {
		return "", false
	}
	text, err := grammar.Apply(f.Text, edits)
	return text, err == nil
}

// edits are a mend's edits in bytes of the file.
func edits(f *grammar.File, mend motion.Mend) ([]grammar.Edit, bool) {
	out := make([]grammar.Edit, len(mend.Edits))
	for i, e := range mend.Edits {
		span, ok := f.Locate(e.At)
		if !ok {
			return nil, false
		}
		out[i] = grammar.Edit{Span: span, Text: e.Text}
	}
	return out, len(out) > 0
}

// MendAll applies every safe mend to a file, round after round until there is none left to apply, thirty rounds at most. In
// one round each finding has at most one mend, its first safe one, and a mend that overlaps one before it waits for the
// next round. Lines that can't be read come first, then what else is an error, since a note may rest on it: a key that
// looks spare beside a wrong one may be needed beside the right one. A mend after which any rule reports more than before
// is not applied, but for one that lets a line be read: what is reported of that line then was wrong all the time, and only
// hidden. So mending never adds an error and always ends. Nothing is written: the answer is a new file. The trees and the
// listing show the files around it, as for a check.
func MendAll(f *grammar.File, trees motion.Trees, list motion.Listing) *Mended {
	return MendOnly(f, trees, list, Rules())
}

// MendOnly is MendAll for some rules: it applies their mends, and judges by them alone.
func MendOnly(f *grammar.File, trees motion.Trees, list motion.Listing, rules []*Rule) *Mended {
	m := &mending{trees: trees, list: list, rules: rules, refused: map[Held]bool{}}
	now := m.judge(f)
	const rounds = 30
	for range rounds {
		next, done := m.round(now)
		if next == nil {
			break
		}
		m.done = append(m.done, done...)
		now = next
	}
	return &Mended{File: now.motion.File, Motion: now.motion, Done: m.done, Left: now.found, Held: m.refused}
}

type mending struct {
	trees   motion.Trees
	list    motion.Listing // nil where families have no members to be looked for
	rules   []*Rule
	done    []Done
	refused map[Held]bool // not tried in every round again
}

// judged is a text and what is reported for it.
type judged struct {
	motion *motion.Motion
	found  []Finding
}

func (m *mending) judge(f *grammar.File) *judged {
	trees := func(path string) (*grammar.File, error) {
		if path == f.Path {
			return f, nil
		}
		return m.trees(path)
	}
	resolved := motion.NewProject(trees).WithListing(m.list).Resolve(f)
	return &judged{resolved, CheckOnly(resolved, m.rules)}
}

// choice is the mend that a round applies for one finding.
type choice struct {
	Held
	edits []grammar.Edit
	line  int
	reads bool // it is to let a line be read
}

// round applies what can be applied at once. Where that does harm, the mends that do so alone are left out; and where the
// rest still does, only its first is applied. It answers nil where nothing is left to apply.
func (m *mending) round(now *judged) (*judged, []Done) {
	for {
		chosen := m.choose(now)
		if len(chosen) == 0 {
			return nil, nil
		}
		if next := m.try(now, chosen); next != nil {
			return next, doneBy(chosen)
		}
		chosen = slices.DeleteFunc(chosen, func(c choice) bool {
			harms := m.try(now, []choice{c}) == nil
			if harms {
				m.refused[c.Held] = true
			}
			return harms
		})
		if len(chosen) == 0 {
			continue // with what is chosen now that those are refused
		}
		if next := m.try(now, chosen); next != nil {
			return next, doneBy(chosen)
		}
		return m.try(now, chosen[:1]), doneBy(chosen[:1])
	}
}

// choose takes the mends of the gravest findings that have any.
func (m *mending) choose(now *judged) []choice {
	if chosen := m.chooseOf(now, illegible); len(chosen) > 0 {
		return chosen
	}
	for _, level := range []Level{Error, Warning, Note} {
		if chosen := m.chooseOf(now, func(f *Finding) bool { return f.Level == level }); len(chosen) > 0 {
			return chosen
		}
	}
	return nil
}

// illegible tells whether a finding is about a line that can't be read.
func illegible(f *Finding) bool { return f.Rule == "syntax" && f.Level == Error }

// chooseOf takes the first safe mend of each finding that is wanted, in the order of the text, unless it overlaps one that
// is chosen already.
func (m *mending) chooseOf(now *judged, wanted func(*Finding) bool) []choice {
	var chosen []choice
	var taken []grammar.Edit
	f := now.motion.File
	for i := range now.found {
		finding := &now.found[i]
		if !wanted(finding) {
			continue
		}
		at := slices.IndexFunc(finding.Mends, func(mend motion.Mend) bool { return mend.Safe })
		if at < 0 {
			continue
		}
		mend := finding.Mends[at]
		c := choice{Held: Held{finding.Rule, finding.Message, mend.Title}, reads: illegible(finding)}
		var ok bool
		if c.edits, ok = edits(f, mend); !ok || m.refused[c.Held] || overlap(taken, c.edits) {
			continue
		}
		c.line, _ = f.LineNumber(finding.At)
		taken = append(taken, c.edits...)
		chosen = append(chosen, c)
	}
	return chosen
}

func overlap(a, b []grammar.Edit) bool {
	for _, x := range a {
		for _, y := range b {
			if x.Span.Start < y.Span.End && y.Span.Start < x.Span.End || x.Span.Start == y.Span.Start {
				return true
			}
		}
	}
	return false
}

// try gives the text with some mends applied, judged, or nil where that does no good, or some harm.
func (m *mending) try(now *judged, chosen []choice) *judged {
	if len(chosen) == 0 {
		return nil
	}
	var all []grammar.Edit
	for _, c := range chosen {
		all = append(all, c.edits...)
	}
	f := now.motion.File
	text, err := grammar.Apply(f.Text, all)
	if err != nil {
		return nil
	}
	next := m.judge(grammar.Reparse(f, f.Path, text))
	// All are to let lines be read, or none is.
	if chosen[0].reads {
		if less := now.illegible() - next.illegible(); less < 0 || less == 0 && !nearer(now, next) {
			return nil
		}
		return next
	}
	if faults(now.found) <= faults(next.found) || worse(now.found, next.found) {
		return nil
	}
	return next
}

// illegible counts the lines that can't be read, and those that can't be judged for want of another.
func (j *judged) illegible() (n int) {
	for i := range j.found {
		if illegible(&j.found[i]) {
			n++
		}
	}
	for _, b := range j.motion.File.Blocks {
		for i := range b.Lines {
			if b.Lines[i].Kind == grammar.MutedLine {
				n++
			}
		}
	}
	return n
}

// nearer tells whether spellings were put right on lines that have another fault besides: as many can't be read as before,
// but fewer of them can be mended.
func nearer(now, next *judged) bool { return mendable(next.found) < mendable(now.found) }

func mendable(found []Finding) (n int) {
	for i := range found {
		if illegible(&found[i]) && slices.ContainsFunc(found[i].Mends, func(mend motion.Mend) bool { return mend.Safe }) {
			n++
		}
	}
	return n
}

// faults counts what some findings speak for.
func faults(found []Finding) (n int) {
	for i := range found {
		n += found[i].weight()
	}
	return n
}

// worse tells whether any rule finds more faults than before.
func worse(before, after []Finding) bool {
	counts := map[string]int{}
	for i := range before {
		counts[before[i].Rule] += before[i].weight()
	}
	for i := range after {
		counts[after[i].Rule] -= after[i].weight()
		if counts[after[i].Rule] < 0 {
			return true
		}
	}
	return false
}

func doneBy(chosen []choice) []Done {
	out := make([]Done, len(chosen))
	for i, c := range chosen {
		out[i] = Done{c.Rule, c.Message, c.Title, c.line}
	}
	return out
}
