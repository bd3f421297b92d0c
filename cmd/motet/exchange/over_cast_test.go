package exchange

import (
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// overOwnRig imports clips, by path, over a rig that somebody wrote by hand.
func overOwnRig(t testing.TB, rig *motion.Rig, o Options, paths ...string) *AllResult {
	t.Helper()
	over := overRig(t, rig.File.Path, rig.File.Text)
	o.ReadFile, o.Anew = os.ReadFile, true
	all, err := ImportAll(AllOptions{Paths: paths, Options: o, Over: over})
	require.NoError(t, err)
	return all
}

// requireClipOverRig holds a sheet over a rig that was there, by the witness, to the clip's file.
func requireClipOverRig(t testing.TB, all *AllResult, c *ClipResult, data []byte, clip int) {
	t.Helper()
	require.NoError(t, c.Err)
	w := newWitness(t, data, clip)
	nodes := map[string]int{}
	for i, n := range w.doc.Nodes {
		nodes[n.Name] = i
	}
	requireWithin(t, DefaultWithin(), compareWith(t, withRig(all, c), w, nodes))
}

// Each member of the demo cast comes back over its own rig, which was written by hand: its dials share joints, its legs have
// no dials but their goals, and nothing of it changes but for what the clip moves and no dial does.
func TestTheCastComesBackOverItsOwnRig(t *testing.T) {
	long(t)
	sheets := cast(t)
	for _, name := range slices.Sorted(maps.Keys(sheets)) {
		m := sheets[name]
		_, file := exported(t, TakeWish{Bare: true}, m)
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		all := overOwnRig(t, m.Rig, Options{}, file)
		c := &all.Clips[0]
		requireClipOverRig(t, all, c, data, 0)
		// A glance in which a number jumps may have corners between frames too, where it is off.
		jumps := false
		for i := range m.Channels {
			jumps = jumps || m.Channels[i].Moves() && m.Corners(i).Steps
		}
		assert.True(t, jumps || !c.Outside, strings.Join(c.Report, "\n"))
		assert.Len(t, c.Plants, len(m.Plants))
		assert.True(t, strings.HasPrefix(all.Rig.Text, m.Rig.File.Text[:strings.Index(m.Rig.File.Text, "\n  channel ")]), "the rig only grows")
		assert.LessOrEqual(t, all.Dials, len(m.Rig.Channels)+4)
		t.Logf("%s: %d keys, %d plants of %d; %s", name, c.Keys, len(c.Plants), len(m.Plants), strings.Join(all.Report, "\n"))
		for _, finding := range lint.Check(resolve(t, withRig(all, c))) {
			assert.NotEqual(t, lint.Error, finding.Level, "%s: %s: %s", name, finding.Rule, finding.Message)
		}
	}
}
