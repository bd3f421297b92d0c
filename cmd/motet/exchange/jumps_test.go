package exchange

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion"
)

const jumpRig = coatRig + `  face/smile              .               morph.smile     1       %
  face/brows              .               morph.brows     1       %
`

// jumpTracks are numbers that stay and jump to the next key, and move otherwise: after a stay, and on the way, since a layer
// moves meanwhile; one jumps and is still else, and one stays into the next round.
const jumpTracks = `
track hips
  at      side    turn
  0f      -3      10
  12f     4=      .
  24f     -2      -20
  30f     .       15=
  40f     1       -10

track chest in fine
  at      lean    tilt
  0f      5       0
  12f     .       8
  30f     -5      -6

track chest
  at      lean
  6f      9=
  18f     -8=
  36f     2

track face
  at      smile   brows
  2f      10      .
  10f     60=     20=
  20f     0       80=
  33f     45      .
`

// jumpSheet is a sheet of 48 frames with such tracks; length is its cycle's or span's line.
func jumpSheet(t testing.TB, length, tracks string) *motion.Motion {
	return sheetOf(t, map[string]string{"coat.motet": jumpRig, "sheet.motet": "sheet jumps\n  rig coat in \"coat.motet\"\n  rate 24 fps\n  " + length + "\n" + tracks}, "sheet.motet")
}

// apartAtAnyMoment is how far points ten centimetres beside the joints of two motions of one rig are apart, at moments between
// frames too but for the hundredth of a frame before a frame, and how far the weights of morph targets are, in per cent.
func apartAtAnyMoment(t testing.TB, a, b *motion.Motion) (cm, percent, at float64) {
	t.Helper()
	length := a.Sheet.Length.Float()
	require.Equal(t, length, b.Sheet.Length.Float())
	one, other := a.Player(), b.Player()
	for k := 0.0; k < 16*length; k++ {
		frame := k / 16
		f, g := one.Figure(frame), other.Figure(frame)
		for i := range f.World {
			for axis := -1; axis < 3; axis++ {
				far := 0.0
				for n := range 3 {
					off := f.World[i][9+n] - g.World[i][9+n]
					if axis >= 0 {
						off += 10 * (f.World[i][3*axis+n] - g.World[i][3*axis+n])
					}
					far += off * off
				}
				if far = math.Sqrt(far); far > cm {
					cm, at = far, frame
				}
			}
		}
		for _, name := range []string{"smile", "brows"} {
			if from, to := a.Channel("face/"+name), b.Channel("shape/"+name); from != nil && to != nil {
				percent = math.Max(percent, math.Abs(from.At(frame)-to.At(frame)))
			}
		}
	}
	return cm, percent, at
}

// backFrom is what an import makes of a motion's export.
func backFrom(t testing.TB, m *motion.Motion) *Result {
	t.Helper()
	take, err := NewTake(m, TakeWish{Bare: true})
	require.NoError(t, err)
	data, err := WriteGLB([]*Take{take})
	require.NoError(t, err)
	r, err := Import(Options{Path: "jumps.glb", ReadFile: inMemory(map[string][]byte{"jumps.glb": data})})
	require.NoError(t, err)
	return r
}

// A number that jumps between two frames and moves otherwise comes back with its jump, as close between frames as on them,
// and with the stay that its author wrote.
func TestJumpsComeBackWhereTheyWere(t *testing.T) {
	for _, length := range []string{"cycle 48f", "span 48f"} {
		t.Run(length, func(t *testing.T) {
			m := jumpSheet(t, length, jumpTracks)
			r := backFrom(t, m)
			said := strings.Join(r.Report, "\n")
			assert.NotContains(t, said, "NOT within")
			assert.NotContains(t, said, "between frames, where")
			cm, percent, at := apartAtAnyMoment(t, m, resolve(t, r))
			assert.LessOrEqual(t, cm, DefaultWithin().WorldCM, "frame %g\n%s\n%s", at, said, r.SheetText)
			assert.LessOrEqual(t, percent, DefaultWithin().WeightPercent, "%s\n%s", said, r.SheetText)
			assert.Contains(t, plainLines(r.SheetText), "12f 4= ")
			for _, stay := range []string{" 15", " 20=", " 80="} {
				assert.Contains(t, plainLines(r.SheetText), stay)
			}
			t.Logf("%d keys, %.3f cm, %.2f %%", r.Keys, cm, percent)
		})
	}
}

