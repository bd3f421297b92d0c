package exchange

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// quay is the folder of the demo cast.
const quay = "../../../testdata/quay"

// sheetOf resolves a sheet of some files, by their names.
func sheetOf(t testing.TB, texts map[string]string, name string) *motion.Motion {
	t.Helper()
	trees := func(path string) (*grammar.File, error) {
		text, ok := texts[path]
		if !ok {
			return nil, fmt.Errorf("there is no such file")
		}
		return grammar.Parse(path, text), nil
	}
	file, err := trees(name)
	require.NoError(t, err)
	m := motion.NewProject(trees).Resolve(file)
	for _, problem := range m.Problems {
		require.Equal(t, "lost-channel", problem.Rule, problem.Message) // the apprentice's sheet allows that one
	}
	require.Empty(t, m.Rig.Problems)
	return m
}

// cast resolves every sheet of the demo.
func cast(t testing.TB) map[string]*motion.Motion {
	t.Helper()
	texts := map[string]string{}
	require.NoError(t, filepath.WalkDir(quay, func(full string, entry os.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(full, ".motet") {
			var text []byte
			text, err = os.ReadFile(full)
			name, _ := filepath.Rel(quay, full)
			texts[filepath.ToSlash(name)] = string(text)
		}
		return err
	}))
	out := map[string]*motion.Motion{}
	for name, text := range texts {
		if grammar.Parse(name, text).First(grammar.SheetBlock) != nil {
			out[strings.TrimSuffix(path.Base(name), ".motet")] = sheetOf(t, texts, name)
		}
	}
	require.NotEmpty(t, out)
	return out
}

// exported writes a sheet's take to a file.
func exported(t testing.TB, wish TakeWish, motions ...*motion.Motion) (takes []*Take, file string) {
	t.Helper()
	for _, m := range motions {
		take, err := NewTake(m, wish)
		require.NoError(t, err)
		takes = append(takes, take)
	}
	data, err := WriteGLB(takes)
	require.NoError(t, err)
	file = filepath.Join(t.TempDir(), "clip.glb")
	require.NoError(t, os.WriteFile(file, data, 0o666))
	return takes, file
}

// A validation is one thing that the Khronos glTF validator (npm gltf-validator) says of a file.
type validation struct {
	Severity               int
	Code, Message, Pointer string
}

// requireValid holds files to the validator: no error and no warning.
func requireValid(t testing.TB, files ...string) {
	t.Helper()
	var reports [][]validation
	reference.Ask(t, "validate.mjs", map[string]any{"paths": files}, &reports)
	require.Len(t, reports, len(files))
	for i, report := range reports {
		for _, said := range report {
			assert.Greater(t, said.Severity, 1, "%s: %s %s at %s", filepath.Base(files[i]), said.Code, said.Message, said.Pointer)
		}
	}
}

// A playing is a take in a file that three shall play.
type playing struct {
	take *Take
	file string
	clip int
	node func(joint int) int
}

// playedOff is how far three (GLTFLoader and AnimationMixer of the npm package) puts the joints from where the sheets
// have them, in metres, and how far it turns those apart whose track is exact, in radians, at 100 random times.
func playedOff(t testing.TB, playings ...playing) (placeM, exactTurn []float64) {
	t.Helper()
	random := rand.New(rand.NewPCG(7, 1))
	var requests []map[string]any
	var times [][]float64
	for _, p := range playings {
		var at []float64
		for len(at) < 100 {
			if seconds := random.Float64() * p.take.Seconds; !nearJump(p.take.Motion, seconds) {
				at = append(at, seconds)
			}
		}
		times = append(times, at)
		requests = append(requests, map[string]any{"path": p.file, "clip": p.clip, "at": at})
	}
	var played [][][][7]float64
	reference.Ask(t, "clip.mjs", requests, &played)
	for n, p := range playings {
		place, turn := p.off(times[n], played[n])
		placeM, exactTurn = append(placeM, place), append(exactTurn, turn)
	}
	return placeM, exactTurn
}

