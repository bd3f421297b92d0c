package motion

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
)

const baseSheet = `sheet base
  rig    figure in "rig.motet"
  tempo  80 bpm
  cycle  4b

pose on-left
  hips/side   3
  hips/drop   -4
  spine/lean  -2

pose on-right mirrors on-left
  hips/drop   -5

blocking
  at    pose      until  drift
  0b    on-left   1b     10%
  5/2b  on-right

track head
  at   tilt
  0b   2
  1b   5^
  3b   -3@2

track wrist.left
  at  turn
  0b  4
  2b  -4

overlap
  head  3f

follow wrist.* after spine
  spring  arrives 5f overshoot 15%
  turn    0.5 of lean

layer fine
  strength  50%

quiver hands in fine
  band          0.6..2.5 Hz
  seed          7
  wrist.*/turn  1.5

breath calm
  hips/drop  0.5

plant
  foot.left   0b..4b
  foot.right  0b..4b
`

// variant resolves a sheet made from baseSheet.
func variant(t require.TestingT, header, body string) (m, base *Motion) {
	files := map[string]string{
		"rig.motet": limbRig, "base.motet": baseSheet,
		"sheet.motet": "sheet v\n  from  base in \"base.motet\"\n" + header + "\n" + body,
	}
	trees := inMemory(files)
	project := NewProject(trees)
	own, err := trees("sheet.motet")
	require.NoError(t, err)
	m = project.Resolve(own)
	require.NotNil(t, m.Base)
	require.Empty(t, m.Base.Problems)
	return m, m.Base
}

// A glance that runs over two rounds of its base keeps the base's holds: the first pose, too, drifts on from the last.
func TestASpanOverSeveralRoundsDriftsAsItsBaseDoes(t *testing.T) {
	m, base := variant(t, "  span  8b", "")
	require.Empty(t, m.Problems)
	for _, path := range []string{"hips/side", "spine/lean"} {
		for at := 0.0; at < m.Sheet.Length.Float(); at++ {
			assert.InDelta(t, base.Channel(path).At(at), m.Channel(path).At(at), 1e-12, "%s at %g", path, at)
		}
	}
}

// sameMotion asks for equal values of every channel at many times; at maps a time of m to one of other.
func sameMotion(t require.TestingT, m, other *Motion, at func(float64) float64) {
	length := m.Sheet.Length.Float()
	for i := range m.Channels {
		for k := range 97 {
			frame := length * float64(k) / 96
			require.InDelta(t, other.Channels[i].At(at(frame)), m.Channels[i].At(frame), 1e-8, "%s at %g", m.Channels[i].Dial.Path, frame)
		}
	}
}

func itself(t float64) float64 { return t }

func TestAVariantThatSaysNothingIsItsBase(t *testing.T) {
	m, base := variant(t, "", "")
	require.Empty(t, m.Problems)
	sameMotion(t, m, base, itself)
	for frame := 0.0; frame < 72; frame += 5 {
		assert.Equal(t, base.World(frame), m.World(frame))
	}
}

func TestBeatsStayBeatsWhenTheTempoChanges(t *testing.T) {
	m, base := variant(t, "  tempo  60 bpm\n", "change\n  without  follow *\n  without  quiver hands\n  delay    head -3f\n")
	require.Empty(t, m.Problems)
	require.Equal(t, "96", m.Sheet.Length.String())
	plain, _ := variant(t, "", "change\n  without  follow *\n  without  quiver hands\n  delay    head -3f\n")
	sameMotion(t, m, plain, func(frame float64) float64 { return frame * 72 / 96 })
	_ = base
}

func TestFramesStayAsLongAtAnotherRate(t *testing.T) {
	m, base := variant(t, "  rate  48 fps\n", "")
	require.Empty(t, m.Problems)
	require.Equal(t, "144", m.Sheet.Length.String())
	sameMotion(t, m, base, func(frame float64) float64 { return frame / 2 })
}

func TestALongerCycleRepeatsTheBase(t *testing.T) {
	m, base := variant(t, "  cycle  8b\n", "track head in glance\n  at     tilt\n  5b     0^\n  11/2b  14^\n  7b     0^\n")
	require.Empty(t, m.Problems)
	for _, path := range []string{"hips/side", "hips/drop", "spine/lean"} {
		for frame := 0.0; frame < 144; frame += 1.5 {
			assert.InDelta(t, base.Channel(path).At(frame), m.Channel(path).At(frame), 1e-9)
		}
	}
	tilt, was := m.Channel("head/tilt"), base.Channel("head/tilt")
	assert.InDelta(t, was.At(99)+14, tilt.At(99), 1e-9)
	assert.InDelta(t, was.At(30), tilt.At(30), 1e-9)
	_, problem := problemOf(variant(t, "  cycle  6b\n", ""))
	assert.Equal(t, "part-cycle", problem)
}

