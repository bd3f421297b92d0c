package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// motionless says that a file has no motion to be drawn, traced and so on, and what to do: `motet check` has nothing to say
// about a rig or a family, which lack nothing, so that only a sheet, or what is left of one, is for it to explain.
func motionless(m *motion.Motion, path, purpose string) string {
	holds := func(kind grammar.BlockKind) bool {
		return slices.ContainsFunc(m.File.Blocks, func(b *grammar.Block) bool { return b.Kind == kind })
	}
	way := "it holds no sheet, so name a file with one"
	switch {
	case m.Sheet != nil || holds(grammar.SheetBlock) || badLines(m.File) > 0:
		way = fmt.Sprintf("see what `motet check %s` says about it", path)
	case holds(grammar.FamilyBlock):
		way = "it is a family, so name one of its members"
	case holds(grammar.RigBlock):
		way = "it is a rig, so name a sheet that is over it"
	}
	return fmt.Sprintf("no motion to %s; %s", purpose, way)
}

// channelsOf are the paths of a control's channels, empty where there is no control of that name.
func channelsOf(control string, paths []string) (own []string) {
	for _, path := range paths {
		if strings.HasPrefix(path, grammar.NameKey(control)+"/") {
			own = append(own, path)
		}
	}
	return own
}
