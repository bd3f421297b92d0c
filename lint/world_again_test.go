package lint

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// world is a folder of texts that somebody edits, with all that is kept of them from edit to edit.
type world struct {
	texts    map[string]string
	trees    map[string]*grammar.File
	motions  map[string]*motion.Motion
	memories map[string]*Memory
}

func newWorld(texts map[string]string) *world {
	w := &world{
		texts: map[string]string{}, trees: map[string]*grammar.File{},
		motions: map[string]*motion.Motion{}, memories: map[string]*Memory{},
	}
	for name, text := range texts {
		w.write(name, text)
	}
	return w
}

// exampleWorld is a world with all that the rules' examples rest on.
func exampleWorld() *world {
	w := newWorld(exampleCast)
	w.write("small.motet", ExampleRig)
	w.write("shore.motet", ExampleBase)
	w.write("legged.motet", ExampleLimb)
	return w
}

func (w *world) write(name, text string) {
	w.texts[name] = text
	w.trees[name] = grammar.Reparse(w.trees[name], name, text)
}

func (w *world) remove(name string) {
	delete(w.texts, name)
	delete(w.trees, name)
}

func projectOf(trees map[string]*grammar.File) *motion.Project {
	find := func(name string) (*grammar.File, error) {
		if f, ok := trees[name]; ok {
			return f, nil
		}
		return nil, errors.New("there is no such file")
	}
	return motion.NewProject(find).WithListing(func(string) []string { return slices.Sorted(maps.Keys(trees)) })
}

// resolve resolves a sheet from what its last version left.
func (w *world) resolve(name string) *motion.Motion {
	w.motions[name] = projectOf(w.trees).ResolveAgain(w.motions[name], w.trees[name])
	return w.motions[name]
}

// check checks a sheet from what its last versions left, and gives what it finds, and what somebody finds who knows nothing of
// them.
func (w *world) check(t require.TestingT, name string) (again, anew string) {
	found, memory, err := CheckAgain(context.Background(), w.resolve(name), w.memories[name])
	require.NoError(t, err)
	w.memories[name] = memory
	trees := map[string]*grammar.File{}
	for name, text := range w.texts {
		trees[name] = grammar.Parse(name, text)
	}
	m := projectOf(trees).Resolve(trees[name])
	return spell(w.trees[name], found) + keysOf(w.motions[name]), spell(trees[name], Check(m)) + keysOf(m)
}

// keysOf is every key of a motion, with its place in the text and what the curve does there.
func keysOf(m *motion.Motion) string {
	var out strings.Builder
	for i := range m.Channels {
		c := &m.Channels[i]
		for layer, s := range c.Strands() {
			fmt.Fprintln(&out, c.Dial.Path, layer, s.Period, c.Late)
			for i := range s.Keys {
				k := &s.Keys[i]
				span, ok := m.File.Locate(k.At)
				left, right := s.Curve.Slope(k.Time.Float())
				fmt.Fprintln(&out, k.Time, k.Value, k.First, k.At.Path(), k.At.Line, k.At.Text(), span, ok, k.Written, s.Curve.At(k.Time.Float()), left, right)
			}
		}
	}
	return out.String()
}

// TestLimitsThatChangeBetweenChecks changes each limit of each rule in the folder's house and takes it back, on the rule's own
// example: what a check found out by one limit does not stand for another.
func TestLimitsThatChangeBetweenChecks(t *testing.T) {
	for _, rule := range Rules() {
		if rule.Group == TextGroup || rule.Doc.Bad == "" {
			continue
		}
		w := exampleWorld()
		w.write("example.motet", ExampleSheet(rule.Doc.Bad))
		check := func() string {
			again, anew := w.check(t, "example.motet")
			require.Equal(t, anew, again, "%s\n%s", rule.Name, w.texts["house.motet"])
			return again
		}
		usual := check()
		for _, limit := range rule.Limits {
			for _, times := range []float64{0.2, 5} {
				level := rule.Level
				if level == Off {
					level = Warning
				}
				w.write("house.motet", fmt.Sprintf("house\n  rule            level   limit\n  %-15s %-7s %v%s\n", rule.Name, level, limit.Value*times, limit.Unit))
				check()
				w.remove("house.motet")
				require.Equal(t, usual, check(), rule.Name)
			}
		}
	}
}
