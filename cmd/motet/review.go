package main

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/server/watch"
)

const reviewHelp = `
motet review FOLDER [FLAGS]

Writes one file for whoever gives notes: everybody in the folder moving, each
with its facts, what the check finds and its open notes. It opens from disk, in
any browser, and needs nothing else. Notes that are written there, each tied to
a member and a beat, are saved as notes.txt; --take writes them into the sheets.

  motet review testdata/quay --out review.html
  motet review testdata/quay --take notes.txt

  --out FILE    where to write the page
  --take NOTES  write the notes of a file into the sheets of the folder: a line
                each, as in: keeper.motet 3/2b the weight arrives late

exit codes:
  0  done
  2  not done; of the notes, none was written
`

type reviewFlags struct {
	Folder string `arg:""`
	Out    string
	Take   string
}

func (f *reviewFlags) run(c *console) int {
	if err := f.review(c); err != nil {
		c.complain("%s", plainIO(err))
		return exitFailed
	}
	return exitClean
}

func (f *reviewFlags) review(c *console) error {
	switch {
	case f.Out == "" && f.Take == "":
		return errors.New("nothing says what to do; add --out review.html, or --take notes.txt")
	case f.Out != "" && f.Take != "":
		return errors.New("--out and --take are two things; do one after the other")
	case f.Take != "":
		return f.take(c)
	}
	sheets, _, err := watched([]string{f.Folder})
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if err := watch.Review(&page, sheets); err != nil {
		return err
	}
	if err := writeAtomically(f.Out, page.String(), 0o666, func() error { return nil }); err != nil {
		return err
	}
	c.print("wrote " + f.Out + "\n")
	return nil
}

// taken is a note as the review page saves it.
type taken struct{ path, at, text string }

// take writes notes into the sheets: all of them, or none where a line can't be understood.
func (f *reviewFlags) take(c *console) error {
	text, err := readFile(f.Take)
	if err != nil {
		return fmt.Errorf("%s: %s", f.Take, plainIO(err))
	}
	sheets, _, err := watched([]string{f.Folder})
	if err != nil {
		return err
	}
	known := map[string]bool{}
	var paths []string
	for _, s := range sheets {
		known[s.Path] = true
		paths = append(paths, s.Path)
	}
	notes := map[string][]taken{}
	for i, line := range strings.Split(text, "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		note, err := readNote(line)
		if err == nil && !known[note.path] {
			err = fmt.Errorf("there is no sheet `%s` in %s; it has %s", note.path, f.Folder, strings.Join(paths, " "))
		}
		if err != nil {
			return fmt.Errorf("%s:%d: %w", f.Take, i+1, err)
		}
		notes[note.path] = append(notes[note.path], note)
	}
	for _, path := range paths {
		if len(notes[path]) == 0 {
			continue
		}
		if err := writeNotes(path, notes[path]); err != nil {
			return fmt.Errorf("%s: %s", path, plainIO(err))
		}
		c.print(fmt.Sprintf("%s: %d taken\n", path, len(notes[path])))
	}
	return nil
}

func readNote(line string) (taken, error) {
	path, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	at, text, _ := strings.Cut(strings.TrimSpace(rest), " ")
	text = strings.TrimSpace(text)
	if text == "" {
		return taken{}, fmt.Errorf("`%s` is no note; write the sheet, the time and the note, as in: keeper.motet 3/2b the weight arrives late", strings.TrimSpace(line))
	}
	if _, ok := grammar.ParseTime(at); !ok {
		return taken{}, fmt.Errorf("`%s` is not a time; write one such as 2b, 3/2b, 36f or 0.75s", at)
	}
	return taken{path, at, strings.ReplaceAll(text, `"`, "’")}, nil
}

// writeNotes adds notes to a sheet: to its table of notes, or with a new one at its end.
func writeNotes(path string, notes []taken) error {
	v, err := readVersion(path)
	if err != nil {
		return err
	}
	noted := withNotes(v.text, notes)
	if grammar.Format(grammar.Parse(path, v.text)) == v.text {
		noted = grammar.Format(grammar.Parse(path, noted)) // what was in the one form stays in it
	}
	return v.replace(noted)
}

// withNotes is a sheet's text with more notes. A table that is there is gone on with, in its own columns; where its first
// row is broken, or there is none, a new one comes at the end.
func withNotes(text string, notes []taken) string {
	ending := "\n"
	if strings.Contains(text, "\r\n") {
		ending = "\r\n"
	}
	file := grammar.Parse("", text)
	block := file.First(grammar.NotesBlock)
	if block == nil || len(block.Columns) == 0 {
		head := ending + "notes" + ending + "  at      status  note" + ending
		return strings.TrimRight(text, "\r\n") + ending + head + noteRows([]string{"at", "status", "note"}, notes, ending)
	}
	last := block.Open
	for i := range block.Lines {
		if strings.TrimSpace(block.Lines[i].Text) != "" {
			last = max(last, i)
		}
	}
	var columns []string
	for _, column := range block.Columns {
		columns = append(columns, grammar.NameKey(column.Name))
	}
	line, _ := file.LineNumber(block.RefLine(last))
	behind := file.LineStart(line + 1)
	before := text[:behind]
	if !strings.HasSuffix(before, "\n") {
		before += ending
	}
	return before + noteRows(columns, notes, ending) + text[behind:]
}

func noteRows(columns []string, notes []taken, ending string) string {
	var out strings.Builder
	for _, n := range notes {
		row := " "
		for _, column := range columns {
			cell := map[string]string{"at": n.at, "status": "open", "note": `"` + n.text + `"`}[column]
			if cell == "" {
				cell = "."
			}
			row += " " + fmt.Sprintf("%-7s", cell)
		}
		out.WriteString(strings.TrimRight(row, " ") + ending)
	}
	return out.String()
}
