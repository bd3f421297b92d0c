package main

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

const clipsFile = "../../testdata/clips.md"

const clipsHead = `# What real clips report

The sixteen baked clips of the npm package @dcl/wearable-preview, each read in by ` + "`motet import`" + ` with nothing set and then
checked. The last column says why each is one to act on, read from the reports and the keys they name. The first three columns are written by a
test (` + "`MOTET_UPDATE=1 go test ./cmd/motet -run RealClips`" + `), which keeps the last and fails where it is empty.

| clip | rule | reports | why that is right |
| --- | --- | --- | --- |
`

const plantsHead = `
## What stands in them

Which feet and hands an import found standing, by frames, and planted; which of them it left to the turns of their joints,
and why; how many keys the sheet has, and how many more it would have without plants. Behind that, what ` + "`--still 3mm`" + ` makes
of it: what is planted then, how many keys there are, and how far a joint's own turn and place are from the clip.

| clip | planted | stands, and is not planted | keys | saved | with --still 3mm | keys | off |
| --- | --- | --- | --- | --- | --- | --- | --- |
`

// TestRealClipsReportWhatAnAnimatorWouldActOn holds what the real clips report, rule by rule, to testdata/clips.md.
func TestRealClipsReportWhatAnAnimatorWouldActOn(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic")
	}
	folder := filepath.Dir(reference.Path(t, "@dcl/wearable-preview", "emotes", "idle.glb"))
	clips, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	require.NoError(t, err)
	require.Len(t, clips, 16)
	old, err := os.ReadFile(clipsFile)
	require.NoError(t, err)
	why := clipReasons(string(old))
	var out, plants strings.Builder
	out.WriteString(clipsHead)
	plants.WriteString(plantsHead)
	for _, clip := range clips {
		name := strings.TrimSuffix(filepath.Base(clip), ".glb")
		made := clipSheet(t, clip, 0)
		still := made
		if len(made.Plants) > 0 || strings.Contains(strings.Join(made.Report, "\n"), " stands still from frame ") {
			still = clipSheet(t, clip, 0.3)
		}
		plantRow(&plants, name, made, still)
		counts := clipReports(made)
		for _, rule := range slices.Sorted(maps.Keys(counts)) {
			reason := why[name+" "+rule]
			assert.NotEmpty(t, reason, "%s reports %s: say in testdata/clips.md why that is right", name, rule)
			fmt.Fprintf(&out, "| %s | %s | %d | %s |\n", name, rule, counts[rule], reason)
		}
	}
	out.WriteString(plants.String())
	if os.Getenv("MOTET_UPDATE") != "" {
		require.NoError(t, os.WriteFile(clipsFile, []byte(out.String()), 0o644))
		return
	}
	assert.Equal(t, string(old), out.String(), "the clips report something else; run with MOTET_UPDATE=1 and read what changes")
}

// clipReasons are the reasons in the table, by clip and rule.
func clipReasons(text string) map[string]string {
	why := map[string]string{}
	for line := range strings.Lines(text) {
		if cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|"); len(cells) == 4 {
			why[strings.TrimSpace(cells[0])+" "+strings.TrimSpace(cells[1])] = strings.TrimSpace(cells[3])
		}
	}
	return why
}

// plantRow is what an import found standing in a clip, and what that cost.
func plantRow(out *strings.Builder, name string, made, still *exchange.Result) {
	planted := func(r *exchange.Result) string {
		var all []string
		for _, p := range r.Plants {
			all = append(all, fmt.Sprintf("%s %d to %d", p.Goal, p.From, p.To))
		}
		return strings.Join(all, ", ")
	}
	var left []string
	for _, line := range made.Report {
		if end, why, ok := strings.Cut(line, " stands still from frame "); ok {
			when, why, _ := strings.Cut(why, ", but stays unplanted: ")
			left = append(left, end+" "+when+": "+why)
		}
	}
	fmt.Fprintf(out, "| %s | %s | %s | %d | %d |", name, planted(made), strings.Join(left, ". "), made.Keys, made.SavedKeys)
	if still.SheetText == made.SheetText {
		out.WriteString(" the same | | |\n")
		return
	}
	fmt.Fprintf(out, " %s | %d | %.2f°, %.2f cm |\n", planted(still), still.Keys, still.Off.TurnDeg, still.Off.WorldCM)
}

// clipSheet reads a clip in, with ends held that stay so near to a place.
func clipSheet(t *testing.T, clip string, stillCM float64) *exchange.Result {
	t.Helper()
	made, err := exchange.Import(exchange.Options{Path: clip, ReadFile: readClip, StillCM: stillCM})
	require.NoError(t, err)
	return made
}

// clipReports counts what a clip's sheet reports, by rule.
func clipReports(made *exchange.Result) map[string]int {
	files := map[string]*grammar.File{
		made.RigFile: grammar.Parse(made.RigFile, made.RigText), made.SheetFile: grammar.Parse(made.SheetFile, made.SheetText),
	}
	trees := func(path string) (*grammar.File, error) {
		if f, ok := files[path]; ok {
			return f, nil
		}
		return nil, errors.New("there is no such file")
	}
	counts := map[string]int{}
	for _, f := range files {
		for _, found := range lint.Check(motion.NewProject(trees).Resolve(f)) {
			counts[found.Rule]++
		}
	}
	return counts
}
