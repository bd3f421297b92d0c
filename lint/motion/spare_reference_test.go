package motion

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// resampled is a track as the reference reads it.
type resampled struct {
	Times         []float64 `json:"times"`
	Values        []float64 `json:"values"`
	Interpolation string    `json:"interpolation"`
}

// TestStraightAndSteppedTracksLoseTheKeysThatAnotherToolFindsRedundant compares with the resample of
// @gltf-transform/functions, on tracks of whole quarters, which are exact in its single precision too. Of a run of equal
// values in a stepped track it keeps the last one beside the first; nothing changes there, so those are taken for spare.
func TestStraightAndSteppedTracksLoseTheKeysThatAnotherToolFindsRedundant(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 11))
	var tracks []resampled
	var curves []*Curve
	for i := range 60 {
		shape, interpolation := Straight, "LINEAR"
		if i%2 == 1 {
			shape, interpolation = Stay, "STEP"
		}
		track := resampled{Interpolation: interpolation}
		var knots []Knot
		value, step := 0.0, 0.0
		for k := range 40 {
			if random.IntN(4) == 0 { // now and then the line bends
				step = float64(random.IntN(9)-4) / 4
			}
			track.Times = append(track.Times, float64(k))
			track.Values = append(track.Values, value)
			knots = append(knots, knot(float64(k), value, shape))
			value += step
		}
		tracks = append(tracks, track)
		curves = append(curves, NewCurve(knots, Extent{Length: 39}))
	}
	var left [][]float64
	reference.Ask(t, "resample.mjs", tracks, &left)
	require.Len(t, left, len(curves))
	removed := 0
	for i, c := range curves {
		out := c.Spare(1e-6, inner(c))
		var kept []float64
		for k := range c.Knots() {
			if !slices.Contains(out, k) {
				kept = append(kept, c.Knots()[k].Time)
			}
		}
		theirs := left[i]
		if tracks[i].Interpolation == "STEP" {
			theirs = withoutRunEnds(theirs, tracks[i].Values)
		}
		assert.Equal(t, theirs, kept, "%s track %d: %v", tracks[i].Interpolation, i, tracks[i].Values)
		removed += len(out)
	}
	assert.Greater(t, removed, 500, "the tracks have redundant keys at all")
}

// withoutRunEnds leaves out the times, whole frames from 0, whose value is that of the one before, but for the last.
func withoutRunEnds(times, values []float64) []float64 {
	var out []float64
	for i, t := range times {
		if i > 0 && i < len(times)-1 && values[int(t)] == values[int(times[i-1])] {
			continue
		}
		out = append(out, t)
	}
	return out
}
