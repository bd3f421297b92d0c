// Package lint judges motion: each rule is one file with its declaration, its documentation and its check, and asks
// questions of the resolved motion. Rules read no files and print nothing.
package lint

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// Level is how much a report matters.
type Level uint8

// The levels. An Error fails `motet check`, a Warning only with --strict, a Note never.
const (
	Off Level = iota
	Note
	Warning
	Error
)

var levelNames = [...]string{"off", "note", "warning", "error"}

// String is the level's name as `house` writes it.
func (l Level) String() string { return levelNames[l] }

// Group is the part of motion that a rule is about.
type Group string

// The groups of rules, in the order in which they are documented.
const (
	TextGroup    Group = "Text"
	SeamGroup    Group = "Seam"
	TimingGroup  Group = "Timing"
	EconomyGroup Group = "Economy"
	MotionGroup  Group = "Motion"
	CastGroup    Group = "Cast"
)

// Rule is one thing that the linter looks for.
type Rule struct {
	Name   string
	Group  Group
	Level  Level
	Limits []grammar.Limit // by unit, as `house` may set them; none where the rule has no limit
	Asked  bool            // it is off unless a house has a row for it, which gives its level
	Doc    Doc
	Check  func(p *Pass)
}

// Doc is a rule's documentation. `motet explain`, the hover and RULES.md print it, and its examples run as tests.
type Doc struct {
	Reports string // one sentence: what it reports
	Why     string // why that matters to the eye
	Decides string // the arithmetic, the limit and where the limit comes from
	Allow   string // when it is right to allow it
	Mends   string // what its mends do, and which of them --fix applies; empty where it offers none
	Bad     string // a sheet that it reports, or blocks of one behind the header of ExampleSheet
	Good    string // the same put right
}

// Pass is one rule's look at one motion.
type Pass struct {
	Motion *motion.Motion
	Rule   *Rule
	found  []Finding
	*subject
}

// Finding is one report.
type Finding struct {
	Rule    string
	Level   Level
	At      grammar.Ref
	Message string
	Related []motion.Related
	Mends   []motion.Mend
	Unused  bool // what stands there does nothing; an editor may show it faded

	faults int    // that it speaks for; 0 for one
	of     string // the path of the channel that it is about, where it is about one; a row of the blocking has many
	set    bool   // its mends keep their columns already
}

// weight is the number of faults that a finding speaks for.
func (f *Finding) weight() int { return max(f.faults, 1) }

// Report adds a finding at the rule's own level.
func (p *Pass) Report(at grammar.Ref, format string, args ...any) *Finding {
	message := format
	if len(args) > 0 {
		message = fmt.Sprintf(format, args...)
	}
	p.found = append(p.found, Finding{Rule: p.Rule.Name, Level: p.Rule.Level, At: at, Message: message})
	return &p.found[len(p.found)-1]
}

// Limit is the rule's limit of a unit; a rule that asks for a unit that it does not declare gets 0.
func (p *Pass) Limit(unit string) float64 { return p.Rule.limit(unit) }

func (r *Rule) limit(unit string) float64 {
	for _, l := range r.Limits {
		if l.Unit == unit {
			return l.Value
		}
	}
	return 0
}

// Check judges a motion by all rules and gives what they find in the motion's own file, in the order of the text.
// Reports that a comment allows are left out; comments that allow nothing are reported.
func Check(m *motion.Motion) []Finding { return CheckOnly(m, Rules()) }

// CheckOnly judges a motion by some rules, at the levels and limits that the house sets, and gives their reports alone.
// Whether an allowance is used can only be told for rules that ran.
func CheckOnly(m *motion.Motion, rules []*Rule) []Finding {
	s := newSubject(m)
	s.once = true
	return s.check(rules)
}

func newSubject(m *motion.Motion) *subject {
	before := new(Memory)
	return &subject{motion: m, rules: Rules(), ctx: context.Background(), before: before, now: newMemory(m.File.Path, before)}
}

// check judges by some rules.
func (s *subject) check(rules []*Rule) []Finding {
	m := s.motion
	var found []Finding
	var ran []*Rule
	for i, setting := range settle(m, rules) {
		s.stopIfAsked()
		if setting.Rule.Level == Off {
			continue
		}
		pass := &Pass{Motion: m, Rule: setting.Rule, subject: s}
		setting.Rule.Check(pass)
		found = append(found, pass.found...)
		ran = append(ran, rules[i])
	}
	found = withoutAllowed(m.File, brought(m, found, rules), ran, rules)
	keepColumns(found)
	sortFindings(m.File, found)
	return found
}

// sortFindings puts findings in the order of the text. Only their places are moved about, since findings are large.
func sortFindings(f *grammar.File, found []Finding) {
	type placed struct{ start, index int }
	order := make([]placed, len(found))
	for i := range found {
		span, _ := f.Locate(found[i].At)
		order[i] = placed{span.Start, i}
	}
	slices.SortFunc(order, func(a, b placed) int {
		x, y := &found[a.index], &found[b.index]
		if a.start != b.start {
			return a.start - b.start
		}
		return cmp.Or(strings.Compare(x.Rule+x.Message, y.Rule+y.Message), a.index-b.index)
	})
	sorted := make([]Finding, len(found))
	for i, p := range order {
		sorted[i] = found[p.index]
	}
	copy(found, sorted)
}

// RuleNamed finds a rule, or nil.
func RuleNamed(name string) *Rule { return ruleNamed(Rules(), name) }

func ruleNamed(rules []*Rule, name string) *Rule {
	for _, r := range rules {
		if r.Name == name {
			return r
		}
	}
	return nil
}

func ruleNames(rules []*Rule) []string {
	names := make([]string, len(rules))
	for i, r := range rules {
		names[i] = r.Name
	}
	return names
}
