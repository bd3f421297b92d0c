package exchange

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The keeper's hips go up and down twice and to the side once a cycle; the larger of both
// is the sway, and the beat divides it into whole frames.
func TestBeatOfASway(t *testing.T) {
	for name, c := range map[string]struct {
		frames       int
		rate         float64
		tempo        float64
		header, span string
	}{
		"3 s at 30":           {90, 30, 0, "tempo     120 bpm", "cycle     6b"},
		"2 s at 24":           {48, 24, 0, "tempo     120 bpm", "cycle     4b"},
		"a prime of frames":   {31, 30, 0, "beat      31f", "cycle     1b"},
		"a tempo asked for":   {90, 30, 80, "tempo     80 bpm", "cycle     4b"},
		"one that won't fit":  {90, 30, 77, "tempo     77 bpm", "cycle     90f"},
		"a tempo in decimals": {90, 30, 112.5, "tempo     112.5 bpm", "cycle     90f"},
	} {
		t.Run(name, func(t *testing.T) {
			r, data := importPuppet(t, lampKeeper(c.frames, c.rate), Options{TempoBPM: c.tempo})
			assert.Contains(t, r.SheetText, "  "+c.header+"\n")
			assert.Contains(t, r.SheetText, "  "+c.span+"\n")
			requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
		})
	}
	_, err := Import(Options{Path: "a.glb", ReadFile: inMemory(map[string][]byte{"a.glb": glb(t, lampKeeper(24, 24).document(t))}), TempoBPM: -5})
	assert.ErrorContains(t, err, "a tempo of -5 bpm is none")
}

// The sway is the main harmonic of the places in the world: 60 frames, one round of the
// spine's lean being the larger motion of spine and head.
func TestSwayPeriod(t *testing.T) {
	d := readPuppet(t, lampKeeper(60, 30))
	f, err := figureOf(d, &d.Clips[0], Options{Within: DefaultWithin()})
	assert.NoError(t, err)
	assert.Contains(t, []float64{30, 60}, f.sway())
}
