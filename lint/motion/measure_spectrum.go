package motion

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Spectrum is one or several closed signals of one length taken apart into harmonics, without their means and what they
// gain each round: share u of the round is Σ 2·|Xₖ|·cos(2π·k·u + arg Xₖ). Harmonics of half the sampling rate and above
// can't be told apart and are left out. Several signals, such as a joint's three axes, are one thing that is compared as
// a whole.
type Spectrum struct {
	count     int // samples a round
	harmonics int // of each signal, from 0, whose place is empty
	parts     []complex128
	square    float64
}

// Correlator compares closed signals of one length. It uses its memory again, so it belongs to one goroutine; spectra
// can be shared.
type Correlator struct {
	count   int
	fft     *fourier.FFT
	samples []float64
	cross   []complex128
	sums    []float64

	turns    [][2]complex128 // what turnsFor says of turnLags
	turnLags int
}

// NewCorrelator makes a correlator of signals of a number of samples, at least 1.
func NewCorrelator(count int) *Correlator {
	return &Correlator{
		count: count, fft: fourier.NewFFT(count),
		samples: make([]float64, count), cross: make([]complex128, count/2+1),
	}
}

// idle are correlators that nobody uses at the moment. What one prepares for its length takes longer than a question.
var idle sync.Pool

// LendCorrelator gives a correlator that somebody may have used before, as [NewCorrelator] does; hand it back with
// [Correlator.Return].
func LendCorrelator(count int) *Correlator {
	if c, ok := idle.Get().(*Correlator); ok && c.count == count {
		return c
	}
	return NewCorrelator(count)
}

// Return hands a correlator back, after which it must not be used.
func (c *Correlator) Return() { idle.Put(c) }

// Spectrum takes closed signals of the correlator's length apart. One whose departures are no more than rounding makes of
// its size, a millionth of a millionth, stays still.
func (c *Correlator) Spectrum(signals ...Signal) *Spectrum {
	s := &Spectrum{count: c.count, harmonics: (c.count + 1) / 2}
	s.parts = make([]complex128, s.harmonics*len(signals))
	for i, signal := range signals {
		size := math.Abs(signal.Gain)
		for _, v := range signal.Samples {
			size = max(size, math.Abs(v))
		}
		xs, square := c.transform(signal, true)[:s.harmonics], 0.0
		for _, x := range xs {
			square += 2 * squared(x)
		}
		if math.Sqrt(square) > 1e-12*size {
			copy(s.parts[i*s.harmonics:], xs)
			s.square += square
		}
	}
	return s
}

// transform gives a signal's harmonics from 0, each as the mean of signal × e^(−2πi·k·u), good until the next call.
func (c *Correlator) transform(signal Signal, withoutMean bool) []complex128 {
	signal.departures(c.samples, withoutMean)
	c.cross = c.fft.Coefficients(c.cross, c.samples)
	scale := complex(1/float64(c.count), 0)
	for k := range c.cross {
		c.cross[k] *= scale
	}
	if withoutMean {
		c.cross[0] = 0
	}
	return c.cross
}

// Match says how well one signal is another played later.
type Match struct {
	Lag         float64 // samples by which the second comes after the first; within half a round, or the asked limit
	Correlation float64 // of the two at that lag: 1 is the same but for size and mean, −1 the opposite, 0 nothing
}

// BestLagWithin finds the lag within some samples of 0 at which b is most like a, and the one at which it is most like a's
// opposite, each by a correlation of at least least; a match of correlation 0 is none. Only a true summit counts, and not the
// way up to one farther off. It costs much less than [Correlator.BestLag]: it looks at every second sample's lag, and between
// two the sum of all harmonics departs from its summit by no more than half its greatest bend (Taylor's theorem), so that
// nearly always it can stop there. The opposite's correlation is told as that of the opposite: above 0.
func (c *Correlator) BestLagWithin(a, b *Spectrum, farthest, least float64) (alike, opposite Match) {
	size := math.Sqrt(a.square) * math.Sqrt(b.square)
	if size == 0 || a.count != c.count || b.count != c.count || len(a.parts) != len(b.parts) {
		return Match{}, Match{}
	}
	clear(c.cross)
	for i, x := range a.parts {
		c.cross[i%a.harmonics] += conjugate(x) * b.parts[i]
	}
	lags := 2*int(math.Ceil(farthest/2)) + 1
	sums := slices.Grow(c.sums[:0], lags)[:lags]
	clear(sums)
	c.sums = sums
	bend, angle, small := 0.0, 2*math.Pi/float64(c.count), 1e-6*size
	turns := c.turnsFor(lags)
	for k, x := range c.cross {
		reach := 2 * (math.Abs(real(x)) + math.Abs(imag(x)))
		bend += reach * (angle * float64(k)) * (angle * float64(k))
		if reach < small/float64(len(c.cross)) {
			continue // all of these together are less than what is granted below
		}
		turn, step := turns[k][0], turns[k][1]
		for lag := range sums {
			sums[lag] += 2 * real(x*turn)
			turn *= step
		}
	}
	enough := least*size - bend/2 - small - 1e-9*size
	alike = c.bestOf(sums, enough, farthest, least*size)
	for lag := range sums {
		sums[lag] = -sums[lag]
	}
	for k := range c.cross {
		c.cross[k] = -c.cross[k]
	}
	opposite = c.bestOf(sums, enough, farthest, least*size)
	alike.Correlation, opposite.Correlation = min(alike.Correlation/size, 1), min(opposite.Correlation/size, 1)
	return alike, opposite
}

