package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// sideways is a sheet on the limb rig whose hips move sideways.
func sideways(t *testing.T, header, rows string) *Motion {
	t.Helper()
	m := resolved(t, map[string]string{
		"rig.motet":   limbRig,
		"sheet.motet": "sheet s\n  rig  figure in \"rig.motet\"\n" + header + "\ntrack hips\n  at  side\n" + rows,
	})
	require.Empty(t, m.Problems)
	require.True(t, m.Whole())
	return m
}

// The means follow from the areas of triangles and rectangles, and of a half wave of Hermite's cubic, which is symmetric
// about its middle.
func TestComparing(t *testing.T) {
	const frames = "  rate 24 fps\n  tempo 60 bpm\n  cycle 48f\n"
	tests := map[string]struct {
		oldHeader, oldRows, newHeader, newRows string
		largest, atFrame, mean                 float64
		added, removed                         string
		seamOld, seamNew                       float64
		byBeat                                 bool
	}{
		"lifted all over": {frames, "  0f  1\n  24f  3\n", frames, "  0f  3\n  24f  5\n", 2, 0, 2, "", "", 0, 0, false},
		"one triangle":    {frames, "  0f  0\n", frames, "  0f  0>\n  24f  4>\n  48f  0>\n", 4, 24, 2, "24f 48f", "", 0, 0, false},
		"a hold":          {frames, "  0f  0=\n  24f  0=\n", frames, "  0f  0=\n  24f  6=\n  48f  0\n", 6, 24, 3, "48f", "", 0, 0, false},
		"a smooth wave":   {frames, "  0f  0\n", frames, "  0f  0\n  24f  2\n", 2, 24, 1, "24f", "", 0, 0, false},
		"a key less":      {frames, "  0f  0>\n  12f  2>\n  24f  4>\n  48f  0>\n", frames, "  0f  0>\n  24f  4>\n  48f  0>\n", 0, 0, 0, "", "12f", 0, 0, false},
		"a seam mended":   {frames, "  0f  0>\n  48f  3>\n", frames, "  0f  0>\n  48f  0>\n", 3, 47.75, 1.5, "", "", 3, 0, false},
		"another tempo":   {frames, "  0b  0\n  1b  2\n", "  rate 24 fps\n  tempo 80 bpm\n  cycle 2b\n", "  0b  0\n  1b  2\n", 0, 0, 0, "", "", 0, 0, true},
		"another rate":    {frames, "  0s  0\n  1s  2\n", "  rate 30 fps\n  tempo 60 bpm\n  cycle 60f\n", "  0s  0\n  1s  2\n", 0, 0, 0, "", "", 0, 0, false},
		"twice as long":   {frames, "  0f  0>\n  24f  4>\n  48f  0>\n", "  rate 24 fps\n  tempo 60 bpm\n  cycle 96f\n", "  0f  0>\n  24f  4>\n  48f  0>\n  96f  0>\n", 4, 72, 1, "96f", "", 0, 0, false},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			old, now := sideways(t, test.oldHeader, test.oldRows), sideways(t, test.newHeader, test.newRows)
			got := Compare(old, now)
			assert.Equal(t, test.byBeat, got.ByBeat)
			if test.largest == 0 && test.added == "" && test.removed == "" {
				assert.Empty(t, got.Channels)
				return
			}
			require.Len(t, got.Channels, 1)
			d := got.Channels[0]
			assert.Equal(t, "hips/side", d.Path)
			assert.InDelta(t, test.largest, d.Largest, 0.02)
			if test.largest > 0 {
				assert.InDelta(t, test.atFrame, d.AtFrame, 0.25)
			}
			assert.InDelta(t, test.mean, d.Mean, 0.02)
			assert.Equal(t, test.added, timesText(d.Added))
			assert.Equal(t, test.removed, timesText(d.Removed))
			assert.InDelta(t, test.seamOld, d.SeamOld, 1e-9)
			assert.InDelta(t, test.seamNew, d.SeamNew, 1e-9)
		})
	}
}

func timesText(times []grammar.Rat) (text string) {
	for _, at := range times {
		if text != "" {
			text += " "
		}
		text += at.String() + "f"
	}
	return text
}

func TestComparingIsTheSameBothWays(t *testing.T) {
	const header = "  rate 24 fps\n  tempo 60 bpm\n  cycle 48f\n"
	a, b := sideways(t, header, "  0f  0\n  17f  3\n  30f  -1\n"), sideways(t, header, "  0f  1\n  22f  3^\n")
	there, back := Compare(a, b).Channels[0], Compare(b, a).Channels[0]
	assert.InDelta(t, there.Largest, back.Largest, 1e-9)
	assert.InDelta(t, there.Mean, back.Mean, 1e-12)
	assert.Equal(t, there.Added, back.Removed)
	worst := 0.0
	for at := 0.0; at <= 48; at += 1.0 / 64 {
		worst = math.Max(worst, math.Abs(a.Channel("hips/side").At(at)-b.Channel("hips/side").At(at)))
	}
	assert.InDelta(t, worst, there.Largest, 1e-3)
	assert.GreaterOrEqual(t, there.Largest, worst-1e-9, "the largest is climbed to")
	assert.Empty(t, Compare(a, a).Channels)
}
