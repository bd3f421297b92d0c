package main

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// sound gives the first thing in a sheet, in its bases or in its rig that could not be read as it was meant: what is
// handed on must be the motion that somebody wrote, and not what is left of it. The error begins with the place, in a file
// that is called as shown calls it; nil stands for its name in the project.
func sound(m *motion.Motion, shown func(name string) string) error {
	// The other rules ask about the motion; of an export of 20 000 keys they took a quarter of the time.
	textual := slices.DeleteFunc(slices.Clone(lint.Rules()), func(r *lint.Rule) bool { return r.Group != lint.TextGroup })
	for at := m; at != nil; at = at.Base {
		for _, finding := range lint.CheckOnly(at, textual) {
			if finding.Level == lint.Error {
				return unsound(at.File, finding.At, finding.Message, shown)
			}
		}
	}
	if m.Rig != nil && len(m.Rig.Problems) > 0 {
		return unsound(m.Rig.File, m.Rig.Problems[0].At, m.Rig.Problems[0].Message, shown)
	}
	return nil
}

func unsound(file *grammar.File, at grammar.Ref, message string, shown func(name string) string) error {
	path := file.Path
	if shown != nil {
		path = shown(path)
	}
	line, _ := file.LineNumber(at)
	return fmt.Errorf("%s:%d: %s; `motet check` tells more", path, line+1, message)
}