// turnsFor gives, for each harmonic, where the first of some lags stands on the circle, and how far it is to the next.
func (c *Correlator) turnsFor(lags int) [][2]complex128 {
	if c.turnLags != lags {
		c.turnLags = lags
		c.turns = slices.Grow(c.turns[:0], len(c.cross))[:len(c.cross)]
		angle := 2 * math.Pi / float64(c.count)
		for k := range c.turns {
			c.turns[k] = [2]complex128{onCircle(-angle * float64(k) * float64(lags-1)), onCircle(2 * angle * float64(k))}
		}
	}
	return c.turns
}

// bestOf climbs the summits near the sums of every second lag that may be high enough, and gives the highest.
func (c *Correlator) bestOf(sums []float64, enough, farthest, least float64) (best Match) {
	for i, v := range sums {
		if v < enough || i > 0 && sums[i-1] > v || i+1 < len(sums) && sums[i+1] > v {
			continue
		}
		lag, value, ok := summitNear(c.cross, float64(2*i-(len(sums)-1)), 2, c.count)
		if ok && math.Abs(lag) <= farthest+1e-6 && value >= least && value > best.Correlation {
			best = Match{lag, value}
		}
	}
	return best
}

// summitNear climbs to a summit of [harmonicSum] within some samples of a place, by Newton's method on the slope, held
// between places at which it is known to rise and to fall. It is false where there is none.
func summitNear(cross []complex128, start, within float64, n int) (at, value float64, ok bool) {
	low, high := start-within, start+within
	at = start
	for range 60 {
		v, slope, bend := harmonicSum(cross, at, n)
		if slope > 0 {
			low = at
		} else {
			high = at
		}
		next := (low + high) / 2
		if bend < 0 && at-slope/bend > low && at-slope/bend < high {
			next = at - slope/bend
		}
		if math.Abs(next-at) <= 1e-7 { // whose square is what Newton's method leaves
			return next, v, next > start-within+1e-6 && next < start+within-1e-6
		}
		at = next
	}
	return at, value, false
}

func onCircle(angle float64) complex128 {
	sin, cos := math.Sincos(angle)
	return complex(cos, sin)
}

// BestLag finds the lag at which b is most like a, by circular cross-correlation: the harmonics of both multiplied, one
// by the other's conjugate (the correlation theorem of the Fourier transform), and from each summit among the samples on
// by Newton's method on the same harmonics, so that the lag is exact between samples too for what they can show. Of
// several lags as good, as after a whole round of a signal that comes twice, the one nearest to 0 counts, as long as one
// such round has eight samples. A signal that stays still matches nothing: lag 0, correlation 0.
//
// Signals of unequal number or length give nothing either. To find the best opposite, compare with a negated signal.
func (c *Correlator) BestLag(a, b *Spectrum) Match {
	if a.count != c.count || b.count != c.count || len(a.parts) != len(b.parts) {
		return Match{}
	}
	size := math.Sqrt(a.square) * math.Sqrt(b.square)
	if size == 0 {
		return Match{}
	}
	clear(c.cross)
	for i, x := range a.parts {
		c.cross[i%a.harmonics] += conjugate(x) * b.parts[i]
	}
	lag, value := bestShift(c.fft, c.cross, c.samples, 1e-9*size)
	return Match{lag, min(max(value/size, -1), 1)}
}

// Correlation is the correlation of b, played lag samples earlier, with a; at a lag of 0 that of the signals as they are.
// It is 0 where one of the two stays still.
func (a *Spectrum) Correlation(b *Spectrum, lag float64) float64 {
	size := math.Sqrt(a.square) * math.Sqrt(b.square)
	if size == 0 || len(a.parts) != len(b.parts) || a.count != b.count {
		return 0
	}
	sum := 0.0
	for i, x := range a.parts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i%a.harmonics) * lag / float64(a.count))
		sum += 2 * real(conjugate(x)*b.parts[i]*complex(cos, sin))
	}
	return min(max(sum/size, -1), 1)
}

// MeanSquare is the mean square of the signals' departures from their means, added up (Parseval's theorem).
func (a *Spectrum) MeanSquare() float64 { return a.square }

// Harmonic is one sine of a signal.
type Harmonic struct {
	Number    int     // rounds in the cycle; 0 for a signal that stays still
	Amplitude float64 // the signal's unit
	Crest     float64 // where it first is highest, as a share of the cycle from 0
	Share     float64 // of the signal's mean square, 0 to 1
}

