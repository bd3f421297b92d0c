package main

import (
	"io"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
)

const formatHelp = `
motet format [FLAGS] [PATH…]

Brings sheets and rigs into the one canonical form, which changes no motion and
loses no comment, and prints the names of the files that it changed. Lines that
do not parse stay as they are. A folder is searched with all below it, hidden
folders left out; without a PATH, the current folder is.

  --check    write nothing; print the names of the files that would change
  -          as the only PATH: read standard input and write standard output

A file is replaced as a whole or not at all. Its permissions stay, and a file
that is marked read-only is left alone.

exit codes:
  0  done; with --check, nothing would change
  1  with --check, something would change
  2  something could not be read or written; the rest was
`

type formatFlags struct {
	Paths []string `arg:"" optional:""`
	Check bool
}

func (f *formatFlags) run(c *console) int {
	if len(f.Paths) == 1 && f.Paths[0] == "-" {
		return f.stream(c)
	}
	files, problems := findFiles(f.Paths)
	progress := newProgress(c, len(files))
	changed := 0
	for i, r := range inOrder(files, f.file) {
		if r.err != nil {
			problems = append(problems, problem{files[i], r.err})
		}
		if r.changed || r.bad > 0 {
			progress.clear()
		}
		if r.changed {
			changed++
			c.print(files[i] + "\n")
		}
		if r.bad > 0 {
			c.errorf("motet: %s: %s\n", files[i], untidied(r.bad))
		}
		progress.done(i + 1)
	}
	progress.clear()
	for _, p := range problems {
		c.complain("%s: %s", p.path, plainIO(p.err))
	}
	return f.code(changed > 0, len(problems) > 0)
}

func (f *formatFlags) code(changed, failed bool) int {
	switch {
	case failed:
		return exitFailed
	case changed && f.Check:
		return exitFound
	}
	return exitClean
}

// formatted is what happened to a file.
type formatted struct {
	changed bool
	bad     int // lines that do not parse
	err     error
}

// file brings one file into the canonical form, or with --check finds out whether it is in it.
func (f *formatFlags) file(path string) formatted {
	old, err := readVersion(path)
	if err != nil {
		return formatted{err: err}
	}
	if !grammar.IsText(old.text) {
		return formatted{err: errNoText}
	}
	tree := grammar.Parse(path, old.text)
	text := grammar.Format(tree)
	r := formatted{changed: text != old.text, bad: badLines(tree)}
	if !r.changed || f.Check {
		return r
	}
	if err := old.replace(text); err != nil {
		return formatted{err: err}
	}
	return r
}

// stream brings standard input into the canonical form.
func (f *formatFlags) stream(c *console) int {
	var text strings.Builder
	switch n, err := io.Copy(&text, io.LimitReader(c.in, largestFile+1)); {
	case err != nil:
		c.complain("standard input can't be read: %s", plainIO(err))
		return exitFailed
	case n > largestFile:
		c.complain("standard input has more than %d bytes, which no sheet has", largestFile)
		return exitFailed
	}
	if !grammar.IsText(text.String()) {
		c.complain("standard input: %s", errNoText)
		return exitFailed
	}
	tree := grammar.Parse("standard input", text.String())
	out := grammar.Format(tree)
	if bad := badLines(tree); bad > 0 {
		c.errorf("motet: standard input: %s\n", untidied(bad))
	}
	if f.Check {
		if out != text.String() {
			c.print("-\n")
		}
		return f.code(out != text.String(), false)
	}
	c.print(out)
	return exitClean
}

func untidied(bad int) string {
	if bad == 1 {
		return "1 line does not parse and stays as it is; `motet check` tells why"
	}
	return report.Count(bad, "line") + " do not parse and stay as they are; `motet check` tells why"
}

func badLines(f *grammar.File) int {
	n := 0
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if b.Lines[i].Kind == grammar.BadLine {
				n++
			}
		}
	}
	return n
}
