package lint

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// certain tells whether a motion says all that it means to. Rules that look at whole figures, and at other sheets, wait
// until the text reads without an error, so that one mistake is one report.
func certain(m *motion.Motion) bool {
	if m == nil || !m.Whole() {
		return false
	}
	for block := range doubtful(m) {
		switch block.Kind {
		case grammar.NotesBlock, grammar.HouseBlock, grammar.FamilyBlock:
		default:
			return false
		}
	}
	return true
}
