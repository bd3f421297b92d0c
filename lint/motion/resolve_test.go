package motion

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// inMemory gives the trees of some files, each parsed once.
func inMemory(files map[string]string) Trees {
	parsed := map[string]*grammar.File{}
	return func(path string) (*grammar.File, error) {
		text, ok := files[path]
		if !ok {
			return nil, fmt.Errorf("there is no such file")
		}
		if parsed[path] == nil {
			parsed[path] = grammar.Parse(path, text)
		}
		return parsed[path], nil
	}
}

// resolved gives the motion of the file sheet.motet, and its problems by rule.
func resolved(t *testing.T, files map[string]string) *Motion {
	t.Helper()
	trees := inMemory(files)
	file, err := trees("sheet.motet")
	require.NoError(t, err)
	return NewProject(trees).Resolve(file)
}

const smallRig = `rig pair
  height 100

joints
  joint  on    x  y   z
  hips   .     0  50  0
  spine  hips  0  50  0

channels
  channel     joint  drives  gain  unit  range    mirror  positive
  hips/side   .      move.x  1     cm    -9..9    flip    "left"
  hips/drop   .      move.y  1     cm    -9..9    keep    "up"
  spine/lean  .      turn.z  1     deg   -90..90  flip    "left"
`

func sheet(body string) map[string]string {
	return map[string]string{"rig.motet": smallRig, "sheet.motet": "sheet s\n  rig pair in \"rig.motet\"\n  tempo 80 bpm\n" + body}
}

func TestFramesABeatAreExact(t *testing.T) {
	// Frames a beat at 24 fps are 1440 ÷ bpm: film click-track arithmetic, common practice.
	for bpm, frames := range map[int]int64{60: 24, 72: 20, 80: 18, 90: 16, 96: 15, 120: 12, 144: 10, 160: 9, 180: 8} {
		m := resolved(t, map[string]string{"rig.motet": smallRig, "sheet.motet": fmt.Sprintf("sheet s\n  rig pair in \"rig.motet\"\n  tempo %d bpm\n  cycle 4b\n", bpm)})
		assert.Equal(t, grammar.Whole(frames), m.Sheet.Beat, "at %d bpm", bpm)
		assert.Equal(t, grammar.Whole(4*frames), m.Sheet.Length)
	}
	// 12¼ frames a beat is 117.55 bpm (the same handbook arithmetic, rounded); the beat itself is exact.
	m := resolved(t, map[string]string{"rig.motet": smallRig, "sheet.motet": "sheet s\n  rig pair in \"rig.motet\"\n  tempo 117.55 bpm\n  cycle 4b\n"})
	assert.InDelta(t, 12.25, m.Sheet.Beat.Float(), 0.001)
}

func TestTelevisionRatesAreExact(t *testing.T) {
	// 23.976 is 24000/1001, 29.97 is 30000/1001 (SMPTE ST 12-1; from memory). In ten minutes drop-frame timecode at
	// 29.97 counts 17 982 frames: that is 600 s to within one frame.
	m := resolved(t, map[string]string{"rig.motet": smallRig, "sheet.motet": "sheet s\n  rig pair in \"rig.motet\"\n  rate 29.97 fps\n  cycle 600s\n"})
	assert.Equal(t, grammar.NewRat(30000, 1001), m.Sheet.Rate)
	assert.Equal(t, int64(17982), m.Sheet.Length.Floor())
}

func TestBlockingHoldsDriftOnFromThePoseBefore(t *testing.T) {
	m := resolved(t, sheet(`  cycle 4b

pose left
  hips/side  4

pose right mirrors left

blocking
  at  pose   until  drift
  0b  left   1b     25%
  2b  right
`))
	require.Empty(t, m.Problems)
	side := m.Channel("hips/side")
	// From -4 to 4 is 8 cm, and a drift of 25 % goes on by 2.
	assert.InDelta(t, 4, side.At(0), 1e-12)
	assert.InDelta(t, 6, side.At(18), 1e-12)
	assert.InDelta(t, -4, side.At(36), 1e-12)
	assert.InDelta(t, 4, side.At(72), 1e-12)
}

func TestATrackBeatsTheBlockingAtItsMoment(t *testing.T) {
	m := resolved(t, sheet(`  cycle 4b

pose left
  hips/side  4
  hips/drop  1

blocking
  at  pose
  0b  left
  2b  left

track hips
  at   side
  36f  -3
`))
	require.Empty(t, m.Problems)
	assert.InDelta(t, -3, m.Channel("hips/side").At(36), 1e-12)
	assert.InDelta(t, 1, m.Channel("hips/drop").At(36), 1e-12)
}

func TestOverlapPlaysLateRoundTheSeam(t *testing.T) {
	m := resolved(t, sheet(`  cycle 4b

track hips
  at  side
  0b  0
  2b  6

track spine
  at  lean
  0b  0
  2b  6

overlap
  s*  3f
`))
	require.Empty(t, m.Problems)
	for frame := -10.0; frame < 80; frame += 1.5 {
		assert.InDelta(t, m.Channel("hips/side").At(frame), m.Channel("spine/lean").At(frame+3), 1e-12)
	}
}

func TestLayersAddAndReplace(t *testing.T) {
	m := resolved(t, sheet(`  cycle 4b

track hips
  at  side
  0b  2

track hips in over
  at  side
  0b  1

layer over
  strength  50%

layer instead
  replaces
  strength  25%

track hips in instead
  at  side
  0b  6.5
`))
	require.Empty(t, m.Problems)
	// 2 + half of 1 is 2.5; a quarter of the way from there to 6.5 is 3.5.
	assert.InDelta(t, 3.5, m.Channel("hips/side").At(10), 1e-12)
}

