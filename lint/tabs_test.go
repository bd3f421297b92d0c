package lint

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/grammar/sheets"
	"github.com/motet-sheet/motet/lint/motion"
)

// TestTabsMeanWhatSpacesMean writes tabs for some of the spaces between the atoms of sheets, and finds the same motion and
// the same reports.
func TestTabsMeanWhatSpacesMean(t *testing.T) {
	trees := folderTrees(testFolder)
	names := sheetsToJudge(t)
	rapid.Check(t, func(t *rapid.T) {
		name, text := "quay/drawn.motet", ""
		if rapid.Bool().Draw(t, "drawn") {
			text = sheets.DrawBroken(t)
		} else {
			name = rapid.SampledFrom(names).Draw(t, "sheet")
			data, err := os.ReadFile(filepath.Join(testFolder, name))
			require.NoError(t, err)
			if len(data) > 3000 {
				t.Skip("the large ones take too long")
			}
			text = string(data)
		}
		every := rapid.IntRange(1, 3).Draw(t, "every")
		judge := func(text string) *judged {
			return (&mending{trees: trees, rules: Rules()}).judge(grammar.Parse(name, text))
		}
		spaced, tabbed := judge(text), judge(withTabs(text, every))
		require.Equal(t, reports(spaced.found), reports(tabbed.found), "%q", withTabs(text, every))
		require.Equal(t, spaced.motion.Sheet == nil, tabbed.motion.Sheet == nil)
		if spaced.motion.Sheet == nil || !spaced.motion.Sheet.Length.OK() || !tabbed.motion.Sheet.Length.OK() {
			return
		}
		change := motion.Compare(spaced.motion, tabbed.motion)
		require.Empty(t, change.Channels, "%q", withTabs(text, every))
	})
}

// withTabs writes a tab for each run of spaces that stands between two atoms, or for every second or third of them.
func withTabs(text string, every int) string {
	var out strings.Builder
	runs := 0
	for _, line := range strings.SplitAfter(text, "\n") {
		for _, token := range grammar.Tokens(line) {
			atom := line[token.Span.Start:token.Span.End]
			if token.Class == grammar.Space && strings.Trim(atom, " ") == "" {
				if runs++; runs%every == 0 {
					atom = "\t"
				}
			}
			out.WriteString(atom)
		}
	}
	return out.String()
}

// reports are findings without what white space may change: columns, and how much of it a quoted stretch has.
func reports(found []Finding) (out []string) {
	for i := range found {
		f := &found[i]
		said := f.Rule + ": " + f.Message
		for _, mend := range f.Mends {
			said += " [" + mend.Title + "]"
		}
		out = append(out, strings.Join(strings.Fields(said), " "))
	}
	return out
}
