package lint

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// Reference is RULES.md: what every rule looks for, made from the rules themselves, so that it cannot say anything else.
// What an example is reported for comes from a check of it.
func Reference() string {
	var out strings.Builder
	out.WriteString(referenceHead)
	rules := byGroup()
	group := Group("")
	for _, r := range rules {
		if r.Group != group {
			group = r.Group
			fmt.Fprintf(&out, "\n### %s\n\n| rule | level | limit | reports |\n| --- | --- | --- | --- |\n", group)
		}
		fmt.Fprintf(&out, "| [`%s`](#%s) | %s | %s | %s |\n", r.Name, r.Name, r.levelText(), r.LimitsText(), r.Doc.Reports)
	}
	out.WriteString(referenceFaults)
	out.WriteString("\n## Each rule\n")
	for _, r := range rules {
		out.WriteString("\n" + r.markdown())
	}
	return out.String()
}

// byGroup is all rules, those of one group together, groups in the order of their first rules.
func byGroup() []*Rule {
	var groups []Group
	for _, r := range Rules() {
		if !slices.Contains(groups, r.Group) {
			groups = append(groups, r.Group)
		}
	}
	rules := slices.Clone(Rules())
	slices.SortStableFunc(rules, func(a, b *Rule) int { return slices.Index(groups, a.Group) - slices.Index(groups, b.Group) })
	return rules
}

const referenceHead = `# The rules

What ` + "`motet check`" + ` looks for. This file is written by a test from the rules themselves
(` + "`go test ./lint -run Reference -update`" + `); ` + "`motet explain RULE`" + ` says the same in the terminal.

An error fails ` + "`motet check`" + `, a warning only with ` + "`--strict`" + `, a note never. A comment ` + "`# allow RULE: reason`" + `
behind a line, or above it, silences a rule there. Limits without a source are common practice. A mend is offered in the
editor; ` + "`--fix`" + ` applies those that can only be right: they put a fault right, or leave the motion as it is.

The examples are on a small figure of a metre, at 24 frames a second and 80 beats a minute: a beat is 18 frames.

## All of them
`

const referenceFaults = `
## Known faults, and what is said of them

500 faults put into the demo's base one at a time, the last four kinds into its motion with a key on every frame, and what
the rules then say (` + "`go test ./lint -run Injected -injections 500`" + `; the sheet without a fault is silent):

| fault | rule | put in | found, at its place | anything else |
| --- | --- | --- | --- | --- |
| a row at which the weight turns, two frames later or earlier | ` + "`off-beat`" + ` | 100 | 100 | 0 |
| one frame of one channel lifted by 2° | ` + "`pop`" + ` | 100 | 100 | 0 |
| the right arm does what the left one does | ` + "`twin`" + ` | 100 | 100 | 0 |
| everything frozen for a second | ` + "`freeze`" + ` | 100 | 100 | 0 |
| a foot slid by 2 cm and back | ` + "`slide`" + ` | 100 | 100 | 0 |
`

// Page is what RULES.md says of the rule, as a page of its own: Markdown with the rule's name as its heading.
func (r *Rule) Page() string { return strings.TrimPrefix(r.markdown(), "##") }

// markdown is the rule's section of RULES.md.
func (r *Rule) markdown() string {
	var out strings.Builder
	fmt.Fprintf(&out, "### %s\n\n%s\n\n", r.Name, r.headline())
	for _, part := range r.parts() {
		out.WriteString(strings.TrimRight("**"+part.title+".** "+part.text, " ") + "\n\n")
		if part.example != "" {
			fmt.Fprintf(&out, "```\n%s```\n\n", part.example)
		}
		for _, message := range part.messages {
			fmt.Fprintf(&out, "> %s\n\n", message)
		}
	}
	return strings.TrimRight(out.String(), "\n") + "\n"
}

func (r *Rule) headline() string {
	text := fmt.Sprintf("%s, in the group %s", r.levelText(), r.Group)
	if limits := r.LimitsText(); limits != "" {
		text += ", limit " + limits
	}
	return text
}

// docPart is one part of a rule's documentation.
type docPart struct {
	title, text string
	example     string
	messages    []string // what the example is reported for
}

func (r *Rule) parts() []docPart {
	var messages []string
	for _, f := range CheckExample(r.Doc.Bad) {
		if f.Rule == r.Name {
			messages = append(messages, f.Message)
		}
	}
	mends := r.Doc.Mends
	if mends == "" {
		mends = "None."
	}
	return []docPart{
		{title: "What it reports", text: r.Doc.Reports},
		{title: "Why it matters to the eye", text: r.Doc.Why},
		{title: "Reported", example: r.Doc.Bad, messages: messages},
		{title: "Put right", example: r.Doc.Good},
		{title: "How it decides", text: r.Doc.Decides},
		{title: "When to allow it", text: r.Doc.Allow},
		{title: "Mends", text: mends},
	}
}

// levelText is the rule's level, and whether it waits to be asked for.
func (r *Rule) levelText() string {
	if r.Asked {
		return r.Level.String() + ", off unless asked for"
	}
	return r.Level.String()
}

// LimitsText writes the rule's limits; those that only a house can set are their units alone.
func (r *Rule) LimitsText() string { return limitsText(r.Limits) }

func limitsText(limits []grammar.Limit) string {
	parts := make([]string, len(limits))
	for i, l := range limits {
		parts[i] = limitText(l)
	}
	return strings.Join(parts, ", ")
}

func limitText(l grammar.Limit) string {
	if math.IsInf(l.Value, 0) {
		return l.Unit
	}
	return number(l.Value) + l.Unit
}
