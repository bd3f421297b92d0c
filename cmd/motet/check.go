package main

import (
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

  --strict   warnings fail too, not only errors
  --fix      first apply every mend that is safe without asking, and say what
             was done; then check what is left
  --json     print JSON instead of text (shape: README.md, "For programs")

Sheets may name other files anywhere inside their project: the nearest folder
above them that holds .git, or else the outermost one with a house.motet, or
else the current folder.

Colour is used on a terminal only, and never when NO_COLOR is set.

exit codes:
  0  nothing fails
  1  an error, or with --strict a warning
  2  something could not be checked; the rest was
`

type checkFlags struct {
	Paths  []string `arg:"" optional:""`
	Strict bool
	Fix    bool
	JSON   bool
}

func (f *checkFlags) run(c *console) int {
	all, err := newProjects()
	if err != nil {
		c.complain("the current folder can't be found: %s", plainIO(err))
		return exitFailed
	}
	files, problems := findFiles(f.Paths)
	out := f.writer(c)
	if f.Fix {
		problems = append(problems, fix(c, all, files, out)...)
		all.forget()
	}
	var n report.Totals
	progress := newProgress(c, len(files))
	for i, r := range inOrder(files, func(path string) result { return checkFile(all, path) }) {
		if r.err != nil {
			problems = append(problems, problem{files[i], r.err})
			continue
		}
		n.Add(r.motion, r.found)
		if len(r.found) > 0 {
			progress.clear()
			out.Findings(r.found)
		}
		progress.done(i + 1)
	}
	progress.clear()
	out.close(problems, n)
	for _, p := range problems {
		c.complain("%s: %s", p.path, plainIO(p.err))
	}
	switch {
	case len(problems) > 0:
		return exitFailed
	case n.Errors > 0 || f.Strict && n.Warnings > 0:
		return exitFound
	}
	return exitClean
}

// findingsWriter is one of the forms of output.
type findingsWriter interface {
	Mended(done []report.Mended)
	Findings(found []report.Finding)
	close(problems []problem, n report.Totals)
}

func (f *checkFlags) writer(c *console) findingsWriter {
	if f.JSON {
		return jsonWriter{&report.JSON{Out: c.out}}
	}
	return textWriter{&report.Text{Out: c.out, Color: c.color, Fixes: true}}
}

type textWriter struct{ *report.Text }

// close leaves out a summary of nothing: why there is nothing is told on standard error.
func (w textWriter) close(_ []problem, n report.Totals) {
	if n.Files > 0 {
		w.Summary(n)
	}
}

type jsonWriter struct{ *report.JSON }

func (w jsonWriter) close(problems []problem, n report.Totals) {
	failures := make([]report.Failure, len(problems))
	for i, p := range problems {
		failures[i] = report.Failure{Path: p.path, Message: plainIO(p.err)}
	}
	w.Close(failures, n)
}

// result is the check of one file.
type result struct {
	motion *motion.Motion
	found  []report.Finding
	err    error
}

// checkFile checks one file, among others of its project.
func checkFile(all *projects, path string) result {
	text, err := readFile(path)
	if err != nil {
		return result{err: err}
	}
	p, name := all.of(path)
	m := p.Resolve(grammar.Parse(name, text))
	return result{motion: m, found: report.Of(lint.Check(m), func(at grammar.Ref) (report.Place, bool) {
		return all.place(p, m, at)
	})}
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
