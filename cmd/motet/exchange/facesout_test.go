package exchange

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// faceRig is a keeper whose face has a dial for each way to write a weight.
const faceRig = `rig keeper

joints
  joint           on              x       y       z       part
  hips            .               0       90      0       root
  head            hips            0       60      0       head    # node 3 "Keeper_Head"

channels
  channel                 joint           drives          gain    unit    range       mirror  positive        rest
  head/nod                .               turn.x          1       deg
  face/smile              .               morph.smile     1       %       0..100      keep    "wider"         10
  face/smile              .               morph.cheek     0.5
  face/grin               .               morph.smile     0.25
  eye.left/blink          .               morph.eyeBlinkLeft 1
  eye.right/blink         .               morph.eyeBlinkRight 1
  face/speak              .               morph.speak     1       # target "Mouth Speak"
  face/teeth              .               morph.bare      1       # target "smile" on node 13 "Teeth"
  face/pout               .               morph.pout      1       %       0..100      keep    "more"          30
  jaw/open                head            turn.x          0.2     deg     0..60       keep    "down"          5
  jaw/open                .               morph.jawOpen   2
`

const faceSheet = `sheet keeper-chat
  rig       keeper in "rig.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

eases
  heavy     0.3,0,0.1,1

track head
  at      nod
  0b      0
  2b      10

track face
  at      smile   grin    teeth   ease
  0b      10      0       0       .
  1b      60^     .       10      heavy
  5/2b    20@8    40      .       .

track eye.left
  at      blink
  0b      0=
  1b      100=
  1b+3f   0=

track eye.right
  at      blink
  0b      0>
  2b      100>
  3b      50>

track jaw
  at      open
  0b      5
  2b      25

quiver lips
  band              0.6..3 Hz
  seed              4
  face/speak        12
`

func faceMotion(t testing.TB, sheet string) *motion.Motion {
	t.Helper()
	return sheetOf(t, map[string]string{"rig.motet": faceRig, "sheet.motet": sheet}, "sheet.motet")
}

// A weighing is a clip in a file that three shall play, and its sheet.
type weighing struct {
	motion *motion.Motion
	file   string
	clip   int
}

// weighedOff holds the weights that three plays (GLTFLoader and AnimationMixer of the npm package) to those of the sheets at
// 100 random times, on all nodes that have a target of the rig, as three names them. It gives the largest error by the
// rig's words, and all weights of targets that the rig does not know.
func weighedOff(t testing.TB, weighings ...weighing) (off map[string]float64, others []float64) {
	t.Helper()
	random := rand.New(rand.NewPCG(3, 9))
	var requests []map[string]any
	var times [][]float64
	for _, w := range weighings {
		var at []float64
		for len(at) < 100 {
			if seconds := random.Float64() * w.motion.Sheet.Length.Float() / w.motion.Sheet.Rate.Float(); !nearJump(w.motion, seconds) {
				at = append(at, seconds)
			}
		}
		times = append(times, at)
		requests = append(requests, map[string]any{"path": w.file, "clip": w.clip, "at": at})
	}
	var played [][][][]float64
	reference.Ask(t, "weights.mjs", requests, &played)
	off = map[string]float64{}
	for n, w := range weighings {
		d := read(t, w.file)
		rig := w.motion.Rig
		places := make([][][2]int, len(rig.Morphs))
		known := map[[2]int][]int{}
		for i := range rig.Morphs {
			var err error
			places[i], err = blendsOf(&rig.Morphs[i].Target, d.blends, d.nodes)
			require.NoError(t, err)
			for _, at := range places[i] {
				known[at] = append(known[at], i)
			}
		}
		for k, seconds := range times[n] {
			weights := rig.Weights(w.motion.Values(seconds*w.motion.Sheet.Rate.Float(), nil), nil)
			for node, all := range played[n][k] {
				for target, got := range all {
					at := [2]int{node, target}
					if known[at] == nil {
						others = append(others, got)
						continue
					}
					want := 0.0
					for _, i := range known[at] {
						want += weights[i]
					}
					for _, i := range known[at] {
						off[rig.Morphs[i].Word] = math.Max(off[rig.Morphs[i].Word], math.Abs(want-got))
					}
				}
			}
		}
	}
	return off, others
}