func problemOf(m, _ *Motion) (message, rule string) {
	if len(m.Problems) == 0 {
		return "", ""
	}
	return m.Problems[0].Message, m.Problems[0].Rule
}

func TestChangesActOnInheritedMaterial(t *testing.T) {
	side := func(m *Motion) *Channel { return m.Channel("hips/side") }
	base := func() *Motion { _, b := variant(t, "", ""); return b }()
	mean := side(base).Base.Curve.Mean()
	for name, c := range map[string]struct {
		body string
		want func(frame float64) float64
	}{
		"amplify": {"change\n  amplify  hips/side 60%\n", func(f float64) float64 { return mean + 0.6*(side(base).At(f)-mean) }},
		"scale":   {"change\n  scale  hips/side 60%\n", func(f float64) float64 { return 0.6 * side(base).At(f) }},
		"offset":  {"change\n  offset  hips/side 4\n", func(f float64) float64 { return side(base).At(f) + 4 }},
		"both":    {"change\n  offset  hips/side 4\n  scale  hips 50%\n", func(f float64) float64 { return 0.5 * (side(base).At(f) + 4) }},
		"delay":   {"change\n  delay  hips 5f\n", func(f float64) float64 { return side(base).At(f - 5) }},
		"start":   {"change\n  start  1b\n", func(f float64) float64 { return side(base).At(f + 18) }},
		"reverse": {"change\n  reverse\n", func(f float64) float64 { return side(base).At(-f) }},
		"mirror":  {"change\n  mirror\n", func(f float64) float64 { return -side(base).At(f) }},
		"without": {"change\n  without  blocking\n", func(float64) float64 { return 0 }},
	} {
		t.Run(name, func(t *testing.T) {
			m, _ := variant(t, "", c.body)
			require.Empty(t, m.Problems)
			for frame := 0.0; frame < 72; frame += 1.25 {
				require.InDelta(t, c.want(frame), side(m).At(frame), 1e-9, "at %g", frame)
			}
		})
	}
}

func TestSwapPutsOnePoseWhereAnotherStood(t *testing.T) {
	m, _ := variant(t, "", "change\n  swap  on-left slouch\n\npose slouch from on-left\n  hips/side  9\n")
	require.Empty(t, m.Problems)
	assert.InDelta(t, 9, m.Channel("hips/side").At(0), 1e-9)
	assert.InDelta(t, -3, m.Channel("hips/side").At(45), 1e-9)
}

func TestOwnPosesStandInForTheBases(t *testing.T) {
	m, _ := variant(t, "", "pose on-left\n  hips/side  7\n")
	require.Empty(t, m.Problems)
	assert.InDelta(t, 7, m.Channel("hips/side").At(0), 1e-9)
	assert.InDelta(t, 0, m.Channel("spine/lean").At(0), 1e-9, "the pose no longer names it, so it is at rest")
}

// A pose that mirrors one which the variant has replaced mirrors the new one, and keeps what it says itself.
func TestAnInheritedPoseFollowsTheOneThatItMirrors(t *testing.T) {
	m, _ := variant(t, "", "pose on-left\n  hips/side  7\n  spine/lean 2\n")
	require.Empty(t, m.Problems)
	pose := m.Poses[slices.IndexFunc(m.Poses, func(p *Pose) bool { return p.Name == "on-right" })]
	side, _ := pose.Value(m.Channel("hips/side").Index)
	assert.InDelta(t, -7, side.Value, 1e-9)
	assert.InDelta(t, -7, m.Channel("hips/side").At(45), 1e-9)
	drop, _ := pose.Value(m.Channel("hips/drop").Index)
	assert.InDelta(t, -5, drop.Value, 1e-9, "what it says itself")
}

func TestAmendReplacesAndAddsCells(t *testing.T) {
	m, base := variant(t, "", "amend head\n  at    tilt\n  1b    8\n  2b    1\n\namend hips\n  at    side\n  3/2b  5\n")
	require.Empty(t, m.Problems)
	head := m.Channel("head/tilt").Base
	require.Len(t, head.Keys, 4)
	assert.Equal(t, []float64{2, 8, 1, -3}, []float64{head.Keys[0].Value, head.Keys[1].Value, head.Keys[2].Value, head.Keys[3].Value})
	assert.InDelta(t, 5, m.Channel("hips/side").At(27), 1e-9)
	assert.InDelta(t, base.Channel("hips/side").At(0), m.Channel("hips/side").At(0), 1e-9)
}

