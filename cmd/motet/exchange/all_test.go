package exchange

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// importPuppets imports all clips of files together.
func importPuppets(t testing.TB, files map[string]puppet, paths []string, o AllOptions) (*AllResult, map[string][]byte) {
	t.Helper()
	data := map[string][]byte{}
	for path, p := range files {
		data[path] = glb(t, p.document(t))
	}
	o.Paths, o.ReadFile = paths, inMemory(data)
	all, err := ImportAll(o)
	require.NoError(t, err)
	return all, data
}

// The sixteen real clips, a file each, are of one skeleton but for two props that three of them have. Over one rig each keeps its
// motion, held against an evaluation of its own file that shares nothing with the importer.
func TestRealClipsOverOneRig(t *testing.T) {
	long(t)
	all, err := ImportAll(AllOptions{Paths: emotes(t), Options: Options{ReadFile: os.ReadFile}, Name: "folk"})
	require.NoError(t, err)
	require.Len(t, all.Clips, 16)
	require.Len(t, all.Files, 17)
	assert.Equal(t, "folk-rig.motet", all.Files[0].Name)
	rig := resolve(t, all.Clips[0].Result).Rig
	for _, c := range all.Clips {
		require.NoError(t, c.Err)
		assert.False(t, c.Outside)
		assert.Equal(t, all.Rig.Text, c.RigText)
		data, err := os.ReadFile(c.Path)
		require.NoError(t, err)
		off := compareNamed(t, c.Result, data, 0)
		requireWithin(t, DefaultWithin(), off)
		assert.InDelta(t, off.turnDeg, c.Off.TurnDeg, 0.03, c.Path)
		assert.LessOrEqual(t, off.worldCM, c.Off.WorldCM+1e-3, c.Path)
		for _, finding := range lint.Check(resolve(t, c.Result)) {
			assert.NotEqual(t, lint.Error, finding.Level, "%s: %s: %s", c.Path, finding.Rule, finding.Message)
		}
	}
	assert.Equal(t, all.Dials, len(rig.Channels))
	assert.GreaterOrEqual(t, rig.JointIndex("hand-prop.left"), 0, "the rig has the joints that only some files have")
	assert.Contains(t, strings.Join(all.Report, "\n"), fmt.Sprintf("16 clips over one rig of 65 joints and %d dials", all.Dials))
	// One rig costs some keys: dials that move together in one clip do not in another.
	alone, together := 0, 0
	for _, c := range all.Clips[9:12] {
		r := imported(t, c.Path)
		alone, together = alone+r.Keys, together+c.Keys
	}
	assert.Less(t, together, 2*alone)
	t.Log(strings.Join(all.Report, "\n"))
}

// keeperClips is a file of several clips of one figure: some that hold the head turned or the spine bent, one that only stands,
// and one that is none.
func keeperClips() puppet {
	p := lampKeeper(60, 30)
	n := 48.0
	turn := func(node, axis int, harmonic, size, about float64) trackSpec {
		return baked(node, gltf.TRSRotation, 24, 0, 48, func(f float64) []float64 {
			return aboutAxis(axis, about+wave(f, n, harmonic, size))
		})
	}
	p.clips = append(p.clips,
		clipSpec{"Look out", []trackSpec{turn(1, 1, 1, 4, 0), turn(3, 2, 0, 0, 25), turn(8, 1, 1, 8, 0), turn(9, 1, 1, 4, 0)}},
		clipSpec{"Wave", []trackSpec{turn(3, 2, 1, 5, 25), turn(8, 1, 1, 30, 40), turn(9, 1, 3, 20, 5)}},
		clipSpec{"Stand", []trackSpec{{node: 3, path: gltf.TRSRotation, times: []float32{0}, values: [][]float32{{0, 0, 0, 1}}}}},
		clipSpec{"Lean still", []trackSpec{turn(2, 0, 0, 0, 12)}},
		clipSpec{name: "Empty"},
	)
	return p
}