// A clip that stands alone carries its weights on meshes without a size: the Khronos validator has nothing to say, and
// three plays each as the sheet has it, to a millionth where the sheet is cubic.
func TestWeightsOfAClipAlone(t *testing.T) {
	m := faceMotion(t, faceSheet)
	takes, file := exported(t, TakeWish{}, m)
	_, baked := exported(t, TakeWish{Bake: Rate{24, 1}}, m)
	requireValid(t, file, baked)
	off, others := weighedOff(t, weighing{m, file, 0})
	assert.Empty(t, others)
	for word, exact := range map[string]bool{"smile": false, "cheek": false, "eyeBlinkLeft": true, "eyeBlinkRight": true, "speak": false, "bare": false, "pout": true, "jawOpen": true} {
		limit := 0.1 / 100 // two dials add up on the teeth
		if exact {
			limit = 1e-6
		}
		assert.Contains(t, off, word)
		assert.Less(t, off[word], limit, word)
	}
	assert.LessOrEqual(t, takes[0].Off.WeightPercent, 0.05)
	assert.Equal(t, 7, takes[0].Morphs)
	assert.Contains(t, takes[0].Report(), " on 1 joint and 7 morph targets; off by")
	d := read(t, file)
	require.Len(t, d.Clips[0].weights, 2, "the meshes that share names, and the teeth")
	keys := 0
	for _, tracks := range [][]track{d.Clips[0].tracks, d.Clips[0].weights} {
		for _, track := range tracks {
			keys += len(track.times)
		}
	}
	assert.Equal(t, keys, takes[0].Keys, "the budget counts what is written")
	// The baked clip is the sheet's on its frames.
	requireWeights(t, m, mustRead(t, baked), 0, 1e-4)
}

func mustRead(t testing.TB, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	return data
}

// Every target ends as it begins, to the bit.
func TestExportedWeightsCloseToTheBit(t *testing.T) {
	for _, wish := range []TakeWish{{}, {Bake: Rate{30, 1}}} {
		takes, file := exported(t, wish, faceMotion(t, faceSheet))
		for _, track := range read(t, file).Clips[0].weights {
			last := len(track.times) - 1
			require.Positive(t, last)
			require.InDelta(t, takes[0].Seconds, track.times[last], 1e-6)
			for target := range track.width {
				require.Equal(t, track.weightKey(0, target), track.weightKey(last, target)) //nolint:testifylint // to the bit
			}
		}
	}
}

// faceFile is the lamp keeper with meshes that have all of faceRig's targets, some twice, and some that it does not know.
func faceFile(t testing.TB) *gltf.Document {
	p := lampKeeper(60, 30)
	p.clips = nil
	return withFaces(t, p, []face{
		{name: "Face", on: 3, names: []string{"smile", "cheek", "wink", "eyeBlinkLeft", "eyeBlinkRight", "Mouth Speak", "pout", "jawOpen"}, rest: []float64{0, 0, 0.7, 0, 0, 0, 0.3, 0}},
		{name: "Teeth", on: 3, names: []string{"other", "smile"}},
		{name: "Hat", on: 3, names: []string{"brim"}},
	})
}

// faceKeeper is faceSheet on the lamp keeper's own rig: hips and head by the numbers and names of their nodes.
func faceKeeper(t testing.TB) *motion.Motion {
	t.Helper()
	rig := strings.Replace(faceRig, "root\n", "root    # node 1 \"Keeper_Hips\" scale 1\n", 1)
	return sheetOf(t, map[string]string{"rig.motet": rig, "sheet.motet": faceSheet}, "sheet.motet")
}

