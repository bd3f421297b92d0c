package exchange

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion"
)

// A step is a foot's way through the air: it leaves the ground at a frame, lands so many frames later, perhaps in the
// next round, and stands by then in another place.
type step struct {
	from, frames  int
	liftCM        float64
	side, aheadCM float64 // where it lands
}

// A stepper is one of the quay folk who shifts weight from foot to foot. Each foot stands between its steps.
type stepper struct {
	frames int
	feet   [2][]step // left and right, by rising frame
}

var footNames = [2]string{"left", "right"}

// sheet writes the stepper down: goals that are still from where a foot lands until it leaves again, and hips that sway
// over whichever foot stands.
func (s stepper) sheet() string {
	var out strings.Builder
	fmt.Fprintf(&out, "sheet lookout-steps\n  rig quayfolk in \"quayfolk.motet\"\n  rate 24 fps\n  tempo 80 bpm\n  cycle %df\n", s.frames)
	fmt.Fprintf(&out, "\ntrack hips\n  at side drop ahead tilt\n")
	for k := range 4 {
		sway := []float64{0, 1, 0, -1}[k]
		fmt.Fprintf(&out, "  %df %g %g %g %g\n", k*s.frames/4, 3*sway, -4-0.8*sway*sway, 1-1.5*sway, 2*sway)
	}
	fmt.Fprintf(&out, "\ntrack spine\n  at lean\n  0f 2\n  %df 5\n", s.frames/2)
	for side, name := range footNames {
		steps := s.feet[side]
		if len(steps) == 0 {
			continue
		}
		rows := map[int]string{}
		was := steps[len(steps)-1]
		for _, st := range steps {
			rows[st.from] = fmt.Sprintf("%g^ 0^ %g^", was.side, was.aheadCM)
			rows[(st.from+st.frames/2)%s.frames] = fmt.Sprintf(". %g .", st.liftCM)
			rows[(st.from+st.frames)%s.frames] = fmt.Sprintf("%g^ 0^ %g^", st.side, st.aheadCM)
			was = st
		}
		fmt.Fprintf(&out, "\ntrack foot.%s\n  at side lift ahead\n", name)
		var frames []int
		for frame := range rows {
			frames = append(frames, frame)
		}
		slices.Sort(frames)
		for _, frame := range frames {
			fmt.Fprintf(&out, "  %df %s\n", frame, rows[frame])
		}
	}
	out.WriteString("\nplant\n")
	for _, p := range s.meant() {
		fmt.Fprintf(&out, "  %s %df..%df\n", strings.Replace(p.Goal, "ankle", "foot", 1), p.From, p.To)
	}
	return pageOf(out.String()).text("steps.motet")
}

// meant are the stretches in which a foot stands, by its joint. One that lands in the next round's time stands from there.
func (s stepper) meant() (out []PlantReport) {
	for side, name := range footNames {
		steps := s.feet[side]
		if len(steps) == 0 {
			out = append(out, PlantReport{Goal: "ankle." + name, From: 0, To: s.frames})
			continue
		}
		var stands []PlantReport
		for i, st := range steps {
			lands := st.from + st.frames
			leaves := steps[(i+1)%len(steps)].from
			if i == len(steps)-1 {
				leaves += s.frames
			}
			if lands >= s.frames {
				lands, leaves = lands-s.frames, leaves-s.frames
			}
			stands = append(stands, PlantReport{Goal: "ankle." + name, From: lands, To: leaves})
		}
		slices.SortFunc(stands, func(a, b PlantReport) int { return a.From - b.From })
		out = append(out, stands...)
	}
	return out
}

// imported is what an import makes of the stepper's clip, baked at the sheet's rate and without its text.
func (s stepper) imported(t testing.TB, rig string) (*motion.Motion, *Result) {
	t.Helper()
	m := sheetOf(t, map[string]string{"quayfolk.motet": rig, "steps.motet": s.sheet()}, "steps.motet")
	take, err := NewTake(m, TakeWish{Bare: true, Bake: Rate{24, 1}})
	require.NoError(t, err)
	data, err := WriteGLB([]*Take{take})
	require.NoError(t, err)
	r, err := Import(Options{Path: "steps.glb", ReadFile: inMemory(map[string][]byte{"steps.glb": data})})
	require.NoError(t, err)
	return m, r
}

