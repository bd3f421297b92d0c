package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestBulge holds the bulge of cubics to values by hand: the Hermite cubic from 0 to 0 with slopes s and −s over 4 frames
// is 4·s·u·(1 − u), which is s at its middle.
func TestBulge(t *testing.T) {
	for _, c := range []struct {
		name    string
		segment Segment
		by, at  float64
	}{
		{"a hump over a hold", Segment{Kind: Cubic, Start: 8, Duration: 4, Slope0: 3, Slope1: -3}, 3, 10},
		{"a dip under a hold", Segment{Kind: Cubic, Start: 8, Duration: 4, Slope0: -3, Slope1: 3}, -3, 10},
		{"slopes that lead there", Segment{Kind: Cubic, Duration: 4, Value1: 4, Slope0: 1, Slope1: 1}, 0, 0},
		{"a straight line", Segment{Kind: StraightLine, Duration: 4, Value1: 4, Slope0: 1, Slope1: 1}, 0, 0},
		{"an ease that was asked for", Segment{Kind: Eased, Duration: 4, Value1: 4, Slope0: 40, Slope1: -40}, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			by, at := c.segment.Bulge()
			assert.InDelta(t, c.by, by, 1e-12)
			assert.InDelta(t, c.at, at, 1e-12)
		})
	}
}

// TestBulgeIsWhatSamplesShow: no sample of a cubic lies farther outside its two values than the bulge says, and one comes
// near to it.
func TestBulgeIsWhatSamplesShow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-50, 50)
		s := Segment{
			Kind: Cubic, Start: number.Draw(t, "start"), Duration: rapid.Float64Range(1, 60).Draw(t, "frames"),
			Value0: number.Draw(t, "from"), Value1: number.Draw(t, "to"), Slope0: number.Draw(t, "out"), Slope1: number.Draw(t, "in"),
		}
		by, at := s.Bulge()
		p := hermite(s.Start, s.Duration, s.Value0, s.Slope0, s.Value1, s.Slope1)
		low, high, most := min(s.Value0, s.Value1), max(s.Value0, s.Value1), 0.0
		const steps = 2000
		for i := range steps + 1 {
			v := p.at(float64(i) / steps)
			most = max(most, v-high, low-v)
		}
		size := max(by, -by)
		assert.LessOrEqual(t, most, size+1e-9)
		assert.InDelta(t, size, most, 0.01)
		if size > 0 {
			outside := p.at((at - s.Start) / s.Duration)
			assert.InDelta(t, size, max(outside-high, low-outside), 1e-9)
		}
	})
}

// TestReach holds the farthest values of channels to sums by hand.
func TestReach(t *testing.T) {
	m := reachExample(t, `
track hips
  at      side    drop
  0b      2       -1
  2b      -2      -3

overlap
  hips      6f

breath calm
  count             1
  inhale            50%
  hips/drop         -2
`)
	side := m.Rig.DialIndex("hips/side")
	least, most := m.Reach(side)
	assert.InDelta(t, -2, least.Value, 1e-12)
	assert.InDelta(t, 42, least.Time, 1e-9, "36 frames and the 6 of the overlap")
	assert.InDelta(t, 2, most.Value, 1e-12)
	assert.InDelta(t, 6, most.Time, 1e-9)
	assert.True(t, most.High)

	drop := m.Rig.DialIndex("hips/drop")
	least, most = m.Reach(drop)
	low, high := 0.0, -100.0
	for i := range 7201 {
		v := m.Channels[drop].At(float64(i) / 100)
		low, high = min(low, v), max(high, v)
	}
	assert.InDelta(t, low, least.Value, 1e-5)
	assert.InDelta(t, high, most.Value, 1e-5)
	assert.InDelta(t, m.Channels[drop].At(least.Time), least.Value, 1e-9)

	least, most = m.Reach(m.Rig.DialIndex("hips/tilt"))
	assert.Equal(t, 0.0, least.Value, "what nothing moves stays at rest")
	assert.Equal(t, 0.0, most.Value)
}

func reachExample(t *testing.T, body string) *Motion {
	t.Helper()
	m := resolved(t, map[string]string{"sheet.motet": `sheet deckhand-wait
  rig       deckhand
  tempo     80 bpm
  cycle     4b
` + body + `
rig deckhand
  height    100

joints
  joint           on              x       y       z
  hips            .               0       50      0

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -12..12     flip    "to their left"
  hips/drop               .               move.y          1       cm      -12..12     keep    "up"
  hips/tilt               .               turn.z          1       deg     -12..12     flip    "left hip up"
`})
	require.Empty(t, m.Problems)
	return m
}