// Into the animator's own file the weights go to all meshes that have targets so called, each with all of its targets: those
// that the sheet does not know keep their weight. Everything else stays.
func TestWeightsIntoAFile(t *testing.T) {
	doc := faceFile(t)
	data := glb(t, doc)
	m := faceKeeper(t)
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	into, err := Into("keeper.glb", data, take)
	require.NoError(t, err)
	requireOnlyAdded(t, data, into)
	file := filepath.Join(t.TempDir(), "keeper.glb")
	require.NoError(t, os.WriteFile(file, into, 0o666))
	requireValid(t, file)
	d := read(t, file)
	require.Len(t, d.Clips[0].weights, 2, "face and teeth; the hat is not the sheet's business")
	off, others := weighedOff(t, weighing{m, file, 0})
	for word, worst := range off {
		assert.Less(t, worst, 0.1/100, word) // two dials add up on the teeth
	}
	assert.Less(t, off["eyeBlinkLeft"], 1e-6)
	for _, weight := range others {
		require.Contains(t, []float64{0, 0.7}, math.Round(weight*1e6)/1e6)
	}

	// Put in again it is the same file, and a file without the meshes is refused by name.
	again, err := Into("keeper.glb", into, take)
	require.NoError(t, err)
	assert.Equal(t, into, again)
	_, err = Into("bare.glb", glb(t, lampKeeper(60, 30).document(t)), take)
	require.ErrorContains(t, err, "bare.glb: `face/smile` moves the morph target \"smile\", but no mesh of the file has one so called")
}

// A dial that nothing keys still says where its target rests, where that is not where the file has it.
func TestRestingWeightsAreHeld(t *testing.T) {
	m := sheetOf(t, map[string]string{"rig.motet": strings.Replace(faceRig, "root\n", "root    # node 1 \"Keeper_Hips\" scale 1\n", 1), "sheet.motet": "sheet keeper-nods\n  rig       keeper in \"rig.motet\"\n  cycle     2s\n\ntrack head\n  at      nod\n  0       0\n  1s      10\n"}, "sheet.motet")
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	assert.Zero(t, take.Morphs)
	into, err := Into("keeper.glb", glb(t, faceFile(t)), take)
	require.NoError(t, err)
	d, err := Read("keeper.glb", inMemory(map[string][]byte{"keeper.glb": into}))
	require.NoError(t, err)
	held := d.Clips[0].weights
	require.Len(t, held, 2, "the face has its smile at 0, and the rig at 10; so have the teeth")
	assert.InDeltaSlice(t, []float64{0.1, 0.05, 0.7, 0, 0, 0, 0.3, 0}, held[0].values, 1e-6)
	assert.InDeltaSlice(t, []float64{0, 0.1}, held[1].values, 1e-6)
	alone, err := WriteGLB([]*Take{take})
	require.NoError(t, err)
	assert.NotContains(t, string(alone), "targetNames", "nothing moves, so nothing stands in")
}

// In, out and in again: the sheet that the clip carries comes back as it was, and fitted anew it is the same motion.
func TestFacesThereAndBack(t *testing.T) {
	first, _ := importFile(t, smiling(t), Options{})
	m := resolve(t, first)
	_, file := exported(t, TakeWish{}, m)
	requireValid(t, file)
	again, err := Import(Options{Path: file, ReadFile: os.ReadFile})
	require.NoError(t, err)
	assert.Equal(t, first.SheetText, again.SheetText)
	assert.Equal(t, first.RigText, again.RigText)

	anew, err := Import(Options{Path: file, ReadFile: os.ReadFile, Anew: true})
	require.NoError(t, err)
	words := func(m *motion.Motion) (out []string) {
		for i := range m.Rig.Morphs {
			out = append(out, m.Rig.Morphs[i].Word)
		}
		return out
	}
	second := resolve(t, anew)
	assert.Subset(t, words(m), words(second))
	assert.Len(t, words(m), len(words(second))+1, "what stays where the clip's own meshes have it needs no dial")
	for _, c := range anew.Channels {
		before := m.Channel(c.Path)
		switch c.Path { // the clip alone knows less of the meshes
		case "face/beard-smile":
			before = m.Channel("mouth/smile") // which were two
		case "brow/up-left":
			before = m.Channel("brow.left/up") // which had a right one, too
		}
		require.NotNil(t, before, c.Path)
		if c.Unit != "%" {
			continue
		}
		for frame := range 60 { // of the first sheet; the keys of the clip say nothing about its rate
			at := float64(frame) / m.Sheet.Rate.Float() * second.Sheet.Rate.Float()
			require.InDelta(t, before.At(float64(frame)), second.Channel(c.Path).At(at), 0.6, "%s at %d", c.Path, frame)
		}
	}
}

