package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
)

const explainHelp = `
motet explain [RULE]

Tells what a rule looks for, why that matters to the eye, how it decides, and
when to allow it, with a sheet that it reports. Without a RULE, lists the rules.

exit codes:
  0  done
  2  there is no such rule
`

type explainFlags struct {
	Rule string `arg:"" optional:""`
}

func (f *explainFlags) run(c *console) int {
	if f.Rule == "" {
		c.print(ruleList())
		return exitClean
	}
	rule := lint.RuleNamed(f.Rule)
	if rule == nil {
		c.complain("%s", unknownRule(f.Rule))
		return exitFailed
	}
	explain(c, rule)
	return exitClean
}

// unknownRule says that there is no rule of that name, and which one may be meant.
func unknownRule(name string) string {
	var names []string
	for _, r := range lint.Rules() {
		names = append(names, r.Name)
	}
	text := fmt.Sprintf("there is no rule `%s`", name)
	if near := grammar.Nearest(name, names); near != "" {
		return text + fmt.Sprintf("; did you mean `%s`?", near)
	}
	return text + "; `motet explain` lists the rules"
}

// pageWidth is how wide explanations are set.
const pageWidth = 80

func ruleList() string {
	var out strings.Builder
	width := 0
	for _, r := range lint.Rules() {
		width = max(width, len(r.Name))
	}
	group := lint.Group("")
	for _, r := range lint.Rules() {
		if r.Group != group {
			if group != "" {
				out.WriteString("\n")
			}
			group = r.Group
			fmt.Fprintf(&out, "%s\n", group)
		}
		level := r.Level
		if r.Asked {
			level = lint.Off
		}
		head := fmt.Sprintf("  %-*s  %-7s  ", width, r.Name, level)
		out.WriteString(head + strings.TrimLeft(wrap(r.Doc.Reports, len(head)), " "))
	}
	return out.String()
}

// explain prints a rule's documentation. What its example is reported for comes from a check, here and now.
func explain(c *console, r *lint.Rule) {
	c.print(fmt.Sprintf("%s: %s in the group %s", r.Name, article(r.Level), r.Group))
	if r.Asked {
		c.print(", off unless a house asks for it")
	}
	if limits := r.LimitsText(); limits != "" {
		c.print(", limit " + limits)
	}
	c.print("\n\n" + wrap(r.Doc.Reports, 0) + "\n" + wrap(r.Doc.Why, 0))
	section(c, "Example", indented(r.Doc.Bad))
	c.print("\n")
	found := exampleFindings(r)
	(&report.Text{Out: c.out, Color: c.color, Fixes: true}).Findings(found)
	section(c, "Put right", indented(r.Doc.Good))
	section(c, "How it decides", wrap(r.Doc.Decides, 2))
	if r.Doc.Mends != "" {
		section(c, "Mends", wrap(r.Doc.Mends, 2))
	}
	section(c, "When to allow it", wrap(r.Doc.Allow, 2))
}

func article(level lint.Level) string {
	if level == lint.Error {
		return "an error"
	}
	return "a " + level.String()
}

func section(c *console, title, text string) { c.print("\n" + title + "\n" + text) }

// exampleFindings are the reports on a rule's bad example, which stands on the rig that all examples share.
func exampleFindings(r *lint.Rule) []report.Finding {
	m := lint.ResolveExample(r.Doc.Bad)
	found := slices.DeleteFunc(lint.Check(m), func(f lint.Finding) bool { return f.Rule != r.Name })
	return report.Of(found, func(at grammar.Ref) (report.Place, bool) {
		for _, file := range append([]*grammar.File{m.File}, m.Linked...) {
			if span, ok := file.Locate(at); ok {
				return report.Place{Path: file.Path, File: file, Span: span}, true
			}
		}
		return report.Place{}, false
	})
}

func indented(text string) string {
	var out strings.Builder
	for line := range strings.Lines(text) {
		if strings.TrimSpace(line) != "" {
			out.WriteString("  ")
		}
		out.WriteString(line)
	}
	return out.String()
}

// wrap sets a paragraph in lines of the page's width, each indented.
func wrap(text string, indent int) string {
	var out strings.Builder
	column := 0
	for _, word := range strings.Fields(text) {
		width := utf8.RuneCountInString(word)
		switch {
		case column == 0:
			out.WriteString(strings.Repeat(" ", indent))
			column = indent
		case column+1+width > pageWidth:
			out.WriteString("\n" + strings.Repeat(" ", indent))
			column = indent
		default:
			out.WriteString(" ")
			column++
		}
		out.WriteString(word)
		column += width
	}
	return out.String() + "\n"
}
