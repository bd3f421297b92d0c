package exchange

import (
	"math"
	"os"
	"slices"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion"
)

// tubeAround is a tube of constant width round a function of frames.
func tubeAround(frames int, closed bool, half float64, at func(frame float64) float64) *tube {
	t := &tube{frames: frames, closed: closed, plainEnds: true}
	steps := frames * stepsPerFrame
	if !closed {
		steps++
	}
	for k := range steps {
		t.middle = append(t.middle, at(float64(k)/stepsPerFrame))
		t.half = append(t.half, half)
	}
	return t
}

// hermiteBetween evaluates a fit by the engine of the language.
func hermiteBetween(f fit, frames int, closed bool) *motion.Curve {
	var knots []motion.Knot
	for k := range f.at {
		knots = append(knots, motion.Knot{Time: float64(f.at[k]), Value: f.value[k], Shape: motion.Sloped, SlopeIn: f.slope[k], SlopeOut: f.slope[k]})
	}
	return motion.NewCurve(knots, motion.Extent{Length: float64(frames), Closed: closed})
}

// A curve that is a cubic Hermite spline with few keys is found again with as few.
func TestFitFindsTheKeysOfASpline(t *testing.T) {
	for _, closed := range []bool{true, false} {
		want := fit{at: []int{0, 17, 40, 66, 90}, value: []float64{0, 12, -4, 3, 1}, slope: []float64{0.4, 0, -0.3, 0, 0.2}}
		if closed {
			want = fit{at: want.at[:4], value: want.value[:4], slope: want.slope[:4]}
		}
		curve := hermiteBetween(want, 90, closed)
		tube := tubeAround(90, closed, 0.01, curve.At)
		got := fitKeys(tube, nil)
		assert.LessOrEqual(t, len(got.at), len(want.at), "closed %t: %v", closed, got.at)
		assert.LessOrEqual(t, largest(tube.errors(got)), fitShare)
	}
}

// A steady sway of one harmonic takes few keys: a cubic between two turns of a sine is off
// by 1 % of its size at most, so within 2 % two keys do.
func TestFitOfASine(t *testing.T) {
	for half, most := range map[float64]int{0.02: 2, 0.002: 5, 0.0002: 9} {
		tube := tubeAround(96, true, half, func(f float64) float64 { return wave(f, 96, 1, 1) })
		got := fitKeys(tube, nil)
		assert.LessOrEqual(t, len(got.at), most, "within %g", half)
		assert.LessOrEqual(t, largest(tube.errors(got)), 1.0)
	}
	// In the coarse fit the keys stand where the sine turns.
	got := fitKeys(tubeAround(96, true, 0.02, func(f float64) float64 { return wave(f, 96, 1, 1) }), nil)
	assert.Equal(t, []int{24, 72}, got.at)
}

// Whatever the motion, the curve stays inside the tube, has its keys on distinct frames, and
// what is written of it, marks and digits, stays inside too, in the eyes of the engine.
func TestFitStaysInsideTheTube(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		frames := rapid.IntRange(4, 90).Draw(r, "frames")
		closed := rapid.Bool().Draw(r, "closed")
		half := math.Pow(10, rapid.Float64Range(-3, 0).Draw(r, "half"))
		var size, phase [5]float64
		for h := range size {
			size[h] = rapid.Float64Range(-10, 10).Draw(r, "size")
			phase[h] = rapid.Float64Range(0, 6).Draw(r, "phase")
		}
		noise := rapid.SliceOfN(rapid.Float64Range(-1, 1), frames+1, frames+1).Draw(r, "noise")
		if closed {
			noise[frames] = noise[0]
		}
		path := make([]float64, frames*stepsPerFrame+1)
		for frame := range frames + 1 {
			v := noise[frame]
			for h := range size {
				v += size[h] * math.Sin(2*math.Pi*float64(h+1)*float64(frame)/float64(frames)+phase[h])
			}
			path[frame*stepsPerFrame] = v
		}
		if closed {
			path[len(path)-1] = path[0]
		}
		smooth := smoothCurve(path, closed, 0)
		tube := tubeAround(frames, closed, half, func(f float64) float64 { return smooth[int(f*stepsPerFrame)] })

		f := fitKeys(tube, map[int]bool{3: true})
		require.LessOrEqual(t, largest(tube.errors(f)), 1.0)
		require.True(t, slices.IsSorted(f.at))
		require.Len(t, slices.Compact(slices.Clone(f.at)), len(f.at))
		narrower := *tube
		narrower.half = slices.Clone(tube.half)
		for k := range narrower.half[:len(narrower.half)/2] {
			narrower.half[k] /= 3
		}
		require.LessOrEqual(t, largest(narrower.errors(refit(&narrower, f))), 1.0)
		if len(f.at) < 2 {
			return
		}

		const beatFrames = 15
		c := channel{closed: closed, rows: tube.write(f, beatFrames, 0)}
		curve := c.curve(frames, beatFrames)
		for k, want := range tube.middle {
			require.InDelta(t, want, curve.At(float64(k)/stepsPerFrame), half*(1+1e-9), "step %d of %v", k, c.rows)
		}
	})
}

