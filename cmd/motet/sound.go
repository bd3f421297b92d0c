package main

import (
	"fmt"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// sound gives the first thing in a sheet, in its bases or in its rig that could not be read as it was meant: what is
// handed on must be the motion that somebody wrote, and not what is left of it.
func sound(m *motion.Motion) error {
	// The other rules ask about the motion; of an export of 20 000 keys they took a quarter of the time.
	textual := slices.DeleteFunc(slices.Clone(lint.Rules()), func(r *lint.Rule) bool { return r.Group != lint.TextGroup })
	for at := m; at != nil; at = at.Base {
		for _, finding := range lint.CheckOnly(at, textual) {
			if finding.Level == lint.Error {
				return unsound(at.File, finding.At, finding.Message)
			}
		}
	}
	if m.Rig != nil && len(m.Rig.Problems) > 0 {
		return unsound(m.Rig.File, m.Rig.Problems[0].At, m.Rig.Problems[0].Message)
	}
	return nil
}

func unsound(file *grammar.File, at grammar.Ref, message string) error {
	line, _ := file.LineNumber(at)
	return fmt.Errorf("%s:%d: %s; `motet check` tells more", file.Path, line+1, message)
}