func TestSeveralClipsOfOneFile(t *testing.T) {
	all, data := importPuppets(t, map[string]puppet{"keeper.glb": keeperClips()}, []string{"keeper.glb"}, AllOptions{})
	require.Len(t, all.Clips, 6)
	sheets := map[string]*motion.Motion{}
	for i, c := range all.Clips[:5] {
		require.NoError(t, c.Err)
		requireWithin(t, DefaultWithin(), compare(t, c.Result, data["keeper.glb"], i))
		sheets[c.SheetName] = resolve(t, c.Result)
	}
	require.Error(t, all.Clips[5].Err)
	assert.Equal(t, `keeper.glb: clip "Empty": the clip moves no node; choose another`, all.Clips[5].Trouble())
	var names []string
	for _, f := range all.Files {
		names = append(names, f.Name)
	}
	assert.Equal(t, []string{"keeper-rig.motet", "wait-for-tide.motet", "look-out.motet", "wave.motet", "stand.motet", "lean-still.motet"}, names)

	look := sheets["look-out"]
	assert.NotNil(t, look.Channel("arm.left/turn-y"))
	assert.NotNil(t, look.Channel("hand.left/turn-y"))
	// The head rests where most clips that hold it do; where one holds it elsewhere, that is one key.
	head := look.Channel("head/turn")
	require.NotNil(t, head)
	assert.InDelta(t, -25, head.At(0), 0.1)
	assert.InDelta(t, -25, head.At(30), 0.1)
	assert.Equal(t, 1, keysOf(all, "look-out", "head/turn"))
	assert.Equal(t, 0, keysOf(all, "stand", "head/turn"))
	// Each clip keeps its own rate and length, and one that stands still is a pose.
	assert.Equal(t, "24", look.Sheet.Rate.String())
	assert.Equal(t, "30", sheets["wait-for-tide"].Sheet.Rate.String())
	assert.Equal(t, 48.0, look.Sheet.Length.Float())
	assert.Contains(t, strings.Join(all.Clips[3].Report, "\n"), "nothing moves in it")
	assert.InDelta(t, 12, sheets["lean-still"].Channel("spine/lean").At(10)-sheets["stand"].Channel("spine/lean").At(0), 0.1)
}

// keysOf is how many keys a sheet has of a channel.
func keysOf(all *AllResult, sheet, path string) int {
	for _, c := range all.Clips {
		if c.Result == nil || c.SheetName != sheet {
			continue
		}
		for _, channel := range c.Channels {
			if channel.Path == path {
				return channel.Keys
			}
		}
	}
	return 0
}

// What moves in proportion in all clips is one dial, though each clip moves it by another amount and one holds it.
func TestDialsHoldInAllClips(t *testing.T) {
	p := lampKeeper(60, 30)
	p.nodes[9].Name, p.nodes[11].Name = "Keeper_LeftForeArm", "Keeper_RightForeArm"
	arm := func(size, about float64, frames int) []trackSpec {
		n := float64(frames)
		both := func(node int, share float64) trackSpec {
			return baked(node, gltf.TRSRotation, 30, 0, frames, func(f float64) []float64 {
				return aboutAxis(1, share*(about+wave(f, n, 1, size)))
			})
		}
		return []trackSpec{both(8, 1), both(9, 0.5)}
	}
	p.clips = []clipSpec{{"Small", arm(4, 0, 30)}, {"Large", arm(30, 20, 60)}, {"Held", append(arm(0, 18, 20), p.clips[0].tracks[1])}}
	all, data := importPuppets(t, map[string]puppet{"keeper.glb": p}, []string{"keeper.glb"}, AllOptions{})
	for i, c := range all.Clips {
		requireWithin(t, DefaultWithin(), compare(t, c.Result, data["keeper.glb"], i))
		m := resolve(t, c.Result)
		dial := m.Rig.Channels[m.Rig.DialIndex("arm.left/bend")]
		require.Len(t, dial.Drives, 2)
		assert.InDelta(t, 0.5, dial.Drives[1].Gain/dial.Drives[0].Gain, 0.002)
	}
	assert.Equal(t, 0, keysOf(all, "held", "arm.left/bend"), "it rests where the only clip that holds it does")
}