func TestAnotherRigScalesLengthsAndSaysWhatItLacks(t *testing.T) {
	tall := strings.Replace(limbRig, "height 100", "height 150", 1)
	tall = strings.Replace(tall, "rig figure", "rig giant", 1)
	tall = strings.Replace(tall, "  head/tilt        .      turn.z       1     deg   -90..90  flip    \"to their left\"\n", "", 1)
	files := map[string]string{
		"rig.motet": limbRig, "tall.motet": tall, "base.motet": baseSheet,
		"sheet.motet": "sheet v\n  from  base in \"base.motet\"\n  rig   giant in \"tall.motet\"\n",
	}
	m := resolved(t, files)
	require.Len(t, m.Problems, 1)
	assert.Equal(t, "the rig `giant` has no `head/tilt`, so that part of the base's motion is left out", m.Problems[0].Message)
	for frame := 0.0; frame < 72; frame += 3 {
		assert.InDelta(t, 1.5*m.Base.Channel("hips/side").At(frame), m.Channel("hips/side").At(frame), 1e-9)
		assert.InDelta(t, m.Base.Channel("spine/lean").At(frame), m.Channel("spine/lean").At(frame), 1e-9)
	}
}

func TestVariantsOfVariantsAndRings(t *testing.T) {
	files := map[string]string{
		"rig.motet": limbRig, "base.motet": baseSheet,
		"middle.motet": "sheet middle\n  from  base in \"base.motet\"\n\nchange\n  offset  hips/side 2\n",
		"sheet.motet":  "sheet v\n  from  middle in \"middle.motet\"\n\nchange\n  scale  hips/side 50%\n",
	}
	m := resolved(t, files)
	require.Empty(t, m.Problems)
	assert.InDelta(t, (3+2)*0.5, m.Channel("hips/side").At(0), 1e-9)
	changes := m.Channel("hips/side").Base.Keys[0].Changes
	require.Len(t, changes, 2)
	assert.Equal(t, []string{"offset  hips/side 2", "scale  hips/side 50%"}, []string{changes[0].What, changes[1].What})
	assert.Equal(t, []float64{5, 2.5}, []float64{changes[0].Value, changes[1].Value})

	files["base.motet"] = "sheet base\n  from  v in \"sheet.motet\"\n"
	m = resolved(t, files)
	require.Len(t, m.Problems, 1)
	assert.Equal(t, "the sheet is made from itself: v → middle → base → v; let one of them stand alone", m.Problems[0].Message)
}

// randomBase writes a sheet with a bit of everything.
func randomBase(t *rapid.T) string {
	var b strings.Builder
	fmt.Fprintf(&b, "sheet base\n  rig    figure in \"rig.motet\"\n  tempo  80 bpm\n  cycle  4b\n")
	number := func(label string) string {
		return fmt.Sprintf("%.2f", rapid.Float64Range(-9, 9).Draw(t, label))
	}
	for _, pose := range []string{"a", "b"} {
		fmt.Fprintf(&b, "\npose %s\n  hips/side   %s\n  spine/lean  %s\n", pose, number("side"), number("lean"))
	}
	b.WriteString("\nblocking\n  at  pose  until  drift\n  0b  a  1b  20%\n  2b  b\n")
	if rapid.Bool().Draw(t, "closing") {
		b.WriteString("  4b  a\n")
	}
	for _, track := range []struct{ control, channel string }{{"head", "tilt"}, {"wrist.left", "turn"}, {"wrist.right", "turn"}, {"hips", "drop"}} {
		if !rapid.Bool().Draw(t, "track") {
			continue
		}
		fmt.Fprintf(&b, "\ntrack %s\n  at  %s\n", track.control, track.channel)
		for beat := range 8 {
			if rapid.Bool().Draw(t, "key") {
				mark := rapid.SampledFrom([]string{"", "~", "^", "@2", "@-3,1.5"}).Draw(t, "mark")
				fmt.Fprintf(&b, "  %d/2b  %s%s\n", beat, number("value"), mark)
			}
		}
	}
	b.WriteString("\noverlap\n  head  3f\n  spine  2f\n")
	b.WriteString("\nfollow wrist.* after spine\n  lag  1f\n  spring  1.8 Hz damping 0.45\n  turn  0.5 of lean\n")
	b.WriteString("\nquiver hands in fine\n  band  0.6..2.5 Hz\n  wrist.*/turn  1.5\n")
	b.WriteString("\nbreath calm\n  starts  1b\n  hips/drop  0.5\n")
	b.WriteString("\nplant\n  foot.left  0b..4b\n  foot.right  1b..3b\n")
	return b.String()
}

