package exchange

import (
	"fmt"
	"math"
	"slices"

	"github.com/qmuntal/gltf"
)

// A weightPath is one morph target of one node over a clip. Weights are in per cent, as the dials of a sheet are.
type weightPath struct {
	node, target int
	name         string
	rest         float64 // where no clip moves it
	// path is the weight at every step, and clip the same before its ends were joined; nil for one that stays at value.
	path, clip []float64
	value      float64
	track      *track
}

func (w *weightPath) moves() bool { return w.path != nil }

// sampleWeights reads the weights that a clip moves, or holds elsewhere than where they rest.
func (s *skeleton) sampleWeights(d *Document, clip *Clip, time timing) error {
	for i := range clip.weights {
		t := &clip.weights[i]
		b := d.blends[t.node]
		for target := range t.width {
			w := weightPath{node: t.node, target: target, name: b.names[target], rest: 100 * b.restOf(target), track: t, value: 100 * t.weightKey(0, target)}
			if t.stirs(target) {
				w.path = make([]float64, s.steps)
			} else if w.value == w.rest {
				continue
			}
			s.weights = append(s.weights, w)
			if most := d.jointFrames(); len(s.weights)*time.frames > most {
				return fmt.Errorf("the clip is %d frames of more than %s at %s, more than is read at once of such a file (%d joint frames); export a shorter piece, or import it at a lower rate", time.frames, count(len(s.weights)-1, "morph target"), time.rate, most)
			}
		}
	}
	for i := range s.weights {
		w := &s.weights[i]
		for k := range w.path {
			w.path[k] = 100 * w.track.weightFrom(w.target, time.seconds(k))
		}
		w.clip = w.path
	}
	return nil
}

// stirs tells whether a target's weight ever leaves its first value.
func (t *track) stirs(target int) bool {
	per := t.width
	if t.kind == gltf.InterpolationCubicSpline {
		per *= 3
	}
	first := t.weightKey(0, target)
	for i := range t.times {
		if t.weightKey(i, target) != first {
			return true
		}
		if per != t.width && len(t.times) > 1 && (t.values[i*per+target] != 0 || t.values[i*per+2*t.width+target] != 0) {
			return true
		}
	}
	return false
}

// What weights count for among joints where the ends of a clip are looked at: noise is the gap in per cent below which
// ends are equal, and an effect of so many centimetres a per cent is about what a shape of a face does to it.
const (
	noiseWeight  = 0.2
	weightEffect = 0.05
)

// weightsAtEnds adds to a finding what the weights say about the ends of a clip, and to the body's gap and oddity theirs.
func (found *loopFinding) weightsAtEnds(s *skeleton, body, odd *float64) {
	for i := range s.weights {
		path := s.weights[i].path
		if path == nil {
			continue
		}
		last := len(path) - 1
		gap := math.Abs(path[last] - path[0])
		var steps []float64
		for k := stepsPerFrame; k <= last; k += stepsPerFrame {
			steps = append(steps, math.Abs(path[k]-path[k-stepsPerFrame]))
		}
		ordinary := median(steps)
		if gap > found.gap.Weight {
			found.gap.Weight, found.gap.WeightName = gap, s.weights[i].name
		}
		before, after := path[last]-path[last-stepsPerFrame], path[stepsPerFrame]-path[0]
		*body += weightEffect * gap
		*odd += weightEffect * math.Abs(path[0]-path[last]-(before+after)/2)
		switch {
		case gap > math.Max(noiseWeight, ordinary):
			found.ending = Open
		case found.ending == Closes && gap > noiseWeight:
			found.ending = Joined
		}
	}
}

// weightSteps adds to the body's steps from frame to frame those of the weights.
func (s *skeleton) weightSteps(sums []float64) {
	for i := range s.weights {
		if path := s.weights[i].path; path != nil {
			for f := range sums {
				sums[f] += weightEffect * math.Abs(path[(f+1)*stepsPerFrame]-path[f*stepsPerFrame])
			}
		}
	}
}

// closeWeights makes the ends of all weights meet, as [skeleton.close] does those of joints.
func (s *skeleton) closeWeights(ending Ending, frames int) {
	for i := range s.weights {
		w := &s.weights[i]
		switch {
		case w.path == nil:
		case ending == LacksFrame:
			first, off := w.path[0], w.path[len(w.path)-1]
			for k := 1; k <= stepsPerFrame; k++ {
				w.path = append(w.path, off+(first-off)*float64(k)/stepsPerFrame)
			}
			w.clip = w.path
		default:
			w.path = slices.Clone(w.path)
			drawn, last := drawnSteps(frames), len(w.path)-1
			gap := w.path[0] - w.path[last]
			for k := 0; k <= drawn && 2*drawn <= last; k++ {
				share := drawnShare(k, drawn)
				w.path[last-k] += gap * share
				w.path[k] -= gap * share
			}
			w.path[last] = w.path[0]
		}
	}
}
