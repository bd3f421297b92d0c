package main

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// slip is something in a text that could not be read as it was meant.
type slip struct {
	file    *grammar.File
	at      grammar.Ref
	message string
}

// slips are those of a sheet, of its bases and of its rig.
func slips(m *motion.Motion) (out []slip) {
	// The other rules ask about the motion; of an export of 20 000 keys they took a quarter of the time.
	textual := slices.DeleteFunc(slices.Clone(lint.Rules()), func(r *lint.Rule) bool { return r.Group != lint.TextGroup })
	judged := map[*grammar.File]bool{}
	for at := m; at != nil; at = at.Base {
		judged[at.File] = true
		for _, finding := range lint.CheckOnly(at, textual) {
			if finding.Level == lint.Error && !(at.Rig == m.Rig && pointsToRig(finding)) {
				out = append(out, slip{at.File, finding.At, finding.Message})
			}
		}
	}
	if m.Rig != nil && !judged[m.Rig.File] {
		for _, problem := range slices.Concat(m.Rig.Unread(), m.Rig.Problems) {
			out = append(out, slip{m.Rig.File, problem.At, problem.Message})
		}
	}
	return out
}

// pointsToRig tells whether a finding only says that the rig, in a file of its own, has faults: those are told themselves.
func pointsToRig(f lint.Finding) bool {
	_, ok := f.At.Block.Lines[f.At.Line].Stmt.(*grammar.RigEntryLine)
	return ok && len(f.Related) > 0 && f.Related[0].At.Path() != f.At.Path()
}

// sound gives the first slip in a sheet, in its bases or in its rig: what is handed on must be the motion that somebody
// wrote, and not what is left of it. The error begins with the place, in a file that is called as shown calls it; nil
// stands for its name in the project.
func sound(m *motion.Motion, shown func(name string) string) error {
	found := slips(m)
	if len(found) == 0 {
		return nil
	}
	first := found[0]
	path := first.file.Path
	if shown != nil {
		path = shown(path)
	}
	line, _ := first.file.LineNumber(first.at)
	return fmt.Errorf("%s:%d: %s; `motet check` tells more", path, line+1, first.message)
}

// drawn counts the slips in sheets of which pictures are made, file by file: unlike what is handed on, a picture of what is
// left is of use to whoever is about to put the rest right.
type drawn struct {
	files []string // as they are called for people, in the order in which they came
	slips map[string]int
	seen  map[*grammar.File]bool
}

// add counts those of one sheet, and of what it rests on unless an earlier sheet did too.
func (d *drawn) add(m *motion.Motion, shown func(name string) string) {
	if d.slips == nil {
		d.slips, d.seen = map[string]int{}, map[*grammar.File]bool{}
	}
	now := map[*grammar.File]bool{}
	for _, s := range slips(m) {
		if d.seen[s.file] {
			continue
		}
		now[s.file] = true
		path := shown(s.file.Path)
		if d.slips[path] == 0 {
			d.files = append(d.files, path)
		}
		d.slips[path]++
	}
	for file := range now {
		d.seen[file] = true
	}
}

// tell says on standard error of which files only a part is to be seen, and gives the exit code.
func (d *drawn) tell(c *console) int {
	for _, path := range d.files {
		c.complain("%s has %s, so only what can be read of it is shown; `motet check` lists them", path, report.Count(d.slips[path], "error"))
	}
	if len(d.files) > 0 {
		return exitFound
	}
	return exitClean
}