func chain(t require.TestingT, base string, bodies ...string) *Motion {
	files := map[string]string{"rig.motet": limbRig, "v0.motet": base}
	for i, body := range bodies {
		from := "base"
		if i > 0 {
			from = fmt.Sprintf("v%d", i)
		}
		files[fmt.Sprintf("v%d.motet", i+1)] = fmt.Sprintf("sheet v%d\n  from  %s in \"v%d.motet\"\n\n%s", i+1, from, i, body)
	}
	trees := inMemory(files)
	file, err := trees(fmt.Sprintf("v%d.motet", len(bodies)))
	require.NoError(t, err)
	m := NewProject(trees).Resolve(file)
	for _, p := range m.Problems {
		require.Fail(t, p.Message)
	}
	return m
}

func TestWhatUndoesItself(t *testing.T) {
	for name, bodies := range map[string][]string{
		"mirror twice":          {"change\n  mirror\n", "change\n  mirror\n"},
		"mirror twice in one":   {"change\n  mirror\n  mirror\n"},
		"mirror of some twice":  {"change\n  mirror  wrist.*\n", "change\n  mirror  wrist.*\n"},
		"reverse twice":         {"change\n  reverse\n", "change\n  reverse\n"},
		"delay by a cycle":      {"change\n  delay  * 4b\n"},
		"start twice":           {"change\n  start  1b\n", "change\n  start  3b\n"},
		"start a cycle later":   {"change\n  start  4b\n"},
		"scale there and back":  {"change\n  scale  * 50%\n", "change\n  scale  * 200%\n"},
		"offset there and back": {"change\n  offset  head 5\n", "change\n  offset  head -5\n"},
	} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				base := randomBase(t)
				m := chain(t, base, bodies...)
				plain := chain(t, base)
				sameMotion(t, m, plain, itself)
			})
		})
	}
}

func TestEveryCycleClosesItsSeam(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body := rapid.SampledFrom([]string{"", "change\n  mirror\n", "change\n  reverse\n  start  3/2b\n", "change\n  amplify  * 150%\n  delay  wrist.* 2f\n"}).Draw(t, "change")
		m := chain(t, randomBase(t), body)
		for i := range m.Channels {
			c := &m.Channels[i]
			end, start := c.At(72-1e-9), c.At(0)
			if math.Abs(end-start) > 1e-6 {
				t.Fatalf("%s ends at %g and starts at %g", c.Dial.Path, end, start)
			}
			if again := c.At(72); math.Abs(again-start) > 1e-9 {
				t.Fatalf("%s is %g after a round, not %g", c.Dial.Path, again, start)
			}
		}
	})
}

func TestARingEndsEvenWhereEveryLookReadsTheFileAnew(t *testing.T) {
	files := map[string]string{
		"rig.motet":   limbRig,
		"base.motet":  "sheet base\n  from  v in \"sheet.motet\"\n",
		"sheet.motet": "sheet v\n  from  base in \"base.motet\"\n",
	}
	anew := func(path string) (*grammar.File, error) { return grammar.Parse(path, files[path]), nil }
	file, _ := anew("sheet.motet")
	m := NewProject(anew).Resolve(file)
	require.Len(t, m.Problems, 1)
	assert.Equal(t, "ring", m.Problems[0].Rule)
}

func TestAVariantWithoutItsRigIsNoTrouble(t *testing.T) {
	for _, body := range []string{
		"change\n  amplify  * 50%\n  mirror\n  delay  head 2f\n  offset  head 2\n  swap  on-left on-right\n  reverse\n  start  1b\n",
		"amend head\n  at  tilt\n  1b  2\n", "track head\n  at  tilt\n  1b  2\n", "pose on-left\n  hips/side  2\n", "follow head after hips\n  tilt  1 of side\n",
		"quiver q\n  band  1..2 Hz\n  head  1\n", "breath b\n  head  1\n", "plant\n  foot.left  0b..1b\n", "overlap\n  head  2f\n", "blocking\n  at  pose\n  0b  on-left\n",
	} {
		files := map[string]string{"rig.motet": limbRig, "base.motet": baseSheet}
		files["sheet.motet"] = "sheet v\n  from  base in \"base.motet\"\n  rig  figure in \"gone.motet\"\n\n" + body
		m := resolved(t, files)
		assert.Nil(t, m.Rig)
		require.Len(t, m.Problems, 1, body)
		assert.Equal(t, "unknown-name", m.Problems[0].Rule)
	}
}