// A key in a row that the control has anyway costs nothing extra, so keys go there.
func TestKeysShareRows(t *testing.T) {
	tube := tubeAround(60, true, 0.05, func(f float64) float64 { return wave(f, 60, 1, 1) })
	f := fitKeys(tube, nil)
	others := map[int]bool{}
	for _, at := range f.at {
		others[(at+2)%60] = true
	}
	shared := tube.share(f, others)
	for _, at := range shared.at {
		assert.True(t, others[at], "%v", shared.at)
	}
	assert.LessOrEqual(t, largest(tube.errors(shared)), 1.0)
}

func TestNumbersHaveNoDigitsToSpare(t *testing.T) {
	for text, c := range map[string]struct {
		value    float64
		decimals int
	}{"2.5": {2.5, 3}, "-0.3": {-0.3001, 2}, "0": {-0.0004, 3}, "12": {11.96, 1}, "-100": {-100, 0}, "1.234": {1.23449, 3}} {
		assert.Equal(t, text, number(c.value, c.decimals))
	}
}

// The band solver against a matrix whose answer is known.
func TestSolveBand(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(r, "n")
		// B·Bᵀ of a lower band B is positive definite, with B's bandwidth.
		lower := make([][]float64, n)
		for i := range lower {
			lower[i] = make([]float64, n)
			for j := max(0, i-bandwidth); j <= i; j++ {
				lower[i][j] = rapid.Float64Range(-1, 1).Draw(r, "b")
			}
			lower[i][i] = 1 + math.Abs(lower[i][i])
		}
		full := make([][]float64, n)
		for i := range full {
			full[i] = make([]float64, n)
			for j := range full {
				for k := range n {
					full[i][j] += lower[i][k] * lower[j][k]
				}
			}
		}
		want := rapid.SliceOfN(rapid.Float64Range(-5, 5), n, n).Draw(r, "x")
		band := make([][bandwidth + 1]float64, n)
		right := make([]float64, n)
		for i := range n {
			for d := 0; d <= min(i, bandwidth); d++ {
				band[i][d] = full[i][i-d]
			}
			for j := range n {
				right[i] += full[i][j] * want[j]
			}
		}
		solveBand(band, right)
		assert.InDeltaSlice(t, want, right, 1e-5)
	})
}

// The limit of a turn holds for the angle between turns, at sixteen moments a frame, four times as many as the import looks
// at: also where three axes turn at once so far that each channel alone says little of it.
func TestTurnsAreHeldByTheirAngle(t *testing.T) {
	m := sheetOf(t, map[string]string{"kinds.motet": kindsRig + `  head/tilt               .               turn.z          1       deg
`, "sheet.motet": `sheet wild
  rig       kinds in "kinds.motet"
  rate      25 fps
  cycle     50f

track head
  at      nod     turn    tilt
  0f      35      60      -30
  9f      -20     -70     20
  22f     50      10      60
  31f     -45     75      -50
  40f     10      -20     5

track chest
  at      lean
  0f      -25
  20f     40
`}, "sheet.motet")
	_, file := exported(t, TakeWish{Bare: true}, m)
	r, err := Import(Options{Path: file, ReadFile: os.ReadFile})
	require.NoError(t, err)
	clip := &read(t, file).Clips[0]
	made := resolve(t, r)
	looked, worst := 0, 0.0
	for i := range clip.tracks {
		track := &clip.tracks[i]
		if track.property != turns {
			continue
		}
		joint := made.Rig.JointIndex(m.Rig.Joints[track.node].Name)
		require.GreaterOrEqual(t, joint, 0)
		require.Equal(t, gltf.InterpolationCubicSpline, track.kind)
		for step := range 50 * 16 {
			frame := float64(step) / 16
			pose := made.Rig.Pose(made.Values(frame, nil), nil)[joint]
			turn := orderOf(&made.Rig.Joints[joint]).quat(vec3(pose.Turn))
			worst = math.Max(worst, turn.angleTo(quat(track.at(frame/25))))
			looked++
		}
	}
	assert.Equal(t, 2*50*16, looked)
	assert.LessOrEqual(t, worst, DefaultWithin().TurnDeg)
	t.Logf("off by %.4f° with %d keys", worst, r.Keys)
}
