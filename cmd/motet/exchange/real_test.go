package exchange

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// emotes are the baked clips of the npm package @dcl/wearable-preview (declared
// Apache-2.0), which the tests read where it is installed and never copy.
func emotes(t testing.TB) []string {
	t.Helper()
	folder := filepath.Dir(reference.Path(t, "@dcl/wearable-preview", "emotes", "idle.glb"))
	paths, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	require.NoError(t, err)
	require.Len(t, paths, 16)
	return paths
}

func emote(t testing.TB, name string) string {
	return reference.Path(t, "@dcl/wearable-preview", "emotes", name)
}

// Every real clip is imported, resolved by the language's engine without a problem, and
// held against an evaluation of the clip that shares nothing with the importer.
func TestRealClipsKeepTheirMotion(t *testing.T) {
	for _, path := range emotes(t) {
		t.Run(filepath.Base(path), func(t *testing.T) {
			r, err := Import(Options{Path: path, ReadFile: os.ReadFile})
			require.NoError(t, err)
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			off := compare(t, r, data, 0)
			requireWithin(t, DefaultWithin(), off)
			// What the report says is what the witness finds.
			assert.InDelta(t, off.turnDeg, r.TurnDeg, 0.02)
			assert.InDelta(t, off.moveCM, r.MoveCM, 0.01)
			assert.NotContains(t, strings.Join(r.Report, "\n"), "NOT within")
			t.Logf("%d keys of %d, off by %.3f° %.3f cm", r.Keys, r.Baked, off.turnDeg, off.moveCM)
		})
	}
}