// Main is the strongest harmonic of one of the signals: its main period is the cycle's length ÷ Number. Of two as strong
// the slower counts.
func (a *Spectrum) Main(part int) Harmonic {
	var h Harmonic
	xs := a.parts[part*a.harmonics : (part+1)*a.harmonics]
	sum, best := 0.0, 0.0
	for k, x := range xs {
		sum += squared(x)
		if squared(x) > best*(1+1e-9) {
			h.Number, best = k, squared(x)
		}
	}
	if h.Number == 0 {
		return h
	}
	x := xs[h.Number]
	// 2·|X|·cos(2π·k·u + arg X) is highest where the angle is a whole number of rounds.
	round := -math.Atan2(imag(x), real(x)) / (2 * math.Pi)
	h.Crest = wrapTime(round, 1) / float64(h.Number)
	h.Amplitude, h.Share = 2*math.Sqrt(best), best/sum
	return h
}

// SecondHalfMirrors is how much each half of a period, in samples, mirrors the one before it: −Σx(t)·x(t+T/2) ÷ Σx²,
// 1 for a sine of that period, and less the more uneven the two ways are. It is 0 for a signal that stays still.
func (a *Spectrum) SecondHalfMirrors(period float64) float64 { return -a.Correlation(a, period/2) }

func conjugate(x complex128) complex128 { return complex(real(x), -imag(x)) }

func squared(x complex128) float64 { return real(x)*real(x) + imag(x)*imag(x) }

// bestShift finds the shift, in samples of the transform and within half a round, at which [harmonicSum] of some crossed
// harmonics is greatest, and that value. Of shifts that are as good but for the tolerance the one nearest to 0 counts.
// There are as many harmonics as the transform has, and values is lent to it.
func bestShift(fft *fourier.FFT, cross []complex128, values []float64, tolerance float64) (shift, value float64) {
	n := fft.Len()
	values = fft.Sequence(values, cross) // it adds up both signs of k, unscaled
	least, greatest := slices.Min(values), slices.Max(values)
	// The vertex of the parabola through a sample and its neighbours says how high its summit is, near enough to climb
	// only those that may be the greatest: a sway of many rounds has as many summits. For a sine of eight samples a round
	// it is 0.4 % of the range off at most; what is faster may be off by its whole size, before and behind.
	tops := make([]float64, 0, 16)
	at := make([]int, 0, 16)
	for i, v := range values {
		before, after := values[(i+n-1)%n], values[(i+1)%n]
		if v < before || v < after || v < greatest-0.1*(greatest-least) {
			continue
		}
		if bend := before - 2*v + after; bend < 0 {
			v -= (after - before) * (after - before) / (8 * bend)
		}
		tops, at = append(tops, v), append(at, i)
	}
	unsure := 0.01 * (greatest - least)
	for _, x := range cross[min(n/8+1, len(cross)):] {
		unsure += 4 * math.Sqrt(squared(x))
	}
	cross = significant(cross)
	value = math.Inf(-1)
	highest := slices.Max(tops)
	for k, i := range at {
		if tops[k] < highest-unsure {
			continue
		}
		top, better := summit(cross, float64(i), n)
		if top > float64(n)/2 {
			top -= float64(n)
		}
		if better > value+tolerance || better > value-tolerance && math.Abs(top) < math.Abs(shift) {
			shift, value = top, better
		}
	}
	return shift, value
}

// significant leaves out the last harmonics, as many as add up to less than rounding does.
func significant(cross []complex128) []complex128 {
	size := func(x complex128) float64 { return math.Abs(real(x)) + math.Abs(imag(x)) }
	sum, tail := 0.0, 0.0
	for _, x := range cross {
		sum += size(x)
	}
	last := len(cross)
	for last > 1 && tail+size(cross[last-1]) <= 1e-14*sum {
		last--
		tail += size(cross[last])
	}
	return cross[:last]
}

// summit climbs from a sample to the greatest value within one sample of it, by Newton's method on the slope. Where the
// curve does not bend down it stays.
func summit(cross []complex128, start float64, n int) (at, value float64) {
	at = start
	from, slope, bend := harmonicSum(cross, at, n)
	for range 20 {
		if !(bend < 0) {
			break
		}
		next := min(max(at-slope/bend, start-1), start+1)
		near := math.Abs(next-at) <= 1e-7 // whose square is what Newton's method leaves
		at = next
		value, slope, bend = harmonicSum(cross, at, n)
		if near {
			break
		}
	}
	if at == start || from > value {
		return start, from
	}
	return at, value
}

// harmonicSum is Re cross₀ + Σ 2·Re crossₖ·e^(2πi·k·at/n), with its first and second derivative by at.
func harmonicSum(cross []complex128, at float64, n int) (value, slope, bend float64) {
	angle := 2 * math.Pi / float64(n)
	sin, cos := math.Sincos(angle * at)
	step, turn := complex(cos, sin), complex(1, 0)
	for k, x := range cross {
		v := x * turn
		turn *= step
		if k == 0 {
			value = real(v)
			continue
		}
		w := angle * float64(k)
		value += 2 * real(v)
		slope -= 2 * w * imag(v)
		bend -= 2 * w * w * real(v)
	}
	return value, slope, bend
}
