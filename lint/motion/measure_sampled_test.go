package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everything has each thing that can move a channel.
const everything = busyLimbs + `
track head
  at   tilt
  0b   3
  3/2b -4=
  5/2b 2>

track head in look
  at   tilt
  1b   0^
  2b   10^
  3b   0^

overlap
  head  3f

follow spine after hips
  lag   2f
  lean  0.5 of side

follow head after spine
  spring  arrives 5f overshoot 15%
  tilt    1 of lean

layer look
  replaces
  strength  40%

quiver hands in fine
  band             0.6..2.5 Hz
  wrist.*/turn     1.5

breath calm
  hips/drop  0.5
`

func TestSamplesAreWhatTheMotionSaysThen(t *testing.T) {
	for name, files := range map[string]map[string]string{
		"cycle":   limbSheet(everything),
		"advance": {"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n  advance hips/side 50\n  advance head/tilt 20\n\n" + everything},
		"span":    {"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  span 5b\n\n" + everything},
	} {
		t.Run(name, func(t *testing.T) {
			m := resolved(t, files)
			require.Empty(t, m.Problems)
			s := m.SampledByBeat(7)
			n := int(m.Sheet.Beats(m.Sheet.Length).Float() * 7)
			if !s.Closed {
				n++
			}
			require.Equal(t, n, s.Count)
			for k := -s.Count; k < 2*s.Count; k++ {
				at := s.Time(k)
				if !s.Closed && (k < 0 || k >= s.Count) {
					continue
				}
				for i := range m.Channels {
					require.InDelta(t, m.Channels[i].At(at), s.Channel(i).at(k), 1e-9, "%s at %g", m.Channels[i].Dial.Path, at)
				}
			}
			for k := range s.Count + 1 {
				figure := m.Figure(s.Time(k))
				for joint := range m.Rig.Joints {
					if k == s.Count && !s.Closed {
						continue
					}
					want, got := figure.World[joint].Position(), s.place(joint, k)
					require.InDeltaSlice(t, want[:], got[:], 1e-9)
					require.InDelta(t, want[1], s.Place(joint, 1).at(k), 1e-9)
				}
			}
		})
	}
}

func TestHowOftenAMotionIsLookedAt(t *testing.T) {
	head := "sheet s\n  rig figure in \"rig.motet\"\n"
	for _, c := range []struct {
		header              string
		byFrame, by24aBeat  int
		stepByFrame, byBeat float64
	}{
		{"  tempo 80 bpm\n  cycle 4b\n", 72, 96, 1, 0.75},
		{"  tempo 80 bpm\n  span 4b\n", 73, 97, 1, 0.75},
		{"  tempo 70 bpm\n  cycle 1b\n", 21, 24, 1440. / 70 / 21, 1440. / 70 / 24}, // 20 4/7 frames
		{"  cycle 1f\n", 1, 1, 1, 1},
		{"  cycle 1000000f\n", mostSteps, mostSteps, 1e6 / mostSteps, 1e6 / mostSteps},
	} {
		m := resolved(t, map[string]string{"rig.motet": limbRig, "sheet.motet": head + c.header})
		require.Empty(t, m.Problems)
		frames, beats := m.SampledByFrame(), m.SampledByBeat(24)
		assert.Equal(t, []int{c.byFrame, c.by24aBeat}, []int{frames.Count, beats.Count}, c.header)
		assert.InDelta(t, c.stepByFrame, frames.Step, 1e-12)
		assert.InDelta(t, c.byBeat, beats.Step, 1e-12)
	}
}

func TestAHandOnACircleTravelsItsCircumference(t *testing.T) {
	// The body turns once a round; the left wrist is 20 cm from the axis. A regular polygon's sides are 2·r·sin(π/n).
	m := resolved(t, map[string]string{"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n  advance hips/twist 360\n\ntrack hips\n  at twist\n  0b 0>\n"})
	require.Empty(t, m.Problems)
	s := m.SampledByBeat(24)
	wrist := m.Rig.JointIndex("wrist.left")
	path := s.PathLength(wrist)
	assert.InDelta(t, 96*2*20*math.Sin(math.Pi/96), path, 1e-9)
	assert.InEpsilon(t, 2*math.Pi*20, path, 1e-3)
	for _, v := range s.Speeds(wrist, nil) {
		assert.InDelta(t, path/3, v, 1e-9) // the round lasts 3 s
	}
	assert.Zero(t, s.PathLength(m.Rig.JointIndex("head")), "the head is on the axis")
}

func TestSpeedsOfAGlidingFigure(t *testing.T) {
	// Six frames of 0.5 cm, then still: 12 cm a second at 24 fps for each of the eleven joints, then nothing.
	m := resolved(t, map[string]string{"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  span 12f\n\ntrack hips\n  at side\n  0f 0>\n  6f 3\n"})
	require.Empty(t, m.Problems)
	s := m.SampledByFrame()
	require.Equal(t, []int{13, 12}, []int{s.Count, s.Steps()})
	for k := range 12 {
		one := 0.0
		if k < 6 {
			one = 12
		}
		assert.InDelta(t, one, s.Speeds(3, nil)[k], 1e-9)
		assert.InDelta(t, 11*one, s.SummedSpeeds(nil)[k], 1e-9)
		assert.InDelta(t, one, s.FastestSpeeds(nil)[k], 1e-9)
	}
	assert.InDelta(t, 3, s.PathLength(0), 1e-9)
}
