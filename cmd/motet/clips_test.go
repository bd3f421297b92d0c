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

// TestRealClipsReportWhatAnAnimatorWouldActOn holds what the real clips report, rule by rule, to testdata/clips.md.
func TestRealClipsReportWhatAnAnimatorWouldActOn(t *testing.T) {
	folder := filepath.Dir(reference.Path(t, "@dcl/wearable-preview", "emotes", "idle.glb"))
	clips, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	require.NoError(t, err)
	require.Len(t, clips, 16)
	old, err := os.ReadFile(clipsFile)
	require.NoError(t, err)
	why := clipReasons(string(old))
	var out strings.Builder
	out.WriteString(clipsHead)
	for _, clip := range clips {
		name := strings.TrimSuffix(filepath.Base(clip), ".glb")
		counts := clipReports(t, clip)
		for _, rule := range slices.Sorted(maps.Keys(counts)) {
			reason := why[name+" "+rule]
			assert.NotEmpty(t, reason, "%s reports %s: say in testdata/clips.md why that is right", name, rule)
			fmt.Fprintf(&out, "| %s | %s | %d | %s |\n", name, rule, counts[rule], reason)
		}
	}
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

// clipReports reads a clip in and counts what it reports, by rule.
func clipReports(t *testing.T, clip string) map[string]int {
	t.Helper()
	made, err := exchange.Import(exchange.Options{Path: clip, ReadFile: readClip})
	require.NoError(t, err)
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
