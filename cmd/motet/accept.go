package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/lint"
)

// acceptedFormat names the shape of a file of accepted reports.
const acceptedFormat = "motet-accepted-1"

// accepted are the reports that a show lives with: those that were there when its file was recorded. A report is known
// again by what it is about, not by the number of its line, so that lines above it may come and go.
type accepted struct {
	path      string
	folder    string               // the file's own, absolute; the paths of sheets count from it
	recording bool                 // there is no file yet: what is found now is accepted
	counts    map[acceptedLine]int // on record
	found     map[acceptedLine]int // in this run
}

// acceptedLine is what an accepted report is about.
type acceptedLine struct {
	Path string `json:"path"`
	Rule string `json:"rule"`
	In   string `json:"in"`
	Line string `json:"line"`
}

// acceptedFile is the shape of the file: one object on one line each for its head, each report and its foot.
type acceptedFile struct {
	Format   string          `json:"format"`
	Accepted []acceptedEntry `json:"accepted"`
}

type acceptedEntry struct {
	acceptedLine
	Count int `json:"count"`
}

// readAccepted reads a file of accepted reports; where there is none, this run records it.
func readAccepted(all *projects, path string) (*accepted, error) {
	a := &accepted{path: path, folder: filepath.Dir(all.absolute(path)), counts: map[acceptedLine]int{}, found: map[acceptedLine]int{}}
	text, err := readFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		a.recording = true
		return a, nil
	}
	if err != nil {
		return nil, err
	}
	var file acceptedFile
	switch err := json.Unmarshal([]byte(text), &file); {
	case err != nil:
		return nil, fmt.Errorf("it is no list of accepted reports (%w); remove it to record anew", err)
	case file.Format != acceptedFormat:
		return nil, fmt.Errorf("it is no list of accepted reports that this motet knows: its format is %q, not %q; remove it to record anew", file.Format, acceptedFormat)
	}
	for _, e := range file.Accepted {
		if e.Count < 1 {
			return nil, fmt.Errorf("%s in %s is accepted %d times; write 1 or more, or remove the line", e.Rule, e.Path, e.Count)
		}
		a.counts[e.acceptedLine] += e.Count
	}
	return a, nil
}

// sift leaves out the reports of a file that are accepted, and tells how many those are. Of more reports alike than are
// accepted the last ones are new.
func (a *accepted) sift(all *projects, path string, found []report.Finding) (fresh []report.Finding, known int) {
	name := a.name(all, path)
	for i := range found {
		content := found[i].Content()
		line := acceptedLine{name, content.Rule, content.In, content.Line}
		a.found[line]++
		if a.recording || a.found[line] <= a.counts[line] {
			known++
		} else {
			fresh = append(fresh, found[i])
		}
	}
	return fresh, known
}

// name is how the file calls a sheet: by its path from the file's own folder.
func (a *accepted) name(all *projects, path string) string {
	full := all.absolute(filepath.FromSlash(path))
	if name, err := filepath.Rel(a.folder, full); err == nil {
		full = name
	}
	return filepath.ToSlash(full)
}

// gone are the accepted reports that are no longer found, as far as this run could have found them: of the files that
// it checked, or that are not there any more, and of the rules that it asked.
func (a *accepted) gone(all *projects, checked []string, rules []*lint.Rule) []acceptedEntry {
	if a.recording {
		return nil
	}
	names := map[string]bool{}
	for _, path := range checked {
		names[a.name(all, path)] = true
	}
	var out []acceptedEntry
	for line, count := range a.counts {
		asked := slices.ContainsFunc(rules, func(r *lint.Rule) bool { return r.Name == line.Rule })
		if missing := count - a.found[line]; missing > 0 && asked && (names[line.Path] || a.removed(line.Path)) {
			out = append(out, acceptedEntry{line, missing})
		}
	}
	slices.SortFunc(out, compareEntries)
	return out
}

func (a *accepted) removed(name string) bool {
	_, err := os.Lstat(filepath.Join(a.folder, filepath.FromSlash(name)))
	return errors.Is(err, fs.ErrNotExist)
}

func compareEntries(a, b acceptedEntry) int {
	return cmp.Or(strings.Compare(a.Path, b.Path), strings.Compare(a.Rule, b.Rule), strings.Compare(a.In, b.In), strings.Compare(a.Line, b.Line))
}

// String says which report it is.
func (e acceptedEntry) String() string {
	text := e.Path + ": " + e.Rule
	if e.In != "" {
		text += " in `" + e.In + "`"
	}
	if e.Line != "" {
		text += ", `" + e.Line + "`"
	}
	if e.Count > 1 {
		text += fmt.Sprintf(", %d times", e.Count)
	}
	return text
}

// record writes what was found in this run, as a whole or not at all, unless somebody else has recorded meanwhile.
func (a *accepted) record() error {
	entries := make([]acceptedEntry, 0, len(a.found))
	for line, count := range a.found {
		entries = append(entries, acceptedEntry{line, count})
	}
	slices.SortFunc(entries, compareEntries)
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	text.WriteString("{\"format\":\"" + acceptedFormat + "\",\n\"accepted\":[\n")
	for i, e := range entries {
		if i > 0 {
			text.Truncate(text.Len() - len("\n"))
			text.WriteString(",\n")
		}
		if err := encoder.Encode(e); err != nil {
			return err
		}
	}
	text.WriteString("]}\n")
	return writeAtomically(a.path, text.String(), 0, func() error {
		if exists(a.path) {
			return errChanged
		}
		return nil
	})
}

// close tells what is no longer found, or records what was found. What is recorded in part would be wrong, so nothing is
// where a file could not be checked.
func (a *accepted) close(all *projects, checked []string, rules []*lint.Rule, before []problem, out findingsWriter) []problem {
	told := report.Accepted{File: filepath.ToSlash(a.path), Recorded: a.recording, Gone: []string{}}
	for _, e := range a.gone(all, checked, rules) {
		told.Gone = append(told.Gone, e.String())
	}
	if a.recording {
		if len(before) > 0 {
			return []problem{{a.path, errors.New("it is not recorded, since not everything could be checked")}}
		}
		if err := a.record(); err != nil {
			return []problem{{a.path, err}}
		}
	}
	out.accepted(told)
	return nil
}