// Names that make one file's name, and names that make none, are told apart and told of.
func TestNamesOfSeveralClips(t *testing.T) {
	one := func(name string) clipSpec {
		return clipSpec{name, []trackSpec{baked(3, gltf.TRSRotation, 30, 0, 30, func(f float64) []float64 { return aboutAxis(2, wave(f, 30, 1, 9)) })}}
	}
	named := func(names ...string) puppet {
		p := lampKeeper(60, 30)
		p.clips = nil
		for _, name := range names {
			p.clips = append(p.clips, one(name))
		}
		return p
	}
	sheets := func(all *AllResult) (out []string) {
		for _, c := range all.Clips {
			require.NoError(t, c.Err)
			out = append(out, c.SheetName)
		}
		return out
	}
	all, _ := importPuppets(t, map[string]puppet{"keeper.glb": named("Nod", "nod", "", "NOD!", "!!", "keeper-rig")}, []string{"keeper.glb"}, AllOptions{})
	assert.Equal(t, []string{"nod", "nod-2", "clip", "nod-3", "clip-2", "keeper-rig"}, sheets(all))
	assert.Equal(t, "keeper-rig-2.motet", all.Rig.Name, "a sheet has that name")
	assert.Contains(t, all.Clips[1].Report, "other sheets would be called nod too; this one is called nod-2")
	assert.Contains(t, all.Clips[2].Report, `the clip's name "" makes no name of a sheet; the sheet is called clip`)

	// Exporters that call each clip the same: the file's name tells them apart.
	files := map[string]puppet{"nod.glb": named("Take 001"), "Bow.glb": named("Take 001"), "sit.glb": named("Sit down")}
	all, _ = importPuppets(t, files, []string{"nod.glb", "Bow.glb", "sit.glb"}, AllOptions{Name: "folk"})
	assert.Equal(t, []string{"nod", "bow", "sit-down"}, sheets(all))

	all, _ = importPuppets(t, map[string]puppet{"keeper.glb": named("Nod", "Bow low", "Bow")}, []string{"keeper.glb"}, AllOptions{Options: Options{Clip: "bow*"}})
	assert.Equal(t, []string{"bow-low", "bow"}, sheets(all))
	_, err := ImportAll(AllOptions{Paths: []string{"keeper.glb"}, Options: Options{Clip: "dance*", ReadFile: inMemory(map[string][]byte{"keeper.glb": glb(t, named("Nod").document(t))})}})
	assert.EqualError(t, err, "no clip is called \"dance*\"; `motet import --list` names them")
}