// The places for other tools carry the weights too, those of a clip with one moment's more.
func TestPlacesCarryWeights(t *testing.T) {
	m := faceMotion(t, faceSheet)
	data, err := WritePlaces(m)
	require.NoError(t, err)
	var got struct {
		Morphs []string
		Frames []struct {
			Frame   float64
			Places  [][3]float64
			Weights []float64
		}
	}
	require.NoError(t, json.Unmarshal(data, &got))
	assert.Equal(t, []string{"smile", "cheek", "eyeBlinkLeft", "eyeBlinkRight", "Mouth Speak", "smile", "pout", "jawOpen"}, got.Morphs)
	require.Len(t, got.Frames, 73)
	for _, frame := range got.Frames[:72] {
		assert.InDeltaSlice(t, m.Rig.Weights(m.Values(frame.Frame, nil), nil), frame.Weights, 1e-5)
	}
	for _, m := range cast(t) {
		if len(m.Rig.Morphs) == 0 {
			bare, err := WritePlaces(m)
			require.NoError(t, err)
			assert.NotContains(t, string(bare), "morphs")
			assert.NotContains(t, string(bare), "weights")
			break
		}
	}
}

// Curves of any kinds on common keys stay the curves that they are.
func TestInterleavedCurvesStayTheSame(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		lanes := make([]lane, rapid.IntRange(1, 4).Draw(r, "lanes"))
		end := 0.0
		for k := range lanes {
			lanes[k].rest = rapid.Float64Range(-1, 1).Draw(r, "rest")
			for range rapid.IntRange(0, 2).Draw(r, "tracks") {
				one := &track{kind: rapid.SampledFrom([]gltf.Interpolation{gltf.InterpolationLinear, gltf.InterpolationStep, gltf.InterpolationCubicSpline}).Draw(r, "kind"), width: 1}
				at := 0.0
				for range rapid.IntRange(1, 6).Draw(r, "keys") {
					one.times = append(one.times, float64(float32(at)))
					at += rapid.Float64Range(0.01, 0.7).Draw(r, "gap")
					parts := 1
					if one.kind == gltf.InterpolationCubicSpline {
						parts = 3
					}
					for range parts {
						one.values = append(one.values, rapid.Float64Range(-1, 1).Draw(r, "value"))
					}
				}
				end = max(end, one.times[len(one.times)-1])
				lanes[k].tracks = append(lanes[k].tracks, one)
			}
		}
		all := interleave(lanes)
		for range 20 {
			seconds := rapid.Float64Range(-0.1, end+0.1).Draw(r, "seconds")
			for k, l := range lanes {
				want := l.rest
				for _, one := range l.tracks {
					want += one.weight(0, seconds)
				}
				near := slices.ContainsFunc(all.times, func(at float64) bool { return math.Abs(at-seconds) < 1e-6 })
				if got := all.weight(k, seconds); !near && math.Abs(got-want) > 1e-9 {
					r.Fatalf("lane %d is %g and not %g at %g s", k, got, want, seconds)
				}
			}
		}
	})
}
