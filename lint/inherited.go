package lint

import (
	"fmt"

	"github.com/motet-sheet/motet/lint/motion"
)

// brought brings home the findings of a variant that stand in its base's text, which is another file: a rule that finds
// faults there reports once, on the `from` line, with the base's line as a related place. Notes are the base's own
// business.
func brought(m *motion.Motion, found []Finding) []Finding {
	if m.Sheet == nil || m.Base == nil {
		return found
	}
	var home []Finding
	byRule := map[string]int{} // index into home
	more := map[string]int{}
	for _, f := range found {
		if f.At.Path() == m.File.Path {
			home = append(home, f)
			continue
		}
		if f.Level <= Note {
			continue
		}
		if _, told := byRule[f.Rule]; told {
			more[f.Rule] += f.weight()
			continue
		}
		f.Related = append([]motion.Related{{At: f.At, Message: "the base's line"}}, f.Related...)
		f.At, f.Mends = m.Sheet.At("from"), nil
		f.Message = "in what the base hands down, " + f.Message
		byRule[f.Rule] = len(home)
		home = append(home, f)
	}
	for rule, count := range more {
		first := &home[byRule[rule]]
		first.Message += fmt.Sprintf(" (and %d more like it)", count)
		first.faults = first.weight() + count
	}
	return home
}
