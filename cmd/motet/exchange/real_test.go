package exchange

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint"
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

// long leaves a test of many numbers out of short runs, as CI's run with the race detector is: it starts no goroutine of
// its own, and would take ten times as long there.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("left out of short runs")
	}
}

// alreadyImported are the clips that a test has imported with nothing set, by path.
var alreadyImported = map[string]*Result{}

// imported is a clip imported with nothing set. Several tests ask for the same ones, and change nothing in them.
func imported(t testing.TB, path string) *Result {
	t.Helper()
	r, known := alreadyImported[path]
	if !known {
		var err error
		r, err = Import(Options{Path: path, ReadFile: os.ReadFile})
		require.NoError(t, err)
		alreadyImported[path] = r
	}
	return r
}

// The importer's reading of a clip, between frames too, is that of GLTFLoader and
// AnimationMixer of the npm package three.
func TestRealClipsAreReadAsThreeReadsThem(t *testing.T) {
	long(t)
	for _, name := range []string{"idle.glb", "jump.glb", "dance.glb"} {
		path := emote(t, name)
		d, err := Read(path, os.ReadFile)
		require.NoError(t, err)
		time, err := timingOf(&d.Clips[0], Rate{})
		require.NoError(t, err)
		s, err := skeletonOf(d, &d.Clips[0], time)
		require.NoError(t, err)
		world := s.worldPath(1)
		var steps []int
		var at []float64
		for step := 0; step < s.steps; step += 7 {
			steps, at = append(steps, step), append(at, time.seconds(step))
		}
		var want [][][7]float64
		reference.Ask(t, "clip.mjs", map[string]any{"path": path, "clip": 0, "at": at}, &want)
		for k, step := range steps {
			for i := range s.joints {
				there := want[k][s.joints[i].node]
				place := vec3{100 * there[0], 100 * there[1], 100 * there[2]}
				// three holds keys and matrices in 32 bits: a millionth of two metres, and of
				// a quaternion.
				require.Less(t, world[step][i].to(place), 1e-3, "%s: %s at %g s", name, d.nodes[s.joints[i].node].name, at[k])
				turn := quat{there[3], there[4], there[5], there[6]}.normal()
				require.Less(t, s.joints[i].path[step].turn.angleTo(turn), 1e-4)
			}
		}
	}
}

// The figures that are promised of these clips: the idle closes and takes at most one key in
// five of the baked ones, a clip that is no loop is a span and keeps its gap as a cycle.
func TestRealIdleAndDab(t *testing.T) {
	long(t)
	r := imported(t, emote(t, "idle.glb"))
	assert.Equal(t, Closes, r.Loop)
	assert.LessOrEqual(t, 5*r.Keys, r.Baked)
	m := resolve(t, r)
	assert.Equal(t, 90.0, m.Sheet.Length.Float())
	assert.Equal(t, "hand.right", m.Rig.Mirrored("hand.left"))
	for _, finding := range lint.Check(m) {
		assert.NotEqual(t, lint.Error, finding.Level, "%s: %s", finding.Rule, finding.Message)
		assert.NotContains(t, finding.Rule, "crowded", finding.Message)
		assert.NotContains(t, finding.Rule, "seam", finding.Message)
	}
	// Half a millimetre in the world for every joint, at every frame, is to be had too.
	within, err := ParseWithin("0.25deg,0.05cm,0.05cm-world")
	require.NoError(t, err)
	r, err = Import(Options{Path: emote(t, "idle.glb"), ReadFile: os.ReadFile, Within: within})
	require.NoError(t, err)
	assert.LessOrEqual(t, 5*r.Keys, r.Baked)
	data, err := os.ReadFile(emote(t, "idle.glb"))
	require.NoError(t, err)
	requireWithin(t, within, compare(t, r, data, 0))

	r = imported(t, emote(t, "dab.glb"))
	assert.Equal(t, Open, r.Loop)
	assert.InDelta(t, 12.6, r.Gap.TurnDeg, 0.05)
	assert.False(t, resolve(t, r).Sheet.Closed)
	assert.Contains(t, r.Report[1], "it is no loop: its ends are 12.621° apart")

	r, err = Import(Options{Path: emote(t, "dab.glb"), ReadFile: os.ReadFile, Cycle: true})
	require.NoError(t, err)
	gaps := 0
	for _, finding := range lint.Check(resolve(t, r)) {
		if finding.Rule == "seam-gap" {
			gaps++
		}
	}
	assert.Positive(t, gaps)
}

// A walk and a run without their last frame are known to lack it, and the sheet that comes
// out closes as the whole clip does.
func TestRealLoopsWithoutTheirLastFrame(t *testing.T) {
	for _, name := range []string{"walk.glb", "run.glb"} {
		d, err := Read(emote(t, name), os.ReadFile)
		require.NoError(t, err)
		whole, err := timingOf(&d.Clips[0], Rate{})
		require.NoError(t, err)
		clip := Clip{Name: "cut"}
		for _, track := range d.Clips[0].tracks {
			if last := len(track.times) - 1; last > 1 {
				track.times, track.values = track.times[:last], track.values[:last*track.width]
			} else {
				track.times, track.values = track.times[:1], track.values[:track.width]
			}
			clip.add(track)
		}
		f, err := figureOf(d, &clip, Options{Within: DefaultWithin()})
		require.NoError(t, err)
		assert.Equal(t, LacksFrame, f.loop.ending, name)
		assert.Equal(t, whole.frames, f.time.frames)
	}
}

// Every real clip is imported, resolved by the language's engine without a problem, and
// held against an evaluation of the clip that shares nothing with the importer.
func TestRealClipsKeepTheirMotion(t *testing.T) {
	long(t)
	for _, path := range emotes(t) {
		t.Run(filepath.Base(path), func(t *testing.T) {
			r := imported(t, path)
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			off := compare(t, r, data, 0)
			requireWithin(t, DefaultWithin(), off)
			// What the report says is what the witness finds.
			assert.InDelta(t, off.turnDeg, r.Off.TurnDeg, 0.03)
			assert.LessOrEqual(t, off.worldCM, r.Off.WorldCM+1e-3, "the witness looks at fewer frames")
			assert.InDelta(t, off.worldCM, r.Off.WorldCM, 0.1)
			assert.LessOrEqual(t, r.Off.MoveCM, DefaultWithin().MoveCM)
			assert.NotContains(t, strings.Join(r.Report, "\n"), "NOT within")
			t.Logf("%d keys of %d, off by %.3f° %.3f cm", r.Keys, r.Baked, off.turnDeg, off.worldCM)
		})
	}
}
