package main

import (
	"slices"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

const checkHelp = `
motet check [FLAGS] [PATH…]

Checks sheets and rigs, and tells what an eye trained on motion would stumble
over: where, by how much, and what would mend it. A folder is searched with all
below it, hidden folders left out; without a PATH, the current folder is.

  --strict       warnings fail too, not only errors
  --rule NAME    only this rule; can be given several times
  --fix          first apply every mend that is safe without asking, and say
                 what was done; then check what is left
  --diff         write nothing, and print what --fix would do as a unified diff
                 that patch and git take, instead of the reports
  --format FORM  text, json (shape: README.md, "For programs"), sarif (2.1.0,
                 for code hosts) or junit (XML, for CI)
  --json         the same as --format json
  --stat         at the end also tell how many keys there are, how many a
                 second, beats and seconds, and how often each rule reported
  --accept FILE  live with today's reports: the first run records them in FILE,
                 and later ones report only what is new. A report is known
                 again by its sheet, its rule and the text of its line; to
                 record anew, remove FILE
  --since REV    only the sheets that have changed since a revision of git, and
                 those that rest on a file that has: a rig, a base, an idle, a
                 member of the family, a house

Sheets may name other files anywhere inside their project: the nearest folder
above them that holds .git, or else the outermost one with a house.motet, or
else the current folder, or else the folder that is checked. What the members
of a family have in common is reported in the family's file, and the check of a
member alone does not see it, but names the family's file where it lies beside:
check the whole folder, or with --since all that a change concerns, families
among it.

Colour is used on a terminal only, and never when NO_COLOR is set.

exit codes:
  0  nothing fails
  1  an error, or with --strict a warning; with --diff, --fix would change
     something
  2  something could not be checked; the rest was
`

type checkFlags struct {
	Paths  []string `arg:"" optional:""`
	Strict bool
	Rule   []string
	Fix    bool
	Diff   bool
	Format string `enum:"text,json,sarif,junit" default:"text"`
	JSON   bool
	Stat   bool
	Accept string
	Since  string
}

func (f *checkFlags) run(c *console) int {
	rules, fault := f.settle()
	if fault != "" {
		c.complain("%s", fault)
		return exitFailed
	}
	all, err := newProjects(f.Paths...)
	if err != nil {
		c.complain("the current folder can't be found: %s", plainIO(err))
		return exitFailed
	}
	files, problems := findFiles(f.Paths)
	if f.Since != "" {
		if files, err = since(c, all, files, f.Since); err != nil {
			c.complain("%s", err)
			return exitFailed
		}
	}
	if f.Diff {
		return f.exit(c, problems, printDiff(c, all, files, rules))
	}
	known, err := f.accepted(all)
	if err != nil {
		c.complain("%s: %s", f.Accept, plainIO(err))
		return exitFailed
	}
	out := f.writer(c)
	var held map[string]map[lint.Held]bool
	if f.Fix {
		var unmended []problem
		held, unmended = fix(c, all, files, rules, out)
		problems = append(problems, unmended...)
	}
	n, sheets, unread := f.check(c, all, files, rules, held, known, out)
	problems = append(problems, unread...)
	if known != nil {
		problems = append(problems, known.close(all, files, rules, problems, out)...)
	}
	out.close(problems, n)
	f.tellKin(c, all, files, sheets)
	return f.exit(c, problems, n.Errors > 0 || f.Strict && n.Warnings > 0)
}

// accepted are the reports that are accepted, nil where none are.
func (f *checkFlags) accepted(all *projects) (*accepted, error) {
	if f.Accept == "" {
		return nil, nil
	}
	return readAccepted(all, f.Accept)
}

// check checks the files and writes what is found in each, but for what is accepted. The mends in held are not offered as
// those of --fix. It also gives which of the files hold a sheet.
func (f *checkFlags) check(c *console, all *projects, files []string, rules []*lint.Rule, held map[string]map[lint.Held]bool, known *accepted, out findingsWriter) (n report.Totals, sheets []string, problems []problem) {
	progress := newProgress(c, len(files))
	for i, r := range inOrder(files, func(path string) result { return checkFile(all, path, rules) }) {
		if r.err != nil {
			problems = append(problems, problem{files[i], r.err})
			continue
		}
		hold(r.found, held[files[i]])
		if known != nil {
			var accepted int
			r.found, accepted = known.sift(all, r.path, r.found)
			n.Accepted += accepted
		}
		n.Add(r.motion, r.found)
		if r.motion.Sheet != nil {
			sheets = append(sheets, files[i])
		}
		if len(r.found) > 0 {
			progress.clear()
		}
		out.checked(r)
		progress.done(i + 1)
	}
	progress.clear()
	return n, sheets, problems
}

// hold marks the mends that --fix has held back.
func hold(found []report.Finding, held map[lint.Held]bool) {
	if len(held) == 0 {
		return
	}
	for i := range found {
		for k := range found[i].Mends {
			mend := &found[i].Mends[k]
			if mend.Safe && held[lint.Held{Rule: found[i].Rule, Message: found[i].Message, Title: mend.Title}] {
				mend.Safe, mend.Held = false, true
			}
		}
	}
}

// exit complains of what could not be done, and gives the exit code.
func (f *checkFlags) exit(c *console, problems []problem, fails bool) int {
	for _, p := range problems {
		c.complain("%s: %s", p.path, plainIO(p.err))
	}
	switch {
	case len(problems) > 0:
		return exitFailed
	case fails:
		return exitFound
	}
	return exitClean
}

// settle finds the rules that are asked for, and what cannot be asked for together.
func (f *checkFlags) settle() (rules []*lint.Rule, fault string) {
	switch {
	case f.JSON && f.Format != "text" && f.Format != "json":
		return nil, "--json and --format " + f.Format + " are two forms of output; choose one"
	case f.JSON:
		f.Format = "json"
	}
	switch {
	case f.Diff && f.Format != "text":
		return nil, "--diff prints a diff and nothing else; leave --format and --json out"
	case f.Diff && f.Stat:
		return nil, "--diff prints a diff and nothing else; leave --stat out"
	case f.Diff && f.Accept != "":
		return nil, "--diff prints a diff and nothing else; leave --accept out"
	case f.Stat && f.Format != "text" && f.Format != "json":
		return nil, "--stat has no place in " + f.Format + "; use it with --format text or json"
	}
	if len(f.Rule) == 0 {
		return lint.Rules(), ""
	}
	for _, name := range f.Rule {
		if lint.RuleNamed(name) == nil {
			return nil, unknownRule(name)
		}
	}
	for _, rule := range lint.Rules() {
		if slices.Contains(f.Rule, rule.Name) {
			rules = append(rules, rule.AskedFor())
		}
	}
	return rules, ""
}

// result is the check of one file.
type result struct {
	path   string // as reports call it
	motion *motion.Motion
	found  []report.Finding
	err    error
}

// checkFile checks one file, among others of its project.
func checkFile(all *projects, path string, rules []*lint.Rule) result {
	text, err := readFile(path)
	if err != nil {
		return result{err: err}
	}
	p, name := all.of(path)
	m := p.Resolve(grammar.Parse(name, text))
	found := report.Of(lint.CheckOnly(m, rules), func(at grammar.Ref) (report.Place, bool) {
		return all.place(p, m, at)
	})
	shown := all.shown(p, name)
	return result{path: shown, motion: m, found: append(found, nothingIn(m.File, shown, rules)...)}
}

// place finds where a reference stands: in the checked file, or in one that it depends on.
func (all *projects) place(p *project, m *motion.Motion, at grammar.Ref) (report.Place, bool) {
	if span, ok := m.File.Locate(at); ok {
		return report.Place{Path: all.shown(p, m.File.Path), File: m.File, Span: span}, true
	}
	for _, linked := range m.Linked {
		if span, ok := linked.Locate(at); ok {
			return report.Place{Path: all.shown(p, linked.Path), File: linked, Span: span}, true
		}
	}
	return report.Place{}, false
}
