package motion

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestACurveThatPlaysLateTurnsLate(t *testing.T) {
	m := resolved(t, limbSheet(`track head
  at   tilt
  0b   3
  3/2b -4=
  5/2b 2>
  3b   2
  7/2b 9^

overlap
  head  7f
`))
	require.Empty(t, m.Problems)
	c := m.Channel("head/tilt")
	want := c.Base.Curve.Extrema()
	got := m.Extrema(c.Index)
	require.Len(t, got, len(want))
	for _, w := range want {
		found := false
		for _, g := range got {
			found = found || g.High == w.High && math.Abs(g.Value-w.Value) < 1e-9 && math.Abs(g.Time-math.Mod(w.Time+7, 72)) < 1e-7
		}
		assert.True(t, found, "no %v, 7 frames late, among %v", w, got)
	}
}

func TestAWaveTurnsWhereItsFormulaSaysSo(t *testing.T) {
	// Only the second harmonic of 3 s lies in the band: amplitude·sin(2π·2·t/72 + φ) has its crests where the angle is a
	// quarter round. A breath is highest at the end of its in-breath and lowest from the start of its pause on.
	m := resolved(t, limbSheet(`quiver hands
  band             0.6..0.7 Hz
  wrist.left/turn  1.5

breath calm
  inhale      40%
  pause       10%
  hips/drop   2
`))
	require.Empty(t, m.Problems)
	phase := quiverPhase("wrist.left/turn", 1, 2)
	var want []Extremum
	for _, c := range []struct {
		turn, value float64
	}{{0.25, 1.5}, {0.75, -1.5}, {1.25, 1.5}, {1.75, -1.5}} {
		want = append(want, Extremum{Time: wrapTime((c.turn-phase)/2, 1) * 72, Value: c.value, High: c.value > 0})
	}
	got := m.Extrema(m.Channel("wrist.left/turn").Index)
	require.Len(t, got, 4)
	for _, g := range got {
		found := false
		for _, w := range want {
			found = found || g.High == w.High && math.Abs(g.Time-w.Time) < 1e-7 && math.Abs(g.Value-w.Value) < 1e-12
		}
		assert.True(t, found, "%v is none of %v", g, want)
	}
	got = m.Extrema(m.Channel("hips/drop").Index)
	require.Len(t, got, 2)
	assert.InDelta(t, 0.4*72, got[0].Time, 1e-7)
	assert.InDelta(t, 2, got[0].Value, 1e-12)
	assert.InDelta(t, 0.9*72, got[1].Time, 2e-4) // it comes to rest with slope zero, so its last trace is below rounding
	assert.InDelta(t, 0, got[1].Value, 1e-10)
}

// lookedAt finds a channel's turns by looking every 100th of a frame: the last place before it goes the other way, or
// the first of those places where it stays.
func lookedAt(m *Motion, c *Channel) (turns []Extremum) {
	const fine = 100
	count := int(m.Sheet.Length.Float()) * fine
	way, from := 0.0, 0
	for round := range 2 {
		if round == 0 && !m.Sheet.Closed {
			continue // only a cycle's end says how it starts
		}
		for i := range count {
			here, next := c.At(float64(i)/fine), c.At(float64(i+1)/fine)
			if next == here {
				continue
			}
			if sign(next-here) == -way && round == 1 {
				turns = append(turns, Extremum{float64(from) / fine, c.At(float64(from) / fine), way > 0})
			}
			way, from = sign(next-here), i+1
		}
		from = 0
	}
	return turns
}

func TestAChannelThatEverythingMovesTurnsWhereItIsSeenTo(t *testing.T) {
	for _, header := range []string{"cycle 4b", "span 5b"} {
		m := resolved(t, map[string]string{"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  " + header + "\n\n" + everything})
		require.Empty(t, m.Problems)
		for i := range m.Channels {
			c := &m.Channels[i]
			if c.Dial.Path == "head/tilt" { // it steps; see below
				continue
			}
			want, got := lookedAt(m, c), m.Extrema(i)
			if !assert.Len(t, got, len(want), "%s of a %s", c.Dial.Path, header) {
				continue
			}
			for k := range want {
				assert.InDelta(t, want[k].Time, got[k].Time, 0.011)
				assert.InDelta(t, want[k].Value, got[k].Value, 1e-3)
				assert.Equal(t, want[k].High, got[k].High)
				if c.Dial.HasRange && want[k].High { // the exact crest is no lower than any place that was looked at
					assert.GreaterOrEqual(t, got[k].Value, want[k].Value-1e-9)
				}
			}
		}
	}
}

func TestStepsTurnUnderFollowersToo(t *testing.T) {
	// The head stays at 5, steps to 9 at 1b and back at 3b; a little of the hips' even rise and fall is added.
	m := resolved(t, limbSheet(`track hips
  at  side
  0b  0>
  2b  9>

track head
  at  tilt
  1b  9=
  3b  5=

follow head after hips
  tilt  0.1 of side
`))
	require.Empty(t, m.Problems)
	got := m.Extrema(m.Channel("head/tilt").Index)
	var tops []string
	for _, e := range got {
		tops = append(tops, fmt.Sprintf("%.6g at %.6g %v", e.Value, e.Time, e.High))
	}
	// Before the seam it falls to 5 − 0.45, rises with the hips to 5 + 0 at 1b, steps up, goes on to 9.45 at 2b, and falls
	// to 9 before it steps down: only the seam and 2b are turns.
	assert.Equal(t, []string{"4.55 at 0 false", "9.45 at 36 true"}, tops)
	// At 1b the way up has a step, as the way down has at 3b.
	for _, pace := range m.Paces(m.Channel("head/tilt").Index) {
		assert.Equal(t, math.Inf(1), pace.Peak)
		assert.Zero(t, pace.Evenness())
	}
}

