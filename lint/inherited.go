package lint

import (
	"fmt"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// brought brings home the findings of a variant that stand in its base's text, which is another file: a rule that finds
// faults there reports once, on the `from` line, with the base's line as a related place. What the base does not have, and
// a line of `change` has done to its keys, is reported once on that line. Notes are the base's own business.
func brought(m *motion.Motion, found []Finding, rules []*Rule) []Finding {
	if m.Sheet == nil || m.Base == nil {
		return found
	}
	type told struct {
		rule string
		at   grammar.Ref
	}
	var home []Finding
	byRule := map[told]int{} // index into home
	more := map[told]int{}
	before := faultsBefore{base: m.Base, found: map[string]map[grammar.Ref]bool{}}
	for _, f := range found {
		if f.At.Path() == m.File.Path {
			home = append(home, f)
			continue
		}
		if f.Level <= Note {
			continue
		}
		at, so := m.Sheet.At("from"), "in what the base hands down, "
		if change := changeAt(m, f.At, f.of); !change.IsZero() && !before.has(rules, &f) {
			at, so = change, "with this change, "
		}
		key := told{f.Rule, at}
		if _, again := byRule[key]; again {
			more[key] += f.weight()
			continue
		}
		f.Related = append([]motion.Related{{At: f.At, Message: "the base's line"}}, f.Related...)
		f.At, f.Mends = at, nil
		f.Message = so + f.Message
		byRule[key] = len(home)
		home = append(home, f)
	}
	for key, count := range more {
		first := &home[byRule[key]]
		first.Message += fmt.Sprintf(" (and %d more like it)", count)
		first.faults = first.weight() + count
	}
	return home
}

// faultsBefore is what rules report of a base, asked for a rule when it is needed.
type faultsBefore struct {
	base  *motion.Motion
	found map[string]map[grammar.Ref]bool // by rule
}

func (b *faultsBefore) has(rules []*Rule, f *Finding) bool {
	there, asked := b.found[f.Rule]
	if !asked {
		there = map[grammar.Ref]bool{}
		for _, rule := range rules {
			if rule.Name == f.Rule {
				for _, other := range CheckOnly(b.base, []*Rule{rule}) {
					there[other.At] = true
				}
			}
		}
		b.found[f.Rule] = there
	}
	return there[f.At]
}

// changeAt is the line of a `change` block of m's own that last changed the value of a key with its place in some line of
// the base: a key of one channel, or of any where that is empty. It is nothing where none did.
func changeAt(m *motion.Motion, at grammar.Ref, of string) (line grammar.Ref) {
	look := func(s *motion.Strand) {
		for i := range s.Keys {
			k := &s.Keys[i]
			if k.At.Block == at.Block && k.At.Line == at.Line && (k.At.Span == at.Span || k.From != motion.FromTrack) {
				if change := lastChange(m, k); !change.IsZero() {
					line = change
				}
			}
		}
	}
	for i := range m.Channels {
		c := &m.Channels[i]
		if of != "" && of != c.Dial.Path {
			continue
		}
		if c.Base != nil {
			look(c.Base)
		}
		for k := range c.Layers {
			look(c.Layers[k].Strand)
		}
	}
	return line
}

// lastChange is the last line of m that gave a key another value.
func lastChange(m *motion.Motion, k *motion.Key) (line grammar.Ref) {
	value := k.First
	for _, change := range k.Changes {
		if change.Value != value && change.At.Path() == m.File.Path {
			line = change.At
		}
		value = change.Value
	}
	return line
}
