// Package report writes what a check found: for people, with the line that is meant, and for programs as JSON, SARIF and
// the XML of JUnit.
package report

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// Finding is one report with all its places found in their files.
type Finding struct {
	Rule    string
	Level   lint.Level
	At      Place
	Message string
	Related []Related
	Mends   []Mend

	ref grammar.Ref // its place as the block and line that it stands in
}

// Place is a stretch of a file.
type Place struct {
	Path string // as the reader would name the file, with slashes
	File *grammar.File
	Span grammar.Span // in bytes of the file
}

// Related is a place that helps to understand a finding.
type Related struct {
	At      Place
	Message string
}

// Mend is a way out of a finding.
type Mend struct {
	Title string
	Safe  bool // --fix applies it
	Held  bool // --fix would apply it, but has found that more would be reported then
	Edits []Edit
}

// Edit replaces what stands at a place.
type Edit struct {
	At   Place
	Text string
}

// Mended is a mend that was applied.
type Mended struct {
	Path  string
	Line  int // at which the finding stood, counted from 1
	Rule  string
	Title string
}

// Failure is a file or folder that could not be checked, and why.
type Failure struct {
	Path    string
	Message string
}

// Totals count what was checked and found.
type Totals struct {
	Files  int
	Sheets int
	Rigs   int
	Keys   int // of all channels of all sheets

	Errors   int
	Warnings int
	Notes    int
	Mendable int // findings that have a safe mend
	Accepted int // findings that were left out since they are accepted; they count nowhere else
}

// Accepted is what came of a file of accepted reports.
type Accepted struct {
	File     string   `json:"file"`
	Recorded bool     `json:"recorded"` // in this run
	Gone     []string `json:"gone"`     // accepted reports that are no longer found
}

// Add counts the findings of one file.
func (t *Totals) Add(m *motion.Motion, found []Finding) {
	t.Files++
	if m.Sheet != nil {
		t.Sheets++
	}
	if m.File.First(grammar.RigBlock) != nil {
		t.Rigs++
	}
	t.Keys += keyCount(m)
	for i := range found {
		switch found[i].Level {
		case lint.Error:
			t.Errors++
		case lint.Warning:
			t.Warnings++
		default:
			t.Notes++
		}
		if slices.ContainsFunc(found[i].Mends, func(m Mend) bool { return m.Safe }) {
			t.Mendable++
		}
	}
}

// keyCount counts the keys of all channels.
func keyCount(m *motion.Motion) (n int) {
	for i := range m.Channels {
		for _, strand := range m.Channels[i].Strands() {
			n += len(strand.Keys)
		}
	}
	return n
}

// Of finds the places of a motion's findings. Locate tells in which file a place stands; findings whose own place it
// does not know are left out, since nobody could be pointed to them.
func Of(found []lint.Finding, locate func(grammar.Ref) (Place, bool)) []Finding {
	out := make([]Finding, 0, len(found))
	for _, f := range found {
		at, ok := locate(f.At)
		if !ok {
			continue
		}
		out = append(out, Finding{
			Rule: f.Rule, Level: f.Level, At: at, Message: f.Message,
			Related: related(f.Related, locate), Mends: mends(f.Mends, locate), ref: f.At,
		})
	}
	return out
}

func related(all []motion.Related, locate func(grammar.Ref) (Place, bool)) []Related {
	var out []Related
	for _, r := range all {
		if at, ok := locate(r.At); ok {
			out = append(out, Related{at, r.Message})
		}
	}
	return out
}

// mends leaves out a mend of which a part has no place: half a mend is none.
func mends(all []motion.Mend, locate func(grammar.Ref) (Place, bool)) []Mend {
	var out []Mend
next:
	for _, m := range all {
		mend := Mend{Title: m.Title, Safe: m.Safe}
		for _, e := range m.Edits {
			at, ok := locate(e.At)
			if !ok {
				continue next
			}
			mend.Edits = append(mend.Edits, Edit{at, e.Text})
		}
		out = append(out, mend)
	}
	return out
}

// Count writes a number of things: `1 file`, `2 files`.
func Count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
