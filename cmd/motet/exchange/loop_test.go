package exchange

import (
	"math"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// swing is a lamp on a rope that turns by at(frame) degrees at every frame of 0 to last.
func swing(last int, at func(frame float64) float64) puppet {
	p := puppet{nodes: []*gltf.Node{
		{Name: "Rope", Translation: [3]float64{0, 3, 0}, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Children: []int{1}},
		{Name: "Lamp", Translation: [3]float64{0, -1, 0}, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale},
	}}
	p.clips = []clipSpec{{name: "Swing", tracks: []trackSpec{baked(0, gltf.TRSRotation, 24, 0, last, func(f float64) []float64 { return aboutAxis(2, at(f)) })}}}
	return p
}

func TestEndings(t *testing.T) {
	for name, c := range map[string]struct {
		clip   puppet
		want   Ending
		frames int
		gapDeg float64
	}{
		"closes":                {swing(48, func(f float64) float64 { return wave(f, 48, 1, 20) }), Closes, 48, 0},
		"closes but for noise":  {swing(48, func(f float64) float64 { return wave(f, 48, 1, 20) + 0.0007*f/48 }), Closes, 48, 0.0007},
		"lacks its last frame":  {swing(47, func(f float64) float64 { return wave(f, 48, 1, 20) }), LacksFrame, 48, 20 * math.Sin(2*math.Pi/48)},
		"starts where it turns": {swing(47, func(f float64) float64 { return 20 * math.Cos(2*math.Pi*f/48) }), Joined, 47, 20 * (1 - math.Cos(2*math.Pi/48))},
		"is no loop":            {swing(48, func(f float64) float64 { return wave(f, 48, 1, 20) + 12*f/48 }), Open, 48, 12},
		"is half a loop":        {swing(24, func(f float64) float64 { return 20 * math.Cos(math.Pi*f/24) }), Open, 24, 40},
		"holds, then steps":     {swing(48, func(f float64) float64 { return 9 * math.Max(0, f-44) / 4 }), Open, 48, 9},
	} {
		t.Run(name, func(t *testing.T) {
			r, _ := importPuppet(t, c.clip, Options{})
			assert.Equal(t, c.want, r.Loop, "%v", r.Report)
			assert.InDelta(t, c.gapDeg, r.Gap.TurnDeg, 1e-3)
			assert.Equal(t, "Rope", r.Gap.TurnJoint)
			m := resolve(t, r)
			assert.Equal(t, float64(c.frames), m.Sheet.Length.Float())
			assert.Equal(t, c.want != Open, m.Sheet.Closed)
		})
	}
}

// The frame that a clip lacks is where the whole clip has it.
func TestTheMissingFrameIsAdded(t *testing.T) {
	r, data := importPuppet(t, swing(47, func(f float64) float64 { return wave(f, 48, 1, 20) }), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	m := resolve(t, r)
	for _, frame := range []float64{47, 47.5, 48, 0} {
		// Within the limit and what a straight line between two frames of this sine leaves out.
		assert.InDelta(t, wave(frame, 48, 1, 20), turnAbout(m.Values(frame, nil), m.Rig.Channels[0].Drives[0].Gain), 0.1)
	}
	assert.Contains(t, r.Report[1], "lacks its closing frame")
}

func turnAbout(values []float64, gain float64) float64 { return values[0] * gain }

// A clip that is no loop, forced to be a cycle, keeps its gap for the check to find.
func TestForcedCyclesKeepTheirGap(t *testing.T) {
	clip := swing(48, func(f float64) float64 { return wave(f, 48, 1, 20) + 12*f/48 })
	r, data := importPuppet(t, clip, Options{Cycle: true})
	assert.Equal(t, Forced, r.Loop)
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	m := resolve(t, r)
	require.True(t, m.Sheet.Closed)
	keys := m.Channels[0].Base.Keys
	first, last := keys[0], keys[len(keys)-1]
	assert.Equal(t, m.Sheet.Length, last.Time, "there is a closing row")
	assert.InDelta(t, 12, math.Abs(last.Value-first.Value), 0.5)
	assert.Contains(t, r.Report[1], "12")
	// A loop is a cycle anyway.
	r, _ = importPuppet(t, swing(48, func(f float64) float64 { return wave(f, 48, 1, 20) }), Options{Cycle: true})
	assert.Equal(t, Closes, r.Loop)
}

// A joint that turns whole rounds gains them: its quaternions close, its numbers go on.
func TestASpinAdvances(t *testing.T) {
	for _, rounds := range []float64{1, -2} {
		r, data := importPuppet(t, swing(48, func(f float64) float64 { return rounds*360*f/48 + wave(f, 48, 1, 15) }), Options{})
		assert.Equal(t, Closes, r.Loop)
		requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
		m := resolve(t, r)
		assert.InDelta(t, 360*math.Abs(rounds), math.Abs(m.Sheet.Advance[m.Rig.Channels[0].Path]), 1e-9)
		// Half way through the third round it is half way through the motion, two gains on.
		assert.InDelta(t, m.Channels[0].At(24)+2*m.Sheet.Advance[m.Rig.Channels[0].Path], m.Channels[0].At(120), 1e-9)
	}
	// A steady spin takes two keys.
	r, data := importPuppet(t, swing(48, func(f float64) float64 { return 360 * f / 48 }), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Equal(t, 2, r.Keys)
}
