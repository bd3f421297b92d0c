package exchange

import (
	"os"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// overRig is a rig's text as an import over it takes it.
func overRig(t testing.TB, name, text string) *OverRig {
	t.Helper()
	tree := grammar.Parse(name, text)
	m := motion.NewProject(func(string) (*grammar.File, error) { return tree, nil }).Resolve(tree)
	require.NotNil(t, m.Rig)
	require.Empty(t, m.Rig.Problems)
	return &OverRig{Rig: m.Rig, Text: text, File: name}
}

// withRig is a result of an import over a rig, with the rig as it is now.
func withRig(all *AllResult, c *ClipResult) *Result {
	r := *c.Result
	r.RigFile, r.RigText = all.Rig.Name, all.Rig.Text
	return &r
}

// A clip that comes later goes over the rig of those before it: what went together in them and does not in it, and what
// only it moves, are dials more; the sheets that there are stay as they are.
func TestImportOverARig(t *testing.T) {
	limbs := func(name string, arm, fore func(f float64) float64, more ...trackSpec) puppet {
		p := lampKeeper(60, 30)
		p.nodes[9].Name, p.nodes[11].Name = "Keeper_LeftForeArm", "Keeper_RightForeArm"
		at := func(node int, angle func(f float64) float64) trackSpec {
			return baked(node, gltf.TRSRotation, 30, 0, 60, func(f float64) []float64 { return aboutAxis(1, angle(f)) })
		}
		p.clips = []clipSpec{{name, append([]trackSpec{at(8, arm), at(9, fore)}, more...)}}
		return p
	}
	swing := func(size float64) func(f float64) float64 {
		return func(f float64) float64 { return 10 + wave(f, 60, 1, size) }
	}
	first, before := importPuppets(t, map[string]puppet{"swing.glb": limbs("Swing", swing(20), swing(10))}, []string{"swing.glb"}, AllOptions{Name: "keeper"})
	require.Contains(t, plainLines(first.Rig.Text), "arm.left/bend fore-arm.left turn.y 0.5")
	over := overRig(t, first.Rig.Name, first.Rig.Text)

	// One that fits changes nothing of the rig.
	files := map[string]puppet{"again.glb": limbs("Again", swing(-6), swing(-3))}
	all, data := importPuppets(t, files, []string{"again.glb"}, AllOptions{Over: over})
	require.NoError(t, all.Clips[0].Err)
	assert.Equal(t, first.Rig.Text, all.Rig.Text)
	assert.Equal(t, 1, len(all.Files), "the rig is there already")
	requireWithin(t, DefaultWithin(), compareNamed(t, withRig(all, &all.Clips[0]), data["again.glb"], 0))
	assert.Contains(t, all.Report, "over the rig `keeper`, with 1 of its 1 dial")

	// One that moves the forearm otherwise, the head too, and holds the spine bent.
	head := baked(3, gltf.TRSRotation, 30, 0, 60, func(f float64) []float64 { return aboutAxis(2, wave(f, 60, 2, 9)) })
	spine := baked(2, gltf.TRSRotation, 30, 0, 60, func(f float64) []float64 { return aboutAxis(0, 14) })
	files = map[string]puppet{"wave.glb": limbs("Wave", swing(15), func(f float64) float64 { return 30 + wave(f, 60, 3, 12) }, head, spine)}
	all, data = importPuppets(t, files, []string{"wave.glb"}, AllOptions{Over: over})
	require.NoError(t, all.Clips[0].Err)
	assert.False(t, all.Clips[0].Outside, strings.Join(all.Clips[0].Report, "\n"))
	r := withRig(all, &all.Clips[0])
	requireWithin(t, DefaultWithin(), compareNamed(t, r, data["wave.glb"], 0))
	assert.True(t, strings.HasPrefix(plainLines(all.Rig.Text), strings.TrimRight(plainLines(first.Rig.Text), "\n")), "rows come below those that are there:\n%s", all.Rig.Text)
	assert.Equal(t, 4, all.Dials)
	assert.Equal(t, 1, keysOf(all, "wave", "spine/lean"))
	assert.Contains(t, strings.Join(all.Report, "\n"), "3 dials are added to it, for what the clips move and it could not: spine/lean, head/turn, fore-arm.left/turn-y")

	// The sheet that there was means the same over the rig as it is now, and the same clip again needs nothing more.
	old := *first.Clips[0].Result
	old.RigText = all.Rig.Text
	requireWithin(t, DefaultWithin(), compareNamed(t, &old, before["swing.glb"], 0))
	again, _ := importPuppets(t, files, []string{"wave.glb"}, AllOptions{Over: overRig(t, all.Rig.Name, all.Rig.Text)})
	require.NoError(t, again.Clips[0].Err)
	assert.Equal(t, all.Rig.Text, again.Rig.Text)
	requireWithin(t, DefaultWithin(), compareNamed(t, withRig(again, &again.Clips[0]), data["wave.glb"], 0))

	// Another skeleton is told of.
	other := lampKeeper(60, 30)
	other.nodes[3].Name = "Keeper_Lantern"
	other.clips = []clipSpec{{"Sway", []trackSpec{head}}}
	hung := limbs("Hang", swing(3), swing(2))
	hung.nodes[1].Children, hung.nodes[2].Children = []int{2, 4, 6, 3}, []int{8, 10}
	files["sway.glb"], files["hang.glb"] = other, hung
	all, _ = importPuppets(t, files, []string{"wave.glb", "sway.glb", "hang.glb"}, AllOptions{Over: over})
	require.NoError(t, all.Clips[0].Err)
	assert.EqualError(t, all.Clips[1].Err, "it moves the node \"Keeper_Lantern\", for which the rig `keeper` has no joint; import it without --rig")
	assert.EqualError(t, all.Clips[2].Err, "the node \"Keeper_Head\" hangs at \"Keeper_Hips\" there, and the joint `head` of the rig at \"Keeper_Spine\"")
}

// Real clips that come after the others: each over the rig as those before left it keeps its motion.
func TestRealClipsOverARig(t *testing.T) {
	long(t)
	paths := []string{emote(t, "idle.glb"), emote(t, "wave.glb"), emote(t, "fashion-2.glb")}
	all, err := ImportAll(AllOptions{Paths: paths, Options: Options{ReadFile: os.ReadFile}, Name: "folk"})
	require.NoError(t, err)
	for _, name := range []string{"walk.glb", "jump.glb", "dab.glb"} {
		path := emote(t, name)
		all, err = ImportAll(AllOptions{Paths: []string{path}, Options: Options{ReadFile: os.ReadFile}, Over: overRig(t, all.Rig.Name, all.Rig.Text)})
		require.NoError(t, err)
		require.NoError(t, all.Clips[0].Err)
		assert.False(t, all.Clips[0].Outside, name)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		requireWithin(t, DefaultWithin(), compareNamed(t, withRig(all, &all.Clips[0]), data, 0))
		t.Log(strings.Join(all.Report, "\n"))
	}
}

// Whatever comes over a rig of whatever came before is within the limits, by the witness.
func TestRandomClipsOverARig(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		random := func(name string) clipSpec {
			frames := rapid.IntRange(4, 24).Draw(r, "frames")
			tracks := []trackSpec{baked(1, gltf.TRSRotation, 30, 0, frames, func(f float64) []float64 { return aboutAxis(0, wave(f, float64(frames), 1, 2)) })}
			for _, node := range []int{2, 8, 9, 11} {
				size := rapid.SampledFrom([]float64{0, 0.1, 3, 20, 80}).Draw(r, "size")
				about := rapid.SampledFrom([]float64{0, 0, 10, -75, 170}).Draw(r, "about")
				axis := rapid.IntRange(0, 2).Draw(r, "axis")
				if rapid.IntRange(0, 4).Draw(r, "moves") > 0 {
					tracks = append(tracks, baked(node, gltf.TRSRotation, 30, 0, frames, func(f float64) []float64 {
						return aboutAxis(axis, about+wave(f, float64(frames), 1, size))
					}))
				}
			}
			return clipSpec{name, tracks}
		}
		limbs := func(clip clipSpec) puppet {
			p := lampKeeper(60, 30)
			p.nodes[9].Name, p.nodes[11].Name = "Keeper_LeftForeArm", "Keeper_RightForeArm"
			p.clips = []clipSpec{clip}
			return p
		}
		files := map[string]puppet{"a.glb": limbs(random("A")), "b.glb": limbs(random("B")), "c.glb": limbs(random("C"))}
		all, _ := importPuppets(t, files, []string{"a.glb"}, AllOptions{Name: "keeper"})
		for _, path := range []string{"b.glb", "c.glb"} {
			var data map[string][]byte
			all, data = importPuppets(t, files, []string{path}, AllOptions{Over: overRig(t, all.Rig.Name, all.Rig.Text)})
			c := &all.Clips[0]
			if c.Err != nil || c.Outside {
				r.Fatalf("%s: %v, outside %v\n%s\n%s", path, c.Err, c.Outside, strings.Join(c.Report, "\n"), all.Rig.Text)
			}
			off := compareNamed(t, withRig(all, c), data[path], 0)
			if within := DefaultWithin(); off.turnDeg > within.TurnDeg || off.worldCM > within.WorldCM {
				r.Fatalf("%s is off by %g° and %g cm\n%s\n%s", path, off.turnDeg, off.worldCM, all.Rig.Text, c.SheetText)
			}
		}
	})
}