func TestHowEvenAWayIs(t *testing.T) {
	// Half a sine 2/π; a raised cosine the same; a cubic from rest to rest peaks at 3/2 of its mean; a straight line is 1.
	m := resolved(t, limbSheet(`quiver hands
  band             0.6..0.7 Hz
  wrist.left/turn  1.5

breath calm
  hips/drop   2

track hips
  at  side  twist
  0b  -2^   -3>
  1b  6^    .
  2b  .     3>
`))
	require.Empty(t, m.Problems)
	for path, want := range map[string]struct {
		evenness float64
		ways     int
	}{
		"wrist.left/turn": {2 / math.Pi, 4}, "hips/drop": {2 / math.Pi, 2}, "hips/side": {2. / 3, 2}, "hips/twist": {1, 2}, "head/tilt": {0, 0},
	} {
		paces := m.Paces(m.Channel(path).Index)
		assert.Len(t, paces, want.ways, path)
		whole := 0.0
		for _, p := range paces {
			assert.InDelta(t, want.evenness, p.Evenness(), 1e-7, path)
			whole += p.To - p.From
		}
		if want.ways > 0 {
			assert.InDelta(t, 72, whole, 1e-6)
		}
	}
}

func TestTheWaysOfASpanAndOfAnAdvance(t *testing.T) {
	span := resolved(t, map[string]string{"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  span 48f\n\ntrack hips\n  at side\n  12f 0>\n  24f 6>\n  36f 0\n"})
	require.Empty(t, span.Problems)
	var got [][2]float64
	for _, p := range span.Paces(0) {
		got = append(got, [2]float64{p.From, p.To})
		assert.InDelta(t, 0.25, p.Mean, 1e-9) // 6 cm over 24 frames, its stillness counted
		assert.InDelta(t, 0.5, p.Peak, 1e-9)
	}
	assert.Equal(t, [][2]float64{{0, 24}, {24, 48}}, got)
	walk := resolved(t, map[string]string{"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  cycle 48f\n  advance hips/side 96\n\ntrack hips\n  at side\n  0f 0>\n"})
	require.Empty(t, walk.Problems)
	require.Len(t, walk.Paces(0), 1)
	assert.InDelta(t, 2, walk.Paces(0)[0].Mean, 1e-9)
	assert.InDelta(t, 1, walk.Paces(0)[0].Evenness(), 1e-9)
}

func TestTurnsOfRandomSheetsAreThoseSeen(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		body := "track hips\n  at side drop\n"
		for beat := range 4 {
			body += fmt.Sprintf("  %db %d%s %d\n", beat, rapid.IntRange(-9, 9).Draw(rt, "side"), rapid.SampledFrom([]string{"", "^", ">"}).Draw(rt, "mark"), rapid.IntRange(-9, 9).Draw(rt, "drop"))
		}
		body += fmt.Sprintf("\nfollow spine after hips\n  lag %df\n  lean %d of side\n\nfollow spine after head\n  spring %d Hz damping 0.3\n  lean 1 of tilt\n", rapid.IntRange(0, 30).Draw(rt, "lag"), rapid.IntRange(-2, 2).Draw(rt, "gain"), rapid.IntRange(1, 4).Draw(rt, "hertz"))
		body += "\nfollow head after hips\n  tilt 1 of drop\n"
		m := resolved(t, limbSheet(body))
		require.Empty(rt, m.Problems)
		c := m.Channel("spine/lean")
		got := m.Extrema(c.Index)
		for _, w := range lookedAt(m, c) {
			// A turn that was seen is found near there, or the way there is so flat that nobody would see it.
			nearest := math.Inf(1)
			for _, g := range got {
				if g.High == w.High {
					nearest = min(nearest, math.Abs(math.Remainder(g.Time-w.Time, 72)))
				}
			}
			if nearest > 0.02 {
				flat := math.Abs(c.At(w.Time+0.05)-w.Value) + math.Abs(c.At(w.Time-0.05)-w.Value)
				require.Less(rt, flat, 1e-4, "a turn at %g", w.Time)
			}
		}
	})
}

// TestWhatGoesEvenlyMayDoSo holds the quick look at samples to the exact one: no even way of a third of a second is missed.
func TestWhatGoesEvenlyMayDoSo(t *testing.T) {
	even, spared := 0, 0
	for _, body := range []string{sway, manyParts, manyParts + planted, "track spine\n  at  lean\n  0b  0>\n  2b  9>\n", "track spine\n  at  lean\n  0b  0\n  2b  9\n\nquiver spine\n  every 1b\n  seed 3\n  band 0.5..2Hz\n  lean 2\n"} {
		m := resolved(t, map[string]string{"sheet.motet": "sheet s\n  rig figure\n  tempo 80 bpm\n  cycle 4b\n\n" + body + limbRigBelow})
		require.True(t, m.Whole(), "%v", m.Problems)
		s := m.SampledByFrame()
		for i := range m.Channels {
			for _, evenness := range []float64{0.6, 0.7, 0.8, 0.9} {
				may := s.MayGoEvenly(i, evenness, 8)
				if !may {
					spared++
				}
				for _, pace := range m.Paces(i) {
					if pace.To-pace.From >= 8 && pace.Evenness() > evenness {
						even++
						require.True(t, may, "%s from %g to %g: %g", m.Channels[i].Dial.Path, pace.From, pace.To, pace.Evenness())
					}
				}
			}
		}
	}
	require.Positive(t, even)
	require.Positive(t, spared)
}