// anyJumps are tracks that stay and jump on whichever frames, under a layer that moves.
func anyJumps(r *rapid.T) string {
	var text strings.Builder
	for _, control := range []string{"hips side turn", "chest lean tilt", "chest in fine lean tilt", "face smile brows"} {
		words := strings.Fields(control)
		n := len(words) - 2
		fmt.Fprintf(&text, "\ntrack %s\n  at %s\n", strings.Join(words[:n], " "), strings.Join(words[n:], " "))
		for frame := rapid.IntRange(0, 3).Draw(r, "first"); frame < 48; frame += rapid.IntRange(1, 14).Draw(r, "step") {
			fmt.Fprintf(&text, "  %df", frame)
			for range 2 {
				mark := "^"
				if n == 1 {
					mark = rapid.SampledFrom([]string{"=", "^"}).Draw(r, "mark")
				}
				fmt.Fprintf(&text, " %d%s", rapid.IntRange(-20, 20).Draw(r, "value"), mark)
			}
			text.WriteString("\n")
		}
	}
	return text.String()
}

// Whatever stays and jumps comes back so, round the seam too.
func TestAnyJumpsComeBack(t *testing.T) {
	long(t)
	for seed := range 30 {
		tracks := rapid.Custom(anyJumps).Example(seed)
		for _, length := range []string{"cycle 48f", "span 48f"} {
			m := jumpSheet(t, length, tracks)
			r := backFrom(t, m)
			cm, percent, at := apartAtAnyMoment(t, m, resolve(t, r))
			assert.LessOrEqual(t, cm, 2*DefaultWithin().WorldCM, "seed %d, %s, frame %g\n%s\n%s", seed, length, at, strings.Join(r.Report, "\n"), r.SheetText)
			assert.LessOrEqual(t, percent, 2*DefaultWithin().WeightPercent, "seed %d, %s\n%s", seed, length, r.SheetText)
		}
	}
}

// A number that its clip holds between keys that lie beside frames changes when they say, and not at the next frame: a face,
// a joint's turn and its move. One whose keys are as dense as frames changes on frames.
func TestStepsBesideFramesStayThere(t *testing.T) {
	const frame = 1.0 / 24
	times := []float32{0, 10.4 * frame, 20.7 * frame, 33.2 * frame, 48 * frame}
	step := func(node int, path gltf.TRSProperty, values ...[]float64) trackSpec {
		spec := trackSpec{node: node, path: path, kind: gltf.InterpolationStep, times: times}
		for _, v := range values {
			element := make([]float32, len(v))
			for n := range v {
				element[n] = float32(v[n])
			}
			spec.values = append(spec.values, element)
		}
		return spec
	}
	p := lampKeeper(48, 24)
	spine := append([]trackSpec{}, baked(2, gltf.TRSRotation, 24, 0, 48, func(f float64) []float64 { return aboutAxis(0, wave(f, 48, 1, 10)) }))
	p.clips = []clipSpec{{"Steps", append(spine,
		step(3, gltf.TRSRotation, aboutAxis(1, 0), aboutAxis(1, 20), aboutAxis(1, -15), aboutAxis(1, 5), aboutAxis(1, 0)),
		step(0, gltf.TRSTranslation, []float64{0, 1, 0}, []float64{0, 1.1, 0}, []float64{0, 0.9, 0}, []float64{0, 1.05, 0}, []float64{0, 1, 0}),
	)}}
	r, data := importPuppet(t, p, Options{Rate: Rate{24, 1}})
	said := strings.Join(r.Report, "\n")
	assert.NotContains(t, said, "NOT within")
	assert.NotContains(t, said, "between frames, where")
	for _, at := range []string{"\n  10.4f ", "\n  20.7f ", "\n  33.2f "} {
		assert.Contains(t, r.SheetText, at)
	}
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))

	var dense trackSpec
	for k := range 97 {
		dense.times, dense.values = append(dense.times, float32(float64(k)*frame/2+0.0007*float64(k%2))), append(dense.values, []float32{0, float32(1 + 0.01*float64(k%5)), 0})
	}
	dense.kind, dense.path, dense.node = gltf.InterpolationStep, gltf.TRSTranslation, 0
	p.clips = []clipSpec{{"Steps", append(spine, dense)}}
	r, _ = importPuppet(t, p, Options{Rate: Rate{24, 1}})
	assert.NotRegexp(t, `\n  \d+\.\d+f `, r.SheetText)
}