// New rows go where the rig has its channels, in its own columns, and its other lines stay as they are.
func TestRowsOfARigThatSomebodyWrote(t *testing.T) {
	for name, c := range map[string]struct{ rig, want string }{
		"own columns": {
			"rig keeper # mine\n\njoints\n joint on x y z\n head . 0 -50 0 # node 3 \"Head\"\n\nchannels\n  channel  drives\tunit\n  head/nod turn.x deg # as she nods\n\npose bow\n  head/nod 4\n",
			"  head/nod turn.x deg # as she nods\n  head/turn  turn.y  deg\n\npose bow\n",
		},
		"none": {
			"rig keeper\n\njoints\n joint on x y z\n head . 0 -50 0 # node 3 \"Head\"\n",
			" head . 0 -50 0 # node 3 \"Head\"\n\nchannels\n  channel  joint  drives  gain  unit  mirror  positive\n  head/turn  .  turn.y  1  deg  flip  \"to their left\"\n",
		},
	} {
		t.Run(name, func(t *testing.T) {
			one := puppet{nodes: []*gltf.Node{{Name: "Head", Translation: [3]float64{0, -0.5, 0}, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Matrix: gltf.DefaultMatrix}}}
			one.clips = []clipSpec{{"Turn", []trackSpec{baked(0, gltf.TRSRotation, 30, 0, 30, func(f float64) []float64 { return aboutAxis(1, wave(f, 30, 1, 20)) })}}}
			all, _ := importPuppets(t, map[string]puppet{"a.glb": one}, []string{"a.glb"}, AllOptions{Over: overRig(t, "keeper.motet", c.rig)})
			require.NoError(t, all.Clips[0].Err)
			assert.Contains(t, all.Rig.Text, c.want)
			r := withRig(all, &all.Clips[0])
			tree := map[string]*grammar.File{r.RigFile: grammar.Parse(r.RigFile, r.RigText), r.SheetFile: grammar.Parse(r.SheetFile, r.SheetText)}
			m := motion.NewProject(func(path string) (*grammar.File, error) { return tree[path], nil }).Resolve(tree[r.SheetFile])
			require.Empty(t, m.Problems)
			assert.InDelta(t, 20, m.Channel("head/turn").At(7.5), 0.3)
		})
	}
}
