package exchange

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/gonum/dsp/fourier"
)

// A beat is the pulse that an import proposes or was told.
type beat struct {
	// frames a beat; whole unless a tempo was asked for that makes it otherwise.
	frames float64
	// line is how the header says it: "tempo     100 bpm" or "beat      31f".
	key, value string
	// swayFrames is the period of the body's main sway in frames, 0 when it has none.
	swayFrames float64
}

// findBeat proposes a beat of a whole number of frames: one that the clip is a whole
// number of where it can be, that divides the body's main sway evenly, and that is a pace
// one could tap.
func (f *figure) findBeat(askedBPM float64) beat {
	b := beat{swayFrames: f.sway()}
	rate := f.time.rate.perSecond()
	if askedBPM > 0 {
		b.frames = rate * 60 / askedBPM
		b.key, b.value = "tempo", strconv.FormatFloat(askedBPM, 'f', -1, 64)+" bpm"
		return b
	}
	best, least := 1, math.Inf(1)
	for frames := 1; float64(frames) <= 1.6*rate; frames++ {
		if cost := f.beatCost(frames, b.swayFrames); cost < least-1e-9 {
			best, least = frames, cost
		}
	}
	b.frames = float64(best)
	b.key, b.value = "beat", fmt.Sprintf("%df", best)
	if r := f.time.rate; r.Frames*60%(r.Seconds*int64(best)) == 0 {
		b.key, b.value = "tempo", fmt.Sprintf("%d bpm", r.Frames*60/(r.Seconds*int64(best)))
	}
	return b
}

// easyBeatSeconds is the pace that people tap when asked to tap at ease: about 100 a minute
// (common practice).
const easyBeatSeconds = 0.6

// beatCost weighs a beat: whether the clip is whole beats long, how evenly the sway takes
// them, and how far in octaves it is from an easy pace.
func (f *figure) beatCost(frames int, swayFrames float64) float64 {
	cost := 0.5 * math.Abs(math.Log2(float64(frames)/f.time.rate.perSecond()/easyBeatSeconds))
	if f.time.frames%frames != 0 {
		cost += 1.5
	}
	if swayFrames > 0 {
		times := swayFrames / float64(frames)
		whole := math.Max(1, math.Round(times))
		cost += 1.5 * math.Min(1, math.Abs(times-whole))
		switch whole {
		case 1, 2, 4, 8:
		case 3, 6:
			cost += 0.1
		default:
			cost += 0.3
		}
	}
	return cost
}

// sway is the period in frames of the strongest harmonic of the places of the root, the
// spine and the head in the world, by the discrete Fourier transform over the clip. A span
// is first freed of its drift, which the transform would take for a jump.
func (f *figure) sway() float64 {
	n := f.time.frames
	if n < 8 {
		return 0
	}
	transform := fourier.NewFFT(n)
	power := make([]float64, n/2+1)
	path := make([]float64, n)
	for i := range f.skeleton.joints {
		switch f.skeleton.joints[i].part {
		case "root", "spine", "head":
		default:
			continue
		}
		for axis := range 3 {
			drift := f.world[n*stepsPerFrame][i][axis] - f.world[0][i][axis]
			for k := range path {
				path[k] = f.world[k*stepsPerFrame][i][axis] - drift*float64(k)/float64(n)
			}
			for h, c := range transform.Coefficients(nil, path) {
				power[h] += real(c)*real(c) + imag(c)*imag(c)
			}
		}
	}
	best := 1
	for h := 1; h < len(power); h++ {
		if power[h] > power[best] {
			best = h
		}
	}
	// A body that sways by less than a tenth of a millimetre stands still.
	if amplitude := 2 * math.Sqrt(power[best]) / float64(n); amplitude < 0.01 {
		return 0
	}
	return float64(n) / float64(best)
}