func (p *playing) off(at []float64, played [][][7]float64) (placeM, exactTurn float64) {
	m := p.take.Motion
	exact := map[int]bool{}
	for i := range p.take.tracks {
		if p.take.tracks[i].property == turns && p.take.tracks[i].exact {
			exact[p.take.tracks[i].node] = true
		}
	}
	for k, seconds := range at {
		frames := seconds * m.Sheet.Rate.Float()
		world := m.World(frames)
		poses := m.Rig.Pose(m.Values(frames, nil), nil)
		for i := range m.Rig.Joints {
			there := played[k][p.node(i)]
			place := world[i].Position()
			placeM = math.Max(placeM, vec3(place).times(0.01).to(vec3{there[0], there[1], there[2]}))
			if exact[i] {
				turn := orderOf(&m.Rig.Joints[i]).quat(vec3(poses[i].Turn))
				exactTurn = math.Max(exactTurn, turns.apart(turn, quat{there[3], there[4], there[5], there[6]}.normal()))
			}
		}
	}
	return placeM, exactTurn
}

// nearJump tells whether the sheet jumps about then: 32 bits may tell the two sides apart otherwise than 64.
func nearJump(m *motion.Motion, seconds float64) bool {
	for i := range m.Channels {
		for _, t := range m.Corners(i).Times {
			if m.Corners(i).Steps && math.Abs(t-seconds*m.Sheet.Rate.Float()) < 1e-3 {
				return true
			}
		}
	}
	return false
}

func same(joint int) int { return joint }

// The whole demo cast, and the same baked, passes the Khronos validator, and three plays it as the sheets have it: every
// joint within 1e-4 m of its place, and within 1e-6 of its turn where the track is the sheet's own cubic.
func TestExportsPlayAsTheirSheets(t *testing.T) {
	long(t)
	var files []string
	var playings []playing
	for _, m := range cast(t) {
		takes, file := exported(t, TakeWish{}, m)
		playings = append(playings, playing{takes[0], file, 0, same})
		_, baked := exported(t, TakeWish{Bake: Rate{30, 1}}, m)
		files = append(files, file, baked)
	}
	requireValid(t, files...)
	place, turn := playedOff(t, playings...)
	for i, p := range playings {
		assert.Less(t, place[i], 1e-4, p.take.Name)
		// three keeps quaternions in 32 bits, of which the last is 6e-8.
		assert.Less(t, turn[i], 1e-6, p.take.Name)
		t.Logf("%s: %d keys, %d of them exact: off %.2g m, %.2g rad", p.take.Name, p.take.Keys, p.take.Exact, place[i], turn[i])
	}
}

// read gives a written file back as the importer reads it.
func read(t testing.TB, file string) *Document {
	t.Helper()
	d, err := Read(file, os.ReadFile)
	require.NoError(t, err)
	return d
}

// Every track of a cycle ends as it begins, to the bit, at the cycle's end.
func TestExportedLoopsCloseToTheBit(t *testing.T) {
	long(t)
	for name, m := range cast(t) {
		for _, wish := range []TakeWish{{}, {Bake: Rate{30, 1}}} {
			takes, file := exported(t, wish, m)
			if !m.Sheet.Closed {
				continue
			}
			for _, track := range read(t, file).Clips[0].tracks {
				last := len(track.times) - 1
				if last == 0 {
					continue
				}
				require.Equal(t, track.key0(0), track.key0(last), "%s: %s of node %d", name, track.property, track.node)
				require.InDelta(t, takes[0].Seconds, track.times[last], 1e-6)
				require.Zero(t, track.times[0])
			}
		}
	}
}

// kindsRig has one joint for each way to write a track.
const kindsRig = `rig kinds

joints
  joint           on              x       y       z       rx      ry      rz
  hips            .               0       90      0
  chest           hips            0       30      0       10      20      30
  head            chest           0       25      0
  lamp            head            0       10      5
  hand            chest           20      0       0

channels
  channel                 joint           drives          gain    unit
  hips/side               .               move.x          1       cm
  hips/lift               .               move.y          1       cm
  chest/lean              .               turn.x          1       deg
  chest/swell             .               scale.xz        1       %
  head/nod                .               turn.x          1       deg
  head/turn               .               turn.y          1       deg
  lamp/flick              .               move.y          1       cm
  hand/spin               .               turn.z          1       deg
`

