package main

import (
	"fmt"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

const flattenHelp = `
motet flatten SHEET

Prints a sheet as one that stands alone: what it inherits and what it changes is
written out, and the motion is the same. The rig stays in its own file,
named from the sheet's folder. To keep it, lead it into a file beside the sheet:
motet flatten mate.motet >whole.motet

exit codes:
  0  done
  2  the sheet could not be read, or has no motion to write out
`

type flattenFlags struct {
	Sheet string `arg:""`
}

func (f *flattenFlags) run(c *console) int {
	m, _, _, err := resolveSheet(f.Sheet)
	if err != nil {
		c.complain("%s: %s", f.Sheet, plainIO(err))
		return exitFailed
	}
	if !m.Whole() {
		c.complain("%s has %s", f.Sheet, motionless(m, f.Sheet, "write out"))
		return exitFailed
	}
	text, err := motion.Flatten(m)
	if err != nil {
		c.complain("%s", err)
		return exitFailed
	}
	c.print(text)
	return exitClean
}

// resolveSheet works out what one sheet means, in its project.
func resolveSheet(path string) (*motion.Motion, *projects, *project, error) {
	all, err := newProjects()
	if err != nil {
		return nil, nil, nil, fmt.Errorf("the current folder can't be found: %w", err)
	}
	text, err := readFile(path)
	if err != nil {
		return nil, nil, nil, err
	}
	p, name := all.of(path)
	return p.Resolve(grammar.Parse(name, text)), all, p, nil
}
