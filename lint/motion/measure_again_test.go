package motion

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
)

// manyParts are tracks of limbs whose goals are keyed, with what else can move a channel.
const manyParts = sway + `
track foot.left
  at   side  knee
  0b   0     0
  2b   4     10

track spine
  at   lean
  1b   5
  3b   -5

overlap
  spine  3f

follow head after spine
  lag   3f
  tilt  -2 of lean
`

// limbRigBelow is the rig in the sheet's own file.
const limbRigBelow = "\n" + limbRig

const planted = `
plant
  foot.right 1b..2b
`

// TestSampledAgainIsTheSame changes digits of drawn sheets, or puts a whole sheet in the place of another, and samples each
// version after the one before, some of whose joints were asked for.
func TestSampledAgainIsTheSame(t *testing.T) {
	sheet := "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n"
	bodies := []string{sheet + sway + limbRigBelow, sheet + manyParts + limbRigBelow, sheet + manyParts + planted + limbRigBelow}
	variants := bodies[:1:1] // of one sheet, so that most curves stay
	for _, change := range [][2]string{
		{"  cycle 4b\n", "  cycle 4b\n  advance hips/side 20\n"},
		{"  cycle 4b\n", "  cycle 4b\n  advance head/tilt 5\n"},
		{"  cycle 4b\n", "  span 4b\n"},
		{"\nrig ", "\ntrack foot.left\n  at side\n  1b 0\n\nrig "},
		{"\nrig ", planted + "\nrig "},
		{"0    92 ", "0    95 "},
		{"\nrig ", "\ntrack spine\n  at lean\n  0b 7.3=\n  1b 7.3=\n  5/4b 7.3=\n\nrig "},
		{"\nrig ", "\ntrack spine\n  at lean\n  0b 7.3=\n  1b 9.1=\n  5/4b 7.3=\n\nrig "},
	} {
		changed := strings.Replace(bodies[0], change[0], change[1], 1)
		require.NotEqual(t, bodies[0], changed)
		variants = append(variants, changed)
	}
	taken := 0 // samples that an earlier one stood for
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.SampledFrom([][]string{bodies, variants}).Draw(t, "from")
		text := rapid.SampledFrom(from).Draw(t, "sheet")
		var m *Motion
		var file *grammar.File
		var sampled *Sampled
		for range 6 {
			file = grammar.Reparse(file, "a.motet", text)
			m = NewProject(func(string) (*grammar.File, error) { return nil, nil }).ResolveAgain(m, file)
			require.NotNil(t, m.Rig)
			if m.Whole() && len(m.Rig.Joints) > 0 {
				want := m.SampledByFrame()
				if want.alike(sampled) {
					taken++
				}
				sampled = m.SampledAgain(sampled)
				if rapid.IntRange(0, 2).Draw(t, "a joint first") == 0 {
					sampled.Place(rapid.IntRange(0, len(m.Rig.Joints)-1).Draw(t, "joint"), 0)
				} else if !sameSamples(want, sampled) {
					t.Fatalf("other samples of\n%s", text)
				}
			}
			if rapid.Bool().Draw(t, "another sheet") {
				text = rapid.SampledFrom(from).Draw(t, "sheet")
				continue
			}
			digits := []int{}
			for i := range strings.Index(text, "\nrig ") {
				if strings.ContainsRune("123456789", rune(text[i])) {
					digits = append(digits, i)
				}
			}
			if len(digits) == 0 {
				return
			}
			at := rapid.SampledFrom(digits).Draw(t, "at")
			text = text[:at] + rapid.StringMatching("[1-9]").Draw(t, "digit") + text[at+1:]
		}
	})
	require.Positive(t, taken)
}

func sameSamples(a, b *Sampled) bool {
	if a.Count != b.Count || a.Step != b.Step || a.Closed != b.Closed {
		return false
	}
	for i := range a.Motion.Channels {
		if !sameSignal(a.Channel(i), b.Channel(i)) {
			return false
		}
	}
	for joint := range a.Motion.Rig.Joints {
		for axis := range 3 {
			if !sameSignal(a.Place(joint, axis), b.Place(joint, axis)) {
				return false
			}
		}
	}
	for chain := range a.Motion.Rig.Chains {
		shortA, bendA := a.Limb(chain)
		shortB, bendB := b.Limb(chain)
		for k := range shortA {
			if shortA[k] != shortB[k] || bendA[k] != bendB[k] && (bendA[k] == bendA[k] || bendB[k] == bendB[k]) { // not a number is no number's equal
				return false
			}
		}
	}
	return true
}

