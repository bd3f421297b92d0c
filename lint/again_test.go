package lint

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// spell is all that findings say, with their places as bytes of the file.
func spell(f *grammar.File, found []Finding) string {
	var out strings.Builder
	at := func(r grammar.Ref) string {
		span, ok := f.Locate(r)
		return fmt.Sprint(r.Path(), r.Line, r.Span, r.Text(), span, ok)
	}
	for i := range found {
		d := &found[i]
		fmt.Fprintln(&out, d.Rule, d.Level, at(d.At), d.Message, d.Unused, d.faults)
		for _, r := range d.Related {
			fmt.Fprintln(&out, "  ", at(r.At), r.Message)
		}
		for _, m := range d.Mends {
			fmt.Fprintln(&out, "  ", m.Title, m.Safe)
			for _, e := range m.Edits {
				fmt.Fprintln(&out, "    ", at(e.At), e.Text)
			}
		}
	}
	return out.String()
}

// TestCheckingAgainEqualsCheckingAnew edits sheets line by line, and after each edit takes over what the check before
// found out: the findings and their mends are those of a check that knows nothing.
func TestCheckingAgainEqualsCheckingAnew(t *testing.T) {
	trees := folderTrees(testFolder)
	var names []string
	for _, name := range sheetsToJudge(t) {
		if _, err := os.Stat(filepath.Join(testFolder, name)); err == nil {
			names = append(names, name)
		}
	}
	require.NotEmpty(t, names)
	taken := 0
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "sheet")
		file, err := trees(name)
		require.NoError(t, err)
		lines := strings.Split(file.Text, "\n")
		var m *motion.Motion
		var memory *Memory
		for range rapid.IntRange(2, 6).Draw(t, "edits") {
			at := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
			lines[at] = rapid.SampledFrom(slips).Draw(t, "slip")(t, lines[at])
			text := strings.Join(lines, "\n")
			file = grammar.Reparse(file, name, text)
			var found []Finding
			before := m
			m = motion.NewProject(trees).ResolveAgain(m, file)
			found, memory, err = CheckAgain(context.Background(), m, memory)
			require.NoError(t, err)
			taken += sharedStrands(before, m)

			anew := grammar.Parse(name, text)
			want := Check(motion.NewProject(trees).Resolve(anew))
			if got, want := spell(file, found), spell(anew, want); got != want {
				t.Fatalf("%s:\n%s\nchecked again:\n%s\nchecked anew:\n%s", name, text, got, want)
			}
		}
	})
	require.Positive(t, taken, "no curve was ever taken over")
}

// sharedStrands counts the base curves that two motions have in common.
func sharedStrands(a, b *motion.Motion) (n int) {
	if a == nil {
		return 0
	}
	for i := range b.Channels {
		if c := a.Channel(b.Channels[i].Dial.Path); c != nil && c.Base != nil && c.Base == b.Channels[i].Base {
			n++
		}
	}
	return n
}

// TestACheckIsGivenUp ends the context before and, by a rule's own question, during a check.
func TestACheckIsGivenUp(t *testing.T) {
	files := largeSheet()
	m := motion.NewProject(inMemory(files)).Resolve(files["sheet.motet"])
	reason := fmt.Errorf("somebody typed on")
	ctx, cancel := context.WithCancelCause(context.Background())
	cancel(reason)
	found, memory, err := CheckAgain(ctx, m, nil)
	require.ErrorIs(t, err, reason)
	require.Nil(t, found)
	require.Nil(t, memory)

	found, memory, err = CheckAgain(context.Background(), m, nil)
	require.NoError(t, err)
	require.Equal(t, spell(m.File, Check(m)), spell(m.File, found))

	// What a check has worked out is not worked out again: the second one takes over every fact as it is.
	answers := func(m *Memory) map[string]any {
		out := map[string]any{}
		note := func(about string, facts reflect.Value) {
			for i := range facts.NumField() {
				if known := facts.Field(i).FieldByName("known"); known.Field(known.NumField()-1).Pointer() != 0 {
					out[about+facts.Type().Field(i).Name] = known.Field(known.NumField() - 1).Pointer()
				}
			}
		}
		for c, facts := range m.curves {
			note(fmt.Sprintf("%p ", c), reflect.ValueOf(facts).Elem())
		}
		for v, facts := range m.voices {
			note(fmt.Sprintf("%p ", v), reflect.ValueOf(facts).Elem())
		}
		for b, facts := range m.blocks {
			note(fmt.Sprintf("%p ", b), reflect.ValueOf(facts).Elem())
		}
		return out
	}
	first := answers(memory)
	_, again, err := CheckAgain(context.Background(), m, memory)
	require.NoError(t, err)
	require.Greater(t, len(first), 3*len(memory.curves))
	require.Len(t, again.voices, len(memory.voices))
	require.Equal(t, first, answers(again))
	require.Len(t, again.curves, len(memory.curves))
	require.Len(t, again.blocks, len(memory.blocks))
}

// TestChecksAtOnceShareAMemory begins several checks from one memory, of two motions of which each has another answer for many
// facts: each finds what a check alone finds.
func TestChecksAtOnceShareAMemory(t *testing.T) {
	files := largeSheet()
	file := files["sheet.motet"]
	m := motion.NewProject(inMemory(files)).Resolve(file)
	_, memory, err := CheckAgain(context.Background(), m, nil)
	require.NoError(t, err)
	slower := grammar.Reparse(file, file.Path, strings.Replace(file.Text, "tempo 60 bpm", "tempo 53 bpm", 1))
	motions := []*motion.Motion{m, motion.NewProject(inMemory(files)).ResolveAgain(m, slower)}
	wants := make([]string, len(motions))
	for i, m := range motions {
		wants[i] = spell(m.File, Check(m))
	}
	require.NotEqual(t, wants[0], wants[1])
	gots := make([]string, 8)
	var group sync.WaitGroup
	for i := range gots {
		group.Go(func() {
			m := motions[i%2]
			found, _, err := CheckAgain(context.Background(), m, memory)
			gots[i] = spell(m.File, found) + fmt.Sprint(err)
		})
	}
	group.Wait()
	for i, got := range gots {
		require.Equal(t, wants[i%2]+"<nil>", got)
	}
}