func TestEveryRepeatsExactly(t *testing.T) {
	m := resolved(t, sheet(`  cycle 4b

track hips every 1b
  at    side
  0b    0
  1/2b  3
`))
	require.Empty(t, m.Problems)
	for frame := 0.0; frame < 18; frame++ {
		for round := 1.0; round < 4; round++ {
			assert.Equal(t, m.Channel("hips/side").At(frame), m.Channel("hips/side").At(frame+18*round))
		}
	}
}

func TestProblemsNameThePlaceAndTheWayOut(t *testing.T) {
	for name, c := range map[string]struct{ body, rule, at, message string }{
		"unknown control": {"  cycle 4b\n\ntrack hps\n  at side\n  0b 1\n", "unknown-name", "hps", "the rig `pair` has no control `hps`; did you mean `hips`?"},
		"unknown channel": {"  cycle 4b\n\ntrack hips\n  at sied\n  0b 1\n", "unknown-name", "sied", "the control `hips` has no channel `sied`; did you mean `side`?"},
		"unknown pose":    {"  cycle 4b\n\nblocking\n  at pose\n  0b lft\n", "unknown-name", "lft", "there is no pose `lft`"},
		"past the end":    {"  cycle 4b\n\ntrack hips\n  at side\n  5b 1\n", "outside-cycle", "5b", "the key is 1b (0.75 s) behind the end of the cycle, which is 4b"},
		"same moment":     {"  cycle 4b\n\ntrack hips\n  at side\n  1b 1\n  18f 2\n", "same-time", "2", "the channel already has a key at this exact time, frame 18; keep one of the two"},
		"no length":       {"", "missing-line", "sheet s", "the sheet has no length; add `cycle 4b` for a loop, or `span 48f` for a motion that plays once"},
		"ring of poses":   {"  cycle 4b\n\npose a from b\n\npose b from a\n", "ring", "a", "the pose is made from itself: a → b → a; let one of them stand alone"},
		"period":          {"  cycle 4b\n\ntrack hips every 3b\n  at side\n  0b 1\n", "part-cycle", "3b", "a period of 3b fits the length of 72 frames 4/3 times; it must fit a whole number of times"},
		"second track":    {"  cycle 4b\n\ntrack hips\n  at side\n  0b 1\n\ntrack hips\n  at side\n  0b 1\n", "repeated-name", "hips", "the control `hips` already has a track; put both in one"},
	} {
		t.Run(name, func(t *testing.T) {
			m := resolved(t, sheet(c.body))
			require.Len(t, m.Problems, 1)
			assert.Equal(t, []string{c.rule, c.at, c.message}, []string{m.Problems[0].Rule, m.Problems[0].At.Text(), m.Problems[0].Message})
		})
	}
}

func TestFilesStayInsideTheProject(t *testing.T) {
	for name, want := range map[string]string{
		"../rig.motet":   "the file name `../rig.motet` leads out of the project, which is the nearest folder above the sheet with a .git, or else the outermost with a house.motet; move the file inside, or let the project begin higher up, by a house.motet there, which may be empty",
		"/etc/rig.motet": "the file name `/etc/rig.motet` is absolute; name the file from the folder of this sheet, so that the project can be moved",
		"gone.motet":     "the file `gone.motet` cannot be read: there is no such file; names of files count from the folder of the sheet that names them",
	} {
		m := resolved(t, map[string]string{"sheet.motet": "sheet s\n  rig pair in \"" + name + "\"\n  cycle 4b\n"})
		require.Len(t, m.Problems, 1)
		assert.Equal(t, want, m.Problems[0].Message)
	}
}

func TestNamesThatAreProbablyMeantAreOffered(t *testing.T) {
	files := sheet("  cycle 4b\n\ntrack hips\n  at side\n  0b 3\n")
	trees := inMemory(files)
	list := func(string) []string { return slices.Sorted(maps.Keys(files)) }
	for text, want := range map[string]string{
		"sheet v\n  from s in \"shet.motet\"\n":                                 "the file `shet.motet` cannot be read: there is no such file; did you mean `sheet.motet`?",
		"sheet v\n  from somebody in \"sheet.motet\"\n":                         "there is no sheet `somebody` in that file; did you mean `s`?",
		"sheet v\n  from s in \"sheet.motet\"\n\nchange\n  offset hi*/sied 3\n": "no channel of the rig `pair` fits `hi*/sied`; did you mean `hi*/side`?",
	} {
		m := NewProject(trees).WithListing(list).Resolve(grammar.Parse("v.motet", text))
		require.Len(t, m.Problems, 1)
		assert.Equal(t, want, m.Problems[0].Message)
		assert.Len(t, m.Problems[0].Mends, 1)
	}
}

func TestJointsStandWhereTheirChannelsPutThem(t *testing.T) {
	m := resolved(t, sheet("  cycle 4b\n\ntrack hips\n  at side\n  0b 3\n\ntrack spine\n  at lean\n  0b 90\n"))
	require.Empty(t, m.Problems)
	world := m.World(0)
	assert.Equal(t, [3]float64{3, 50, 0}, world[0].Position())
	assert.Equal(t, [3]float64{3, 100, 0}, world[1].Position())
	// The right-hand rule: a quarter turn about z takes +x to +y, and so +y to -x.
	assert.Equal(t, [3]float64{3 - 7, 100, 0}, world[1].Apply([3]float64{0, 7, 0}))
}
