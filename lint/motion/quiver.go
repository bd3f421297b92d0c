package motion

import (
	"hash/fnv"
	"math"
)

// Quiver is the micro-movement of one channel: a sum of harmonics of its period, with zero mean and the asked peak. The
// same name, seed and band are the same motion for ever.
type Quiver struct {
	terms     quiverTerms
	period    float64 // frames
	amplitude float64 // the channel's unit
	lowest    int     // the first harmonic
	weights   []float64
	phases    []float64 // radians
}

// quiverTerms are all that a quiver is made from, in the order of [NewQuiver].
type quiverTerms struct {
	path              string
	seed              uint64
	period, amplitude float64
	first, last       int
}

// Harmonics gives the harmonics of a period, in seconds, whose frequencies lie in a band in Hz, as the first and the
// last; the last is below the first where there are none. The limits count as inside, noise of arithmetic allowed for.
func Harmonics(seconds, from, to float64) (first, last int) {
	const noise = 1e-9
	first = max(1, int(math.Ceil(from*seconds-noise)))
	last = int(math.Floor(to*seconds + noise))
	return first, last
}

// NewQuiver makes the quiver of the harmonics first … last of a period in frames. Harmonic h has the weight 1/h and the
// phase that [quiverPhase] gives it; the sum is scaled so that its largest departure is the amplitude. The path is the
// channel's, control/channel.
func NewQuiver(path string, seed uint64, period, amplitude float64, first, last int) *Quiver {
	q := &Quiver{terms: quiverTerms{path, seed, period, amplitude, first, last}, period: period, lowest: first}
	for h := first; h <= last; h++ {
		q.weights = append(q.weights, 1/float64(h))
		q.phases = append(q.phases, 2*math.Pi*quiverPhase(path, seed, h))
	}
	q.amplitude = 1
	if peak := q.peak(); peak > 0 {
		q.amplitude = amplitude / peak
	}
	return q
}

// quiverPhase is the phase of a harmonic as a share of a round, from 0 up to but not including 1. The path's UTF-8
// bytes in NFC are hashed by FNV-1a of 64 bits (G. Fowler, L. C. Noll, K.-P. Vo); the hash plus the seed times
// 2⁶⁴/φ starts a SplitMix64 sequence (G. L. Steele, D. Lea, C. H. Flood, Fast Splittable Pseudorandom Number Generators,
// OOPSLA 2014); its h-th number's upper 53 bits are the share. So a harmonic keeps its phase when the band grows.
func quiverPhase(path string, seed uint64, h int) float64 {
	const gamma = 0x9E3779B97F4A7C15
	hash := fnv.New64a()
	hash.Write([]byte(path))
	z := hash.Sum64() + seed*gamma + uint64(h)*gamma
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	z ^= z >> 31
	return float64(z>>11) / (1 << 53)
}

// at is the value and the slope a frame.
func (q *Quiver) at(t float64) (value, slope float64) {
	round := 2 * math.Pi / q.period
	for i, weight := range q.weights {
		h := float64(q.lowest+i) * round
		sin, cos := math.Sincos(h*t + q.phases[i])
		value += weight * sin
		slope += weight * h * cos
	}
	return value * q.amplitude, slope * q.amplitude
}

// bend is the second derivative, for Newton's method.
func (q *Quiver) bend(t float64) (value float64) {
	round := 2 * math.Pi / q.period
	for i, weight := range q.weights {
		h := float64(q.lowest+i) * round
		value -= weight * h * h * math.Sin(h*t+q.phases[i])
	}
	return value * q.amplitude
}

// peak finds the largest departure: every sign change of the slope on a grid of 16 points a round of the highest
// harmonic holds a turn, and each is refined by bisection and Newton's method.
func (q *Quiver) peak() float64 {
	points := 16 * (q.lowest + len(q.weights))
	step := q.period / float64(points)
	best := 0.0
	_, before := q.at(0)
	for i := range points {
		from := float64(i) * step
		_, after := q.at(from + step)
		if before*after <= 0 {
			value, _ := q.at(q.turn(from, from+step))
			best = max(best, math.Abs(value))
		}
		before = after
	}
	return best
}

func (q *Quiver) turn(low, high float64) float64 {
	_, lowSlope := q.at(low)
	for range 20 {
		middle := (low + high) / 2
		if _, slope := q.at(middle); slope*lowSlope > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	t := (low + high) / 2
	for range 4 {
		_, slope := q.at(t)
		if bend := q.bend(t); bend != 0 {
			t = min(max(t-slope/bend, low-1e-9), high+1e-9)
		}
	}
	return t
}

// Breath is the breathing of one channel: raised cosines from 0 up to a depth and back.
type Breath struct {
	length float64 // of one breath, frames
	starts float64 // when the first in-breath begins, frames
	inhale float64 // the in-breath's share of a breath
	pause  float64 // the share of the stillness at its end
	depth  float64 // the channel's unit
}

// NewBreath makes count breaths in a period in frames.
func NewBreath(period float64, count int, starts, inhale, pause, depth float64) *Breath {
	return &Breath{period / float64(count), starts, inhale, pause, depth}
}

// at is the value and the slope a frame.
func (b *Breath) at(t float64) (value, slope float64) {
	share := wrapTime(t-b.starts, b.length) / b.length
	exhale := 1 - b.inhale - b.pause
	switch {
	case share < b.inhale:
		sin, cos := math.Sincos(math.Pi * share / b.inhale)
		return b.depth * (1 - cos) / 2, b.depth * math.Pi / (2 * b.inhale * b.length) * sin
	case share < b.inhale+exhale:
		sin, cos := math.Sincos(math.Pi * (share - b.inhale) / exhale)
		return b.depth * (1 + cos) / 2, -b.depth * math.Pi / (2 * exhale * b.length) * sin
	}
	return 0, 0
}

// Frames is the length of one breath in frames.
func (b *Breath) Frames() float64 { return b.length }
