package exchange

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An export of a sheet has keys between frames. What it notes tells the sheet's rate, and where another program has dropped
// the note, more of the keys lie on the sheet's frames than chance would have: each member of the cast comes back at its own
// rate, in fewer keys than a key a frame.
func TestRateOfExportedClips(t *testing.T) {
	long(t)
	for name, m := range cast(t) {
		_, file := exported(t, TakeWish{Bare: true}, m)
		d, err := Read(file, os.ReadFile)
		require.NoError(t, err)
		clip := &d.Clips[0]
		want := Rate{m.Sheet.Rate.Num(), m.Sheet.Rate.Den()}
		rate, _ := guessRate(clip)
		assert.Equal(t, want, rate, name)
		clip.note = nil
		rate, _ = guessRate(clip)
		assert.Equal(t, want, rate, "%s, without its note", name)
	}
}

// A clip of jumps at whole frames, fitted anew from an export, keeps within the limits at its frames.
func TestExportedClipFittedAnew(t *testing.T) {
	m := cast(t)["keeper"]
	_, file := exported(t, TakeWish{Bare: true}, m)
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	r, err := Import(Options{Path: file, ReadFile: os.ReadFile})
	require.NoError(t, err)
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Equal(t, m.Sheet.Length.Float(), resolve(t, r).Sheet.Length.Float())
	for _, line := range r.Report {
		assert.NotContains(t, line, "NOT within")
	}
	assert.Less(t, r.Keys, r.Baked)
}

func TestRateOfKeysBetweenFrames(t *testing.T) {
	clip := func(rate float64, frames ...float64) *Clip {
		c := &Clip{}
		tr := track{property: moves, width: 3}
		for _, f := range frames {
			tr.times = append(tr.times, f/rate)
			tr.values = append(tr.values, f, 0, 0)
		}
		c.add(tr)
		return c
	}
	draw := rand.New(rand.NewPCG(7, 26))
	// between are frames of a clip of so many, most of them whole, the others on fifths or anywhere.
	between := func(n int, anywhere bool) []float64 {
		frames := []float64{0}
		for f := 1; f < n; f += 2 {
			at := float64(f)
			if draw.IntN(3) == 0 {
				at += float64(1+draw.IntN(4)) / 5
				if anywhere {
					at = float64(f) + draw.Float64()
				}
			}
			frames = append(frames, at)
		}
		return append(frames, float64(n))
	}
	for _, want := range []Rate{{24, 1}, {25, 1}, {30, 1}, {60, 1}, {24000, 1001}, {30000, 1001}} {
		for _, anywhere := range []bool{false, true} {
			got, even := guessRate(clip(want.perSecond(), between(90, anywhere)...))
			assert.Equal(t, want, got, "anywhere %v", anywhere)
			assert.False(t, even)
		}
	}
	// A note is believed, unless the clip is of another length or baked at another rate.
	noted := func(c *Clip, rate string, seconds float64) *Clip {
		c.note = &ClipNote{Rate: rate, Seconds: seconds}
		return c
	}
	every := func(n int, step float64) (frames []float64) {
		for f := 0.0; f <= float64(n)+1e-9; f += step {
			frames = append(frames, f)
		}
		return frames
	}
	sparse := []float64{0, 4, 7.6, 11, 20.8, 37, 48}
	for name, c := range map[string]struct {
		clip *Clip
		want Rate
	}{
		"noted":                        {noted(clip(24, sparse...), "25", 2), Rate{25, 1}},
		"noted as 25, of another span": {noted(clip(24, sparse...), "25", 3), Rate{24, 1}},
		"noted in words":               {noted(clip(24, sparse...), "many", 2), Rate{24, 1}},
		"noted as 24, baked at 60":     {noted(clip(60, every(120, 1)...), "24", 2), Rate{60, 1}},
		"noted as 60, keys on 24":      {noted(clip(24, 0, 10, 30, 48), "60", 2), Rate{60, 1}},
		"baked at 120":                 {clip(120, every(240, 1)...), Rate{120, 1}},
		"baked at 240":                 {clip(240, every(240, 1)...), Rate{240, 1}},
	} {
		got, _ := guessRate(c.clip)
		assert.Equal(t, c.want, got, name)
	}
}

// A track jumps where two keys of one moment have two values. At moments between frames that is told apart, and two keys of one
// value are no jump.
func TestJumps(t *testing.T) {
	time := timing{frames: 48, frame: 1. / 24}
	jumps := func(at, before, after float64) track {
		return track{
			times: []float64{0, at, math.Nextafter(at, 3), 2}, kind: gltf.InterpolationCubicSpline, width: 1,
			values: []float64{0, 0, 0, 0, before, 0, 0, after, 0, 0, 0, 0},
		}
	}
	corner := jumps(1, 3, 3)
	corner.values[3], corner.values[8] = 5, -5
	for name, c := range map[string]struct {
		track  track
		frames []int
		all    bool
	}{
		"on a frame":       {jumps(1, 0, 3), []int{24}, true},
		"between frames":   {jumps(1.02, 0, 3), nil, false},
		"nowhere":          {jumps(1, 3, 3), nil, true},
		"a corner":         {corner, nil, false},
		"at the very end":  {jumps(2-1e-6, 0, 3), []int{48}, true},
		"a hundredth late": {track{times: []float64{0, 1, 1.01, 2}, values: []float64{0, 0, 5, 5}, width: 1}, nil, true},
		"one key":          {track{times: []float64{0}, values: []float64{1}, width: 1}, nil, true},
	} {
		frames, all := c.track.jumpsOn(time)
		assert.Equal(t, c.frames, frames, name)
		assert.Equal(t, c.all, all, name)
	}
}