// Files of one skeleton go over one rig, in other units, with nodes in another order, and with joints that one of them
// lacks; what is another skeleton is left out and told of.
func TestSeveralFilesOfOneSkeleton(t *testing.T) {
	head := func(size float64) []trackSpec {
		return []trackSpec{baked(3, gltf.TRSRotation, 30, 0, 30, func(f float64) []float64 { return aboutAxis(2, wave(f, 30, 1, size)) })}
	}
	whole := lampKeeper(60, 30)
	// A file in metres: the same places at a hundredth, and no scale at the root.
	metres := lampKeeper(60, 30)
	metres.nodes[0].Scale = gltf.DefaultScale
	for _, n := range metres.nodes[1:] {
		for axis := range n.Translation {
			n.Translation[axis] /= 100
		}
	}
	metres.clips = []clipSpec{{"Nod", head(12)}}
	// One without hands, whose nodes are counted otherwise.
	handless := lampKeeper(60, 30)
	handless.nodes[8].Children, handless.nodes[10].Children = nil, nil
	handless.nodes[9], handless.nodes[10], handless.nodes[2].Children = handless.nodes[10], &gltf.Node{Name: "Lantern", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Matrix: gltf.DefaultMatrix}, []int{9, 3, 8}
	handless.nodes = handless.nodes[:11]
	handless.clips = []clipSpec{{"Shake", head(20)}}
	// Another figure altogether, and one whose head hangs at the hips.
	other := puppet{nodes: []*gltf.Node{{Name: "Buoy", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Matrix: gltf.DefaultMatrix}}, clips: []clipSpec{{"Bob", []trackSpec{baked(0, gltf.TRSRotation, 30, 0, 30, func(f float64) []float64 { return aboutAxis(2, wave(f, 30, 1, 9)) })}}}}
	hung := lampKeeper(60, 30)
	hung.nodes[1].Children, hung.nodes[2].Children = []int{2, 4, 6, 3}, []int{8, 10}
	hung.clips = []clipSpec{{"Hang", head(5)}}

	files := map[string]puppet{"metres.glb": metres, "handless.glb": handless, "whole.glb": whole, "buoy.glb": other, "hung.glb": hung}
	all, data := importPuppets(t, files, []string{"metres.glb", "handless.glb", "whole.glb", "buoy.glb", "hung.glb"}, AllOptions{Name: "Quay Folk"})
	require.Len(t, all.Clips, 5)
	for _, c := range all.Clips[:3] {
		require.NoError(t, c.Err)
		requireWithin(t, DefaultWithin(), compareNamed(t, c.Result, data[c.Path], 0))
	}
	assert.Equal(t, "quay-folk-rig.motet", all.Rig.Name)
	assert.NotContains(t, all.Rig.Text, "scale-xyz", "metres and centimetres are no motion")
	assert.Equal(t, all.Clips[0].Keys, keysOf(all, "nod", "head/turn"), "only the head has keys: the rest of the figure rests as in the others")
	assert.Equal(t, `buoy.glb: clip "Bob": it moves the node "Buoy", which metres.glb, whose joints the rig has, does not have; one rig is for files of one skeleton: import it on its own`, all.Clips[3].Trouble())
	assert.Equal(t, `hung.glb: clip "Hang": it moves the node "Keeper_Head", which hangs at "Keeper_Hips" here and at "Keeper_Spine" in metres.glb; one rig is for files of one skeleton: import it on its own`, all.Clips[4].Trouble())

	// A file that can't be read costs only itself; where nothing is left, that is an error.
	data["bad.glb"] = []byte("no clip")
	o := AllOptions{Paths: []string{"bad.glb", "nowhere.glb", "metres.glb"}, Options: Options{ReadFile: inMemory(data)}}
	all, err := ImportAll(o)
	require.NoError(t, err)
	assert.Len(t, all.Files, 2)
	assert.ErrorContains(t, all.Clips[0].Err, "bad.glb: ")
	assert.Equal(t, "there is no file nowhere.glb", all.Clips[1].Err.Error())
	o.Paths = o.Paths[:2]
	_, err = ImportAll(o)
	assert.ErrorContains(t, err, "nowhere.glb")
}

// Whatever the clips of a file do, each sheet over their rig is within the limits, by the witness.
func TestSeveralRandomClips(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		p := lampKeeper(60, 30)
		p.clips = nil
		for i := range rapid.IntRange(2, 4).Draw(r, "clips") {
			frames := rapid.IntRange(4, 30).Draw(r, "frames")
			n := float64(frames)
			var tracks []trackSpec
			for _, node := range []int{1, 2, 3, 8, 9, 11} {
				size := rapid.SampledFrom([]float64{0, 0, 0.1, 3, 20, 80}).Draw(r, "size")
				about := rapid.SampledFrom([]float64{0, 0, 0, 10, -75, 170}).Draw(r, "about")
				axis := rapid.IntRange(0, 2).Draw(r, "axis")
				if rapid.IntRange(0, 4).Draw(r, "moves") == 0 {
					continue
				}
				tracks = append(tracks, baked(node, gltf.TRSRotation, 30, 0, frames, func(f float64) []float64 {
					return aboutAxis(axis, about+wave(f, n, 1, size))
				}))
				if node == 1 || node == 9 {
					tracks = append(tracks, baked(node, gltf.TRSTranslation, 30, 0, frames, func(f float64) []float64 {
						return []float64{wave(f, n, 2, size/10), about / 10, -96}
					}))
				}
				if node == 2 {
					tracks = append(tracks, baked(node, gltf.TRSScale, 30, 0, frames, func(f float64) []float64 {
						return []float64{1 + size/1000, 1 + wave(f, n, 1, size/2000), 1}
					}))
				}
			}
			if len(tracks) > 0 {
				p.clips = append(p.clips, clipSpec{fmt.Sprintf("Clip %d", i), tracks})
			}
		}
		if len(p.clips) == 0 {
			return
		}
		all, data := importPuppets(t, map[string]puppet{"keeper.glb": p}, []string{"keeper.glb"}, AllOptions{})
		for i, c := range all.Clips {
			if c.Err != nil || c.Outside {
				r.Fatalf("%s: %v, outside %v\n%s", c.Clip, c.Err, c.Outside, strings.Join(c.Report, "\n"))
			}
			off := compare(t, c.Result, data["keeper.glb"], i)
			if within := DefaultWithin(); off.turnDeg > within.TurnDeg || off.worldCM > within.WorldCM {
				r.Fatalf("%s is off by %g° and %g cm\n%s\n%s", c.Clip, off.turnDeg, off.worldCM, c.RigText, c.SheetText)
			}
		}
	})
}

