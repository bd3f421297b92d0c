package main

import (
	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
)

// fix applies the safe mends of files and tells what it did. A file that can't be mended is a problem; the check that
// follows tells what is left in all of them.
func fix(c *console, all *projects, files []string, out findingsWriter) (problems []problem) {
	progress := newProgress(c, len(files))
	for i, r := range inOrder(files, func(path string) fixed { return fixFile(all, path) }) {
		if r.err != nil {
			problems = append(problems, problem{files[i], r.err})
			continue
		}
		if len(r.done) > 0 {
			progress.clear()
			out.Mended(r.done)
		}
		progress.done(i + 1)
	}
	progress.clear()
	return problems
}

// fixed is what was mended in a file.
type fixed struct {
	done []report.Mended
	err  error
}

func fixFile(all *projects, path string) fixed {
	old, err := readVersion(path)
	if err != nil {
		return fixed{} // The check that follows tells why.
	}
	p, name := all.of(path)
	mended := lint.MendAll(grammar.Parse(name, old.text), p.tree, p.listing)
	if mended.File.Text == old.text {
		return fixed{}
	}
	if err := old.replace(mended.File.Text); err != nil {
		return fixed{err: err}
	}
	done := make([]report.Mended, len(mended.Done))
	for i, d := range mended.Done {
		done[i] = report.Mended{Path: all.shown(p, name), Line: d.Line + 1, Rule: d.Rule, Title: d.Title}
	}
	return fixed{done: done}
}
