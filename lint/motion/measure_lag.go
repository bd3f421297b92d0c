package motion

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// BestSpanLag finds the lag at which b is most like a, of two signals that play once, among −mostLag … mostLag samples
// and so that at least half of each still meets the other. What meets is compared by Pearson's correlation, so that a
// signal that is another one played later gives 1 at that lag, whatever comes before and after. All sums of products
// come from one Fourier transform of each, padded with zeros so that the ends don't meet. Between samples b is taken from
// the cubic through the four nearest; for a sine of 24 samples a round the lag is within 0.001.
//
// A stretch in which one of the two moves by less than a tenth of its own mean square over the whole says nothing, and
// counts as no match. Of several lags as good the one nearest to 0 counts. Signals of unequal length, of fewer than four
// samples, or that stay still give nothing: lag 0, correlation 0.
func BestSpanLag(a, b []float64, mostLag int) Match {
	n := len(a)
	if n < 4 || len(b) != n {
		return Match{}
	}
	mostLag = min(max(mostLag, 0), n/2)
	first, second := newRunning(a), newRunning(b)
	products := spanProducts(first.values, second.values, mostLag)
	correlations := make([]float64, 2*mostLag+1)
	best := 0
	for i := range correlations {
		lag := i - mostLag
		correlations[i] = overlapCorrelation(first, second, lag, products[i])
		rounding := 1e-9
		better := correlations[i] - correlations[best+mostLag]
		if better > rounding || better > -rounding && lag*lag < best*best {
			best = lag
		}
	}
	m := Match{Lag: float64(best), Correlation: correlations[best+mostLag]}
	if lag, correlation, ok := betweenSamples(first.values, second.values, best); ok && correlation > m.Correlation && math.Abs(lag) <= float64(mostLag) {
		m = Match{lag, correlation}
	}
	return m
}

// betweenSamples climbs from the best whole lag to the best one within a sample of it: by the vertex of the parabola
// through the correlations there and a little to both sides, three times with ever nearer sides. It is false where too
// few samples meet.
func betweenSamples(a, b []float64, best int) (lag, correlation float64, ok bool) {
	from, to := max(0, 2-best), min(len(a), len(b)-best-3)
	if to-from < 4 {
		return 0, 0, false
	}
	fits := func(lag float64) float64 { return pearsonBetween(a[from:to], b, float64(from)+lag) }
	lag = float64(best)
	for _, side := range [3]float64{0.5, 0.2, 0.05} {
		before, here, after := fits(lag-side), fits(lag), fits(lag+side)
		if bend := before - 2*here + after; bend < 0 {
			lag += min(max(side*(before-after)/(2*bend), -side), side)
		}
		lag = min(max(lag, float64(best)-0.9), float64(best)+0.9)
	}
	return lag, fits(lag), true
}

// pearsonBetween is the correlation of a with b from a place between its samples on, each taken from the cubic through
// the four samples about it (Lagrange).
func pearsonBetween(a, b []float64, start float64) float64 {
	whole := math.Floor(start)
	f, first := start-whole, int(whole)
	w := [4]float64{-f * (f - 1) * (f - 2) / 6, (f + 1) * (f - 1) * (f - 2) / 2, -(f + 1) * f * (f - 2) / 2, (f + 1) * f * (f - 1) / 6}
	n, sumA, sumB, ab, aa, bb := float64(len(a)), 0.0, 0.0, 0.0, 0.0, 0.0
	for i, x := range a {
		near := b[first+i-1 : first+i+3]
		y := w[0]*near[0] + w[1]*near[1] + w[2]*near[2] + w[3]*near[3]
		sumA, sumB = sumA+x, sumB+y
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	aa, bb = aa-sumA*sumA/n, bb-sumB*sumB/n
	if aa <= 0 || bb <= 0 {
		return 0
	}
	return min(max((ab-sumA*sumB/n)/math.Sqrt(aa*bb), -1), 1)
}

// running is a signal less its mean, with the sums and the sums of squares of its first samples.
type running struct{ values, sums, squares []float64 }

func newRunning(samples []float64) running {
	n := len(samples)
	all := make([]float64, 3*n+2)
	r := running{all[:n], all[n : 2*n+1], all[2*n+1:]}
	mean := Signal{Samples: samples}.Mean()
	for i, v := range samples {
		r.values[i] = v - mean
		r.sums[i+1] = r.sums[i] + r.values[i]
		r.squares[i+1] = r.squares[i] + r.values[i]*r.values[i]
	}
	return r
}

// moving is the sum of the squares of the departures from the mean from one sample up to another, and the sum; the first
// is 0 where it is less than a tenth of what the whole signal would give.
func (r running) moving(from, to int) (squares, sum float64) {
	count, n := float64(to-from), float64(len(r.values))
	sum = r.sums[to] - r.sums[from]
	squares = r.squares[to] - r.squares[from] - sum*sum/count
	if squares < 0.1*r.squares[len(r.values)]*count/n {
		return 0, sum
	}
	return squares, sum
}

// overlapCorrelation is Pearson's correlation of a's sample i with b's sample i + lag, wherever both are.
func overlapCorrelation(a, b running, lag int, product float64) float64 {
	n := len(a.values)
	from, to := max(0, -lag), min(n, n-lag)
	squaresA, sumA := a.moving(from, to)
	squaresB, sumB := b.moving(from+lag, to+lag)
	if squaresA <= 0 || squaresB <= 0 {
		return 0
	}
	r := (product - sumA*sumB/float64(to-from)) / math.Sqrt(squaresA*squaresB)
	return min(max(r, -1), 1)
}

// spanProducts gives Σ a(i)·b(i + lag) for the lags −mostLag … mostLag.
func spanProducts(a, b []float64, mostLag int) []float64 {
	size := 1
	for size < len(a)+mostLag {
		size *= 2
	}
	fft := fourier.NewFFT(size)
	padded := make([]float64, size)
	copy(padded, a)
	first := fft.Coefficients(nil, padded)
	clear(padded)
	copy(padded, b)
	second := fft.Coefficients(nil, padded)
	for k := range first {
		first[k] = conjugate(first[k]) * second[k] / complex(float64(size), 0)
	}
	sums := fft.Sequence(padded, first)
	products := make([]float64, 2*mostLag+1)
	for i := range products {
		products[i] = sums[(i-mostLag+size)%size]
	}
	return products
}
