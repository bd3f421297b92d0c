package main

import (
	"bytes"

	"github.com/rogpeppe/go-internal/diff"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// fix applies the safe mends of files and tells what it did. What others rest on is mended before them, since their mends
// are judged beside it. A file that can't be mended is a problem; the check that follows tells what is left in all of them,
// and held, by file, which of the mends that it will find were tried and held back.
func fix(c *console, all *projects, files []string, rules []*lint.Rule, out findingsWriter) (held map[string]map[lint.Held]bool, problems []problem) {
	held = map[string]map[lint.Held]bool{}
	done := 0
	progress := newProgress(c, len(files))
	for _, group := range restingOrder(all, files) {
		for i, r := range inOrder(group, func(path string) fixed { return fixFile(all, path, rules) }) {
			if r.err != nil {
				problems = append(problems, problem{group[i], r.err})
				continue
			}
			held[group[i]] = r.held
			if len(r.done) > 0 {
				progress.clear()
				out.mended(r.done)
			}
			done++
			progress.done(done)
		}
		all.forget()
	}
	progress.clear()
	return held, problems
}

// restingOrder puts files into groups: those of one rest on files of the groups before it only, or in a ring on each
// other. The order in a group is the files' own.
func restingOrder(all *projects, files []string) [][]string {
	type node struct {
		name  string // with the project's folder, since several may have a file of one name
		needs []string
	}
	nodes := make([]node, len(files))
	index := map[string]int{}
	for i, n := range inOrder(files, func(path string) node {
		p, name := all.of(path)
		n := node{name: p.root + "\x00" + name}
		if text, err := readFile(path); err == nil {
			for _, need := range motion.Needs(grammar.Parse(name, text)) {
				n.needs = append(n.needs, p.root+"\x00"+need)
			}
		}
		return n
	}) {
		nodes[i], index[n.name] = n, i
	}
	depth := make([]int, len(files)) // 0 for not asked yet, -1 while it is asked
	var depthOf func(i int) int
	depthOf = func(i int) int {
		if depth[i] != 0 {
			return max(depth[i], 0)
		}
		depth[i] = -1
		deepest := 0
		for _, need := range nodes[i].needs {
			if k, ok := index[need]; ok {
				deepest = max(deepest, depthOf(k))
			}
		}
		depth[i] = deepest + 1
		return depth[i]
	}
	var groups [][]string
	for i, path := range files {
		for len(groups) < depthOf(i) {
			groups = append(groups, nil)
		}
		groups[depth[i]-1] = append(groups[depth[i]-1], path)
	}
	return groups
}

// fixed is what was mended in a file.
type fixed struct {
	done []report.Mended
	held map[lint.Held]bool
	err  error
}

func fixFile(all *projects, path string, rules []*lint.Rule) fixed {
	w, ok := work(all, path, rules)
	if !ok {
		return fixed{}
	}
	if w.mended.File.Text == w.old.text {
		return fixed{held: w.mended.Held}
	}
	if !grammar.IsText(w.old.text) {
		return fixed{err: errNoText}
	}
	if err := w.old.replace(w.mended.File.Text); err != nil {
		return fixed{err: err}
	}
	done := make([]report.Mended, len(w.mended.Done))
	for i, d := range w.mended.Done {
		done[i] = report.Mended{Path: w.shown, Line: d.Line + 1, Rule: d.Rule, Title: d.Title}
	}
	return fixed{done: done, held: w.mended.Held}
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
	return unified(w.shown, w.old.text, w.mended.File.Text)
}

// unified is the difference of two texts of a file as `patch -p1` and `git apply` take it; nothing where they are the same.
func unified(shown, old, text string) []byte {
	all := diff.Diff("a/"+shown, []byte(old), "b/"+shown, []byte(text))
	_, hunks, _ := bytes.Cut(all, []byte("\n")) // without the line that repeats both names
	return hunks
}