// One sheet holds each kind of track. The counts of keys follow from the rows: an exact track has one key a row and the
// closing one.
func TestKindsOfTracks(t *testing.T) {
	m := sheetOf(t, map[string]string{"kinds.motet": kindsRig, "sheet.motet": `sheet kinds
  rig       kinds in "kinds.motet"
  rate      25 fps
  cycle     50f

track hips
  at      side    lift
  0f      2       .
  10f     .       1
  25f     -2      .
  40f     .       -1

track chest
  at      lean    swell
  0f      -0.2    100
  20f     0.2     104

track head
  at      nod     turn
  0f      0       10
  20f     20      -10

track lamp
  at      flick
  0f      0=
  20f     3=
  30f     1=

track hand
  at      spin
  0f      0
  25f     150
`}, "sheet.motet")
	takes, file := exported(t, TakeWish{}, m)
	type seen struct {
		kind gltf.Interpolation
		keys int
	}
	got := map[string]seen{}
	for _, track := range takes[0].tracks {
		got[m.Rig.Joints[track.node].Name+" "+track.property.String()] = seen{track.kind, len(track.times)}
	}
	assert.Equal(t, seen{gltf.InterpolationCubicSpline, 5}, got["hips translation"], "a key a row of either channel, and the closing one")
	assert.Equal(t, seen{gltf.InterpolationCubicSpline, 3}, got["chest scale"])
	assert.Equal(t, seen{gltf.InterpolationCubicSpline, 3}, got["chest rotation"], "so small a turn is cubic in its quaternion too")
	assert.Equal(t, seen{gltf.InterpolationStep, 4}, got["lamp translation"])
	assert.Equal(t, gltf.InterpolationCubicSpline, got["hand rotation"].kind)
	assert.Greater(t, got["hand rotation"].keys, 3, "half a turn in one segment is no cubic of a quaternion")
	assert.Greater(t, got["head rotation"].keys, 3, "two axes at once are fitted")
	assert.LessOrEqual(t, takes[0].Off.WorldCM, ExportWithin().WorldCM)
	place, turn := playedOff(t, playing{takes[0], file, 0, same})
	assert.Less(t, place[0], 1e-4)
	assert.Less(t, turn[0], 1e-6)
	requireValid(t, file)
}

// An arm hangs on a chest that swells unevenly, and its hand is planted: what a chain turns under such a scale would
// shear, which no node can. The joints stand where the sheet has them all the same, even as the arm becomes straight,
// which it does within a frame.
func TestUnevenBreathIsMadeUpForBelow(t *testing.T) {
	m := sheetOf(t, map[string]string{"rig.motet": `rig swelling

joints
  joint           on              x       y       z
  chest           .               0       120     0
  arm             chest           15      10      0
  forearm         arm             3       -28     0
  hand            forearm         3       -25     4
  finger          hand            0       -8      2

chains
  goal            root            middle          end             bends
  grip            arm             forearm         hand            -z

channels
  channel                 joint           drives          gain    unit
  chest/swell             .               scale.xz        1       %
  chest/sway              .               turn.z          1       deg
  hand/tip                .               turn.x          1       deg
  finger/curl             .               turn.x          1       deg
`, "sheet.motet": `sheet holds-on
  rig       swelling in "rig.motet"
  rate      24 fps
  cycle     48f

track chest
  at      sway
  0f      -8
  24f     8

track finger
  at      curl
  0f      10
  24f     30

breath deep
  count             1
  chest/swell       20

plant
  grip          0f..48f
`}, "sheet.motet")
	takes, file := exported(t, TakeWish{}, m)
	written := map[string]bool{}
	for _, track := range takes[0].tracks {
		written[m.Rig.Joints[track.node].Name+" "+track.property.String()] = true
	}
	assert.True(t, written["forearm translation"], "its place under a sheared arm moves")
	place, _ := playedOff(t, playing{takes[0], file, 0, same})
	assert.Less(t, place[0], 1e-4)
	requireValid(t, file)
}