func quayfolkRig(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile(quay + "/quayfolk.motet")
	require.NoError(t, err)
	return string(text)
}

// Feet that stand for a part of the loop, one of them across its seam, are planted then, from where they land until they
// leave, and stay there when somebody moves the hips.
func TestSteppingFeetArePlantedWhileTheyStand(t *testing.T) {
	rig := quayfolkRig(t)
	for name, s := range map[string]stepper{
		"a step in the middle": {96, [2][]step{{{30, 16, 5, 0, 0}}, nil}},
		"a step aside and back, in turn": {96, [2][]step{
			{{10, 12, 6, 6, 0}, {56, 12, 6, 0, 0}},
			{{32, 12, 6, -5, 3}, {78, 12, 6, 0, 0}},
		}},
		"a step across the seam": {96, [2][]step{{{90, 14, 5, 4, 2}, {40, 12, 5, 0, 0}}, {{62, 14, 7, 0, 0}}}},
		"a tap of the foot":      {72, [2][]step{nil, {{20, 12, 3, 0, 0}, {44, 12, 3, 0, 0}}}},
	} {
		t.Run(name, func(t *testing.T) {
			for side := range s.feet {
				slices.SortFunc(s.feet[side], func(a, b step) int { return a.from - b.from })
			}
			_, r := s.imported(t, rig)
			said := strings.Join(r.Report, "\n")
			requirePlants(t, s.meant(), r.Plants, 1)
			t.Logf("%d keys, %d more without plants: %v", r.Keys, r.SavedKeys, r.Plants)
			edited := offHips(t, r, "hips/side", 2)
			for _, p := range r.Plants {
				requireStands(t, edited, p.Goal, float64(p.From), float64(p.To))
			}
			assert.NotContains(t, said, "NOT within")
		})
	}
}

// anyStepper has up to two steps a foot, anywhere in the loop.
func anyStepper(r *rapid.T) stepper {
	s := stepper{frames: 4 * rapid.IntRange(15, 30).Draw(r, "frames")}
	tenths := func(label string, from, to int) float64 {
		return float64(rapid.IntRange(10*from, 10*to).Draw(r, label)) / 10
	}
	for side := range s.feet {
		first := rapid.IntRange(0, s.frames-1).Draw(r, "first")
		for k := range rapid.IntRange(0, 2).Draw(r, "steps") {
			s.feet[side] = append(s.feet[side], step{
				from: (first + k*s.frames/2) % s.frames, frames: 2 * rapid.IntRange(4, 8).Draw(r, "air"),
				liftCM: tenths("lift", 2, 8), side: tenths("side", -5, 5), aheadCM: tenths("ahead", -4, 5),
			})
		}
		slices.SortFunc(s.feet[side], func(a, b step) int { return a.from - b.from })
	}
	return s
}

// Any steps: whatever stands is planted, to a frame, and nothing that is in the air.
func TestAnyStepsAreFound(t *testing.T) {
	long(t)
	rig := quayfolkRig(t)
	meant, found, standing, planted := 0, 0, 0, 0
	for seed := range 40 {
		s := rapid.Custom(anyStepper).Example(seed)
		_, made := s.imported(t, rig)
		within := func(p, w PlantReport, frames int) bool {
			return p.Goal == w.Goal && p.On == "" && p.From >= w.From-frames && p.To <= w.To+frames
		}
		want := s.meant()
		for _, w := range want {
			meant++
			standing += w.To - w.From
			if slices.ContainsFunc(made.Plants, func(p PlantReport) bool { return within(p, w, 1) && within(w, p, 1) }) {
				found++
			} else {
				t.Logf("%d: %v is not among %v\n%s", seed, w, made.Plants, strings.Join(made.Report[:6], "\n"))
			}
		}
		for _, p := range made.Plants {
			planted += p.To - p.From
			assert.True(t, slices.ContainsFunc(want, func(w PlantReport) bool {
				round := p
				round.From, round.To = p.From-s.frames, p.To-s.frames
				return within(p, w, 1) || within(round, w, 1)
			}), "%d: %v is planted, and stands only in %v", seed, p, want)
		}
	}
	t.Logf("%d of %d stretches found; %d frames planted of %d that stand", found, meant, planted, standing)
	assert.GreaterOrEqual(t, 100*found, 99*meant)
}