func sameSignal(a, b Signal) bool {
	if a.Gain != b.Gain || len(a.Samples) != len(b.Samples) {
		return false
	}
	for k := range a.Samples {
		if a.Samples[k] != b.Samples[k] {
			return false
		}
	}
	return true
}

// TestSomeJointsAreSeenAsAll asks for joints one by one, in a drawn order, and all at once, and holds both to the player.
func TestSomeJointsAreSeenAsAll(t *testing.T) {
	sheet := "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n"
	for _, body := range []string{sway, manyParts, manyParts + planted} {
		m := resolved(t, map[string]string{"sheet.motet": sheet + body + limbRigBelow})
		require.True(t, m.Whole())
		all, player := m.SampledByFrame(), m.Player()
		all.SummedSpeeds(nil)
		rapid.Check(t, func(t *rapid.T) {
			one := m.SampledByFrame()
			joints := make([]int, len(m.Rig.Joints))
			for i := range joints {
				joints[i] = i
			}
			for _, joint := range rapid.Permutation(joints).Draw(t, "order") {
				for axis := range 3 {
					if !sameSignal(one.Place(joint, axis), all.Place(joint, axis)) {
						t.Fatalf("joint %d on axis %d, alone and among all:\n%v\n%v", joint, axis, one.Place(joint, axis), all.Place(joint, axis))
					}
				}
			}
		})
		for k := range all.Count {
			world := player.Figure(all.Time(k)).World
			for joint := range world {
				for axis := range 3 {
					require.InDelta(t, world[joint][9+axis], all.Place(joint, axis).Samples[k], 1e-11)
				}
			}
		}
	}
}

// TestNoJointStraysFartherThanItMay holds the bound to the ways that joints really go, and asks it to be one: where nothing
// moves between two joints it is no more than a few times the way.
func TestNoJointStraysFartherThanItMay(t *testing.T) {
	sheet := "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n"
	bounded := 0
	for _, body := range []string{sway, twisting(4, 9), twisting(40, 50), twisting(90, 0), manyParts, manyParts + planted} {
		m := resolved(t, map[string]string{"sheet.motet": sheet + body + limbRigBelow})
		require.True(t, m.Whole())
		s := m.SampledByFrame()
		for joint := range m.Rig.Joints {
			for carrier := m.Rig.Joints[joint].Parent; carrier >= 0; carrier = m.Rig.Joints[carrier].Parent {
				may := s.MayStray(joint, carrier)
				if !math.IsInf(may, 1) {
					bounded++
				}
				for axis := range 3 {
					least, most := s.Place(joint, axis).Less(s.Place(carrier, axis)).Range()
					require.LessOrEqual(t, most-least, may+1e-9, "%s from %s on axis %d", m.Rig.Joints[joint].Name, m.Rig.Joints[carrier].Name, axis)
				}
			}
		}
	}
	require.Positive(t, bounded)
}

// twisting turns the hips and the spine to both sides, by some degrees.
func twisting(hips, spine int) string {
	return fmt.Sprintf("track hips\n  at  twist\n  0b  %d\n  2b  -%d\n\ntrack spine\n  at  lean\n  1b  %d\n  3b  -%d\n", hips, hips, spine, spine)
}

// TestSpeedsOfSomeStepsAreThoseOfAll asks for the fastest speeds of drawn steps alone.
func TestSpeedsOfSomeStepsAreThoseOfAll(t *testing.T) {
	sheet := "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n"
	for _, body := range []string{sway, manyParts, manyParts + planted} {
		m := resolved(t, map[string]string{"sheet.motet": sheet + body + limbRigBelow})
		all := m.SampledByFrame().FastestSpeeds(nil)
		rapid.Check(t, func(t *rapid.T) {
			steps := rapid.SliceOfN(rapid.Bool(), len(all), len(all)).Draw(t, "steps")
			some := m.SampledByFrame()
			for k, speed := range some.FastestSpeedsIn(steps) {
				want := all[k]
				if !steps[k] {
					want = 0
				}
				if math.Abs(speed-want) > 1e-9 {
					t.Fatalf("step %d: %g, and %g among all", k, speed, want)
				}
			}
		})
	}
}
