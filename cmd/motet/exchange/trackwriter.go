package exchange

import (
	"math"

	"github.com/qmuntal/gltf"
)

// A trackWriter gathers the keys of a track. Times come in frames and go out in seconds of 32 bits, as glTF stores them,
// each later than the one before; slopes come a frame and go out a second.
type trackWriter struct {
	track

	reel *reel
	rate float64
}

func newTrackWriter(r *reel) *trackWriter {
	width, node := 3, r.joint
	switch r.property {
	case turns:
		width = 4
	case weighs:
		width, node = 1, r.morph
	}
	return &trackWriter{track: track{node: node, property: r.property, width: width}, reel: r, rate: r.sampled.motion.Sheet.Rate.Float()}
}

// justBefore is the last moment of 32 bits before one.
func (w *trackWriter) justBefore(frames float64) float64 {
	return float64(math.Nextafter32(float32(frames/w.rate), 0)) * w.rate
}

// key writes one key. The kind is known before the first one.
func (w *trackWriter) key(frames float64, in, value, out quat) {
	seconds := float32(frames / w.rate)
	if n := len(w.times); n > 0 && seconds <= float32(w.times[n-1]) {
		seconds = math.Nextafter32(float32(w.times[n-1]), math.MaxFloat32)
	}
	w.times = append(w.times, float64(seconds))
	if w.kind == gltf.InterpolationCubicSpline {
		in, out = in.times(w.rate), out.times(w.rate)
		w.values = append(w.values, in[:w.width]...)
		w.values = append(w.values, value[:w.width]...)
		w.values = append(w.values, out[:w.width]...)
		return
	}
	w.values = append(w.values, value[:w.width]...)
}

// close ends a cycle's track as it begins: the last key is the first one, to the bit. Where the sheet itself leaves a
// gap, its end stands just before.
func (w *trackWriter) close() {
	r := w.reel
	length := r.sampled.motion.Sheet.Length.Float()
	last := len(w.times) - 1
	first, end := w.key0(0), w.key0(last)
	switch {
	case w.kind == gltf.InterpolationStep && !r.closes && !r.gapes:
		w.key(length, quat{}, end, quat{})
	case w.kind == gltf.InterpolationStep:
		w.key(length, quat{}, first, quat{})
	case r.closes:
		if r.property == turns && first.dot(end) < 0 {
			first = first.times(-1)
		}
		copy(w.values[w.valueAt(last):], first[:w.width])
	case r.gapes:
		w.times[last] = float64(math.Nextafter32(float32(w.times[last]), 0))
		w.key(length, quat{}, first, quat{})
	}
}

// valueAt is where the value of a key stands among the values.
func (t *track) valueAt(i int) int {
	if t.kind == gltf.InterpolationCubicSpline {
		return (3*i + 1) * t.width
	}
	return i * t.width
}

// key0 is the value at a key as it is written.
func (t *track) key0(i int) (out quat) {
	copy(out[:], t.values[t.valueAt(i):t.valueAt(i)+t.width])
	return out
}

// everyMoment is the reel with a key at every moment and straight lines between.
func (r *reel) everyMoment() track {
	w := newTrackWriter(r)
	w.kind = gltf.InterpolationLinear
	for k, v := range r.path {
		w.key(r.sampled.at[k], quat{}, v, quat{})
	}
	w.close()
	return w.track
}
