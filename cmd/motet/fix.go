package main

import (
	"bytes"

	"github.com/rogpeppe/go-internal/diff"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
)

// fix applies the safe mends of files and tells what it did. A file that can't be mended is a problem; the check that
// follows tells what is left in all of them.
func fix(c *console, all *projects, files []string, rules []*lint.Rule, out findingsWriter) (problems []problem) {
	progress := newProgress(c, len(files))
	for i, r := range inOrder(files, func(path string) fixed { return fixFile(all, path, rules) }) {
		if r.err != nil {
			problems = append(problems, problem{files[i], r.err})
			continue
		}
		if len(r.done) > 0 {
			progress.clear()
			out.mended(r.done)
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

func fixFile(all *projects, path string, rules []*lint.Rule) fixed {
	w, ok := work(all, path, rules)
	if !ok || w.mended.File.Text == w.old.text {
		return fixed{}
	}
	if err := w.old.replace(w.mended.File.Text); err != nil {
		return fixed{err: err}
	}
	done := make([]report.Mended, len(w.mended.Done))
	for i, d := range w.mended.Done {
		done[i] = report.Mended{Path: w.shown, Line: d.Line + 1, Rule: d.Rule, Title: d.Title}
	}
	return fixed{done: done}
}

// mendWork is a file with its safe mends applied, and nothing written yet.
type mendWork struct {
	old    *fileVersion
	mended *lint.Mended
	shown  string // how the file is called in reports
}

// work mends a file in memory. It is false for a file that can't be read, which the check tells.
func work(all *projects, path string, rules []*lint.Rule) (mendWork, bool) {
	old, err := readVersion(path)
	if err != nil {
		return mendWork{}, false
	}
	p, name := all.of(path)
	return mendWork{old, lint.MendOnly(grammar.Parse(name, old.text), p.tree, p.listing, rules), all.shown(p, name)}, true
}

// printDiff prints what --fix would do to the files, as a unified diff that `patch -p1` and `git apply` take. It tells
// whether there was anything.
func printDiff(c *console, all *projects, files []string, rules []*lint.Rule) (some bool) {
	progress := newProgress(c, len(files))
	for i, text := range inOrder(files, func(path string) []byte { return diffOf(all, path, rules) }) {
		if len(text) > 0 {
			some = true
			progress.clear()
			_, _ = c.out.Write(text)
		}
		progress.done(i + 1)
	}
	progress.clear()
	return some
}

func diffOf(all *projects, path string, rules []*lint.Rule) []byte {
	w, ok := work(all, path, rules)
	if !ok {
		return nil
	}
	text := diff.Diff("a/"+w.shown, []byte(w.old.text), "b/"+w.shown, []byte(w.mended.File.Text))
	_, hunks, _ := bytes.Cut(text, []byte("\n")) // without the line that repeats both names
	return hunks
}