func TestLike(t *testing.T) {
	for pattern, names := range map[string][2][]string{
		"walk":    {{"walk"}, {"walks", "a walk", ""}},
		"walk*":   {{"walk", "walk-2"}, {"a walk"}},
		"*walk":   {{"walk", "a walk"}, {"walks"}},
		"w*l*k":   {{"walk", "wellock"}, {"wk", "walks", "wkl"}},
		"*":       {{"", "x"}, nil},
		"a*a":     {{"aa", "aba"}, {"a"}},
		"ab*ba*b": {{"abbab", "abxbayb"}, {"abab"}},
	} {
		for _, name := range names[0] {
			assert.True(t, like(pattern, name), "%s %s", pattern, name)
		}
		for _, name := range names[1] {
			assert.False(t, like(pattern, name), "%s %s", pattern, name)
		}
	}
}

// One file in two folders of an archive never makes a path that leads out: names of sheets are words.
func TestSheetsStayInTheirFolder(t *testing.T) {
	p := lampKeeper(60, 30)
	p.clips[0].name = "../../up|../x"
	all, _ := importPuppets(t, map[string]puppet{"k.glb": p}, []string{"k.glb"}, AllOptions{Name: "../../rig"})
	for _, f := range all.Files {
		assert.True(t, filepath.IsLocal(f.Name), f.Name)
		assert.NotContains(t, f.Name, "/")
	}
}

// The faces of several clips are dials of one rig: what one clip moves and another holds is the same dial in both.
func TestFacesOfSeveralClips(t *testing.T) {
	doc := smiling(t)
	const frames = 30
	animation := &gltf.Animation{Name: "Pout"}
	var times, values []float32
	for f := range frames + 1 {
		times = append(times, float32(f)/30)
		values = append(values, 0.1, 0, 0, 0, 0, 0.3+float32(wave(float64(f), frames, 1, 0.2)), 0)
	}
	animation.Samplers = []*gltf.AnimationSampler{{Input: modeler.WriteAccessor(doc, gltf.TargetNone, times), Output: modeler.WriteAccessor(doc, gltf.TargetNone, values)}}
	animation.Channels = []*gltf.AnimationChannel{{Target: gltf.AnimationChannelTarget{Node: gltf.Index(12), Path: gltf.TRSWeights}}}
	doc.Animations = append(doc.Animations, animation)

	data := glb(t, doc)
	all, err := ImportAll(AllOptions{Paths: []string{"keeper.glb"}, Options: Options{ReadFile: inMemory(map[string][]byte{"keeper.glb": data})}})
	require.NoError(t, err)
	require.Len(t, all.Clips, 2)
	for i, c := range all.Clips {
		require.NoError(t, c.Err)
		assert.False(t, c.Outside)
		requireWeights(t, resolve(t, c.Result), data, i, 0.5)
	}
	assert.Positive(t, keysOf(all, "pout", "face/pout"))
	assert.Zero(t, keysOf(all, "wait-for-tide", "face/sneer"))
	assert.NotContains(t, strings.Join(all.Clips[1].Report, "\n"), "nothing moves in it")
}
