package lint

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
)

// slips are what a hurried hand does to a line of a sheet.
var slips = []func(t *rapid.T, line string) string{
	func(_ *rapid.T, _ string) string { return "" },
	func(_ *rapid.T, line string) string { return line + "\n" + line },
	func(_ *rapid.T, line string) string { return strings.Replace(line, ".", ",", 1) },
	func(_ *rapid.T, line string) string { return strings.Replace(line, "b ", "b+1f ", 1) },
	func(_ *rapid.T, line string) string { return strings.Replace(line, "f ", ".5f ", 1) },
	func(_ *rapid.T, line string) string { return strings.Replace(line, "2", "7", 1) },
	func(_ *rapid.T, line string) string { return strings.TrimLeft(line, " ") },
	func(t *rapid.T, line string) string {
		if line == "" {
			return line
		}
		at := rapid.IntRange(0, len(line)-1).Draw(t, "at")
		return line[:at] + line[at+1:]
	},
}

// TestMendingSpoiltSheetsOnlyEverHelps spoils a few lines of a sheet and mends it: more lines are read afterwards than
// before, or no rule reports more and no error comes in; and a second mending finds nothing to do. So it is with every mend
// alone, in that the text parses as well as before.
func TestMendingSpoiltSheetsOnlyEverHelps(t *testing.T) {
	trees := folderTrees(testFolder)
	var names []string
	for _, name := range sheetsToJudge(t) {
		if text, err := os.ReadFile(filepath.Join(testFolder, name)); err == nil && len(text) < 1500 {
			names = append(names, name)
		}
	}
	require.NotEmpty(t, names)
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "sheet")
		whole, err := trees(name)
		require.NoError(t, err)
		lines := strings.Split(whole.Text, "\n")
		for range rapid.IntRange(0, 3).Draw(t, "slips") {
			at := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
			lines[at] = rapid.SampledFrom(slips).Draw(t, "slip")(t, lines[at])
		}
		f := grammar.Parse(name, strings.Join(lines, "\n"))
		m := &mending{trees: trees, rules: Rules()}
		before := m.judge(f).found
		for _, finding := range before {
			for _, mend := range finding.Mends {
				text, ok := Apply(f, mend)
				if !ok {
					t.Fatalf("%s: the mend %q of %s cannot be applied", name, mend.Title, finding.Message)
				}
				if broken(grammar.Parse(name, text)) > broken(f) {
					t.Fatalf("%s: the mend %q of %s breaks a line:\n%s", name, mend.Title, finding.Message, text)
				}
			}
		}
		mended := MendAll(f, trees, nil)
		if more := broken(mended.File) - broken(f); more > 0 || more == 0 && (worse(before, mended.Left) || count(mended.Left, Error) > count(before, Error)) {
			t.Fatalf("%s is worse after mending:\n%s\n%v", name, mended.File.Text, mended.Left)
		}
		if again := MendAll(mended.File, trees, nil); len(again.Done) > 0 {
			t.Fatalf("%s is mended further the second time: %v\n%s", name, again.Done, mended.File.Text)
		}
	})
}

// broken counts the lines that do not parse or could not be judged.
func broken(f *grammar.File) (n int) {
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if kind := b.Lines[i].Kind; kind == grammar.BadLine || kind == grammar.MutedLine {
				n++
			}
		}
	}
	return n
}

func count(found []Finding, level Level) (n int) {
	for i := range found {
		if found[i].Level == level {
			n += found[i].weight()
		}
	}
	return n
}
