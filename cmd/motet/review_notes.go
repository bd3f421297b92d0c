package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/server/watch"
)

// taken is a note as the review page saves it.
type taken struct{ path, at, text string }

// take writes notes into the sheets: all of them, or none where a line can't be understood or a sheet can't be written to.
func (f *reviewFlags) take(c *console) error {
	text, err := readFile(f.Take)
	if err != nil {
		return fmt.Errorf("%s: %s", f.Take, plainIO(err))
	}
	sheets, err := f.sheets()
	if err != nil {
		return err
	}
	var paths []string
	for _, s := range sheets {
		paths = append(paths, s.Path)
	}
	notes := map[string][]taken{}
	for i, line := range strings.Split(strings.TrimPrefix(text, "\ufeff"), "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		note, err := readNote(line, paths)
		if err == nil && !slices.Contains(paths, note.path) {
			err = fmt.Errorf("there is no sheet `%s` in %s; it has %s", note.path, f.Folder, strings.Join(paths, " "))
		}
		if err != nil {
			return fmt.Errorf("%s:%d: %w", f.Take, i+1, err)
		}
		notes[note.path] = append(notes[note.path], note)
	}
	if len(notes) == 0 {
		return fmt.Errorf("%s: there is no note in it", f.Take)
	}
	var changed []noted
	for _, path := range paths {
		if len(notes[path]) == 0 {
			continue
		}
		n, err := noteDown(path, notes[path])
		if err != nil {
			return fmt.Errorf("%s: %s", path, plainIO(err))
		}
		changed = append(changed, n)
	}
	return writeAll(c, changed)
}

// noted is a sheet with the notes that it gets.
type noted struct {
	path       string
	version    *fileVersion
	text       string
	fresh, had int
}

// writeAll writes the sheets, one after the other. When one can't be written after all, those before it have their notes,
// which are not taken again.
func writeAll(c *console, changed []noted) error {
	for i := range changed {
		n := &changed[i]
		if n.fresh > 0 {
			if err := n.version.replace(n.text); err != nil {
				return fmt.Errorf("%s: %s; take the notes again when that is mended", n.path, plainIO(err))
			}
		}
		said := fmt.Sprintf("%s: %d taken", n.path, n.fresh)
		if n.had > 0 {
			said += fmt.Sprintf(", %d had been taken before", n.had)
		}
		c.print(said + "\n")
	}
	return nil
}

// readNote reads a line: a sheet, a time and the note. One of the paths may have spaces in it.
func readNote(line string, paths []string) (taken, error) {
	line = strings.TrimSpace(line)
	path, rest, _ := strings.Cut(line, " ")
	for _, known := range paths {
		if behind, ok := strings.CutPrefix(line, known+" "); ok && len(known) > len(path) {
			path, rest = known, behind
		}
	}
	at, text, _ := strings.Cut(strings.TrimSpace(rest), " ")
	text = strings.TrimSpace(text)
	if text == "" {
		return taken{}, fmt.Errorf("`%s` is no note; write the sheet, the time and the note, as in: keeper.motet 3/2b the weight arrives late", line)
	}
	if _, ok := grammar.ParseTime(at); !ok {
		return taken{}, fmt.Errorf("`%s` is not a time; write one such as 2b, 3/2b, 36f or 0.75s", at)
	}
	// A text of a sheet ends at a quote, and has no room for tabs and the like.
	words := strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	return taken{path, at, strings.ReplaceAll(strings.Join(words, " "), `"`, "’")}, nil
}

// noteDown adds notes to a sheet's text: to its table of notes, or with a new one at its end. Those that it has already,
// open or done, are not added again.
func noteDown(path string, notes []taken) (noted, error) {
	v, err := readVersion(path)
	if err != nil {
		return noted{}, err
	}
	if v.readOnly() {
		return noted{}, errReadOnly
	}
	there := map[watch.Note]bool{}
	for _, note := range watch.NotesIn(grammar.Parse(path, v.text)) {
		note.Open = true
		there[note] = true
	}
	var fresh []taken
	for _, note := range notes {
		key := watch.Note{At: note.at, Text: note.text, Open: true}
		if !there[key] {
			fresh = append(fresh, note)
		}
		there[key] = true
	}
	text := withNotes(v.text, fresh)
	if grammar.Format(grammar.Parse(path, v.text)) == v.text {
		text = grammar.Format(grammar.Parse(path, text)) // what was in the one form stays in it
	}
	return noted{path, v, text, len(fresh), len(notes) - len(fresh)}, nil
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
