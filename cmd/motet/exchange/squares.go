package exchange

import "math"

// lawsonRounds is how often the weights of the least-squares fit are moved toward its
// worst errors.
const lawsonRounds = 6

// hopeless is the worst error, as a share of the tube, from which moving the weights does
// not bring a curve inside any more.
const hopeless = 2.2

// solve finds values and slopes at the given frames for which the worst error, as a
// share of the tube, is small: a least-squares fit of the cubic Hermite basis, its weights
// raised where it is off and solved again (C. L. Lawson's iteration toward the smallest
// largest error). It returns the best of the rounds and its worst error.
func (t *tube) solve(at []int) (best fit, worst float64) {
	return t.lawson(fit{at: at}, false)
}

// windowKeys is how many keys on each side of a changed one are solved with it.
const windowKeys = 3

// solveAround solves the keys near key k of a fit anew and leaves the others as they are.
// The worst error that it returns is the one near k.
func (t *tube) solveAround(f fit, k int) (fit, float64) {
	n := len(f.at)
	if n <= 2*windowKeys+3 {
		return t.lawson(fit{at: f.at}, false)
	}
	first, last := k-windowKeys-1, k+windowKeys+1
	if !t.closed {
		first, last = max(0, first), min(n-1, last)
	}
	from := f.at[(first+n)%n]
	if t.window == nil {
		t.window = &tube{}
	}
	window := t.window
	window.middle, window.half = window.middle[:0], window.half[:0]
	var part fit
	for i := first; i <= last; i++ {
		at := f.at[(i+n)%n] - from
		if at < 0 {
			at += t.frames
		}
		part.at = append(part.at, at)
		part.value, part.slope = append(part.value, f.value[(i+n)%n]), append(part.slope, f.slope[(i+n)%n])
	}
	window.frames = part.at[len(part.at)-1]
	for step := range window.frames*stepsPerFrame + 1 {
		at := t.step(from*stepsPerFrame + step)
		window.middle, window.half = append(window.middle, t.middle[at]), append(window.half, t.half[at])
	}
	solved, worst := window.lawson(part, true)
	out := fit{at: f.at, value: append([]float64(nil), f.value...), slope: append([]float64(nil), f.slope...)}
	for i := first; i <= last; i++ {
		out.value[(i+n)%n], out.slope[(i+n)%n] = solved.value[i-first], solved.slope[i-first]
	}
	return out, worst
}

func resized(values []float64, n int) []float64 {
	if cap(values) < n {
		return make([]float64, n, 2*n)
	}
	return values[:n]
}

// lawson is solve; pinned holds the value and slope of the first and the last key, except
// at the ends of a span, where nothing follows that they would have to meet.
func (t *tube) lawson(f fit, pinned bool) (best fit, worst float64) {
	worst = math.Inf(1)
	t.weights, t.scratch = resized(t.weights, len(t.middle)), resized(t.scratch, len(t.middle))
	weights, errors := t.weights, t.scratch
	for k := range weights {
		weights[k] = 1 / (t.half[k] * t.half[k])
	}
	for range lawsonRounds {
		g := t.leastSquares(f, weights, pinned)
		most := t.errorsInto(errors, g)
		if most < worst {
			best, worst = g, most
		}
		if most <= fitShare || most > hopeless {
			break
		}
		perMost := 1 / most
		for k, e := range errors {
			weights[k] *= e*perMost + 0.01
		}
	}
	return best, worst
}

// bandwidth of the normal equations: each key has two unknowns, and in the order of
// seats a key and its neighbours lie at most two keys apart.
const bandwidth = 5

// leastSquares solves the normal equations of all values and slopes at once. Neighbouring
// keys share segments, so the matrix is a band; round a cycle the keys are seated from
// both ends in turn (0, last, 1, last-1, …), which keeps the band narrow.
func (t *tube) leastSquares(f fit, weights []float64, pinned bool) fit {
	n := len(f.at)
	seats := t.seats(n)
	typical := float64(t.frames) / float64(n)
	if cap(t.band) < 2*n {
		t.band, t.right = make([][bandwidth + 1]float64, 4*n), make([]float64, 4*n)
	}
	band, right := t.band[:2*n], t.right[:2*n] // band[i][d] is the element (i, i-d)
	clear(band)
	clear(right)
	t.eachSegment(f.at, func(a, b, from, length int) {
		h := float64(length) / stepsPerFrame / typical
		var sums normals
		to, perStep := from+length, 1/float64(length)
		for step, k := from, 0; step < to; step, k = step+1, k+1 {
			at := step
			if at >= len(t.middle) {
				at -= len(t.middle) // a cycle's last segment
			}
			sums.gather(basis(float64(k)*perStep, h), weights[at], t.middle[at])
		}
		if !t.closed && b == n-1 {
			last := len(t.middle) - 1
			sums.gather(basis(1, h), weights[last], t.middle[last])
		}
		unknown := [4]int{2 * seats[a], 2*seats[a] + 1, 2 * seats[b], 2*seats[b] + 1}
		block, side := sums.block(), sums.side()
		for i := range 4 {
			right[unknown[i]] += side[i]
			for j := range 4 {
				if d := unknown[i] - unknown[j]; d >= 0 && (d > 0 || i == j) {
					band[unknown[i]][d] += block[max(i, j)][min(i, j)]
				}
			}
		}
	})
	if pinned {
		pin(band, right, 0, f.value[0], f.slope[0]*typical)
		pin(band, right, 2*(n-1), f.value[n-1], f.slope[n-1]*typical)
	}
	solveBand(band, right)
	out := fit{at: f.at, value: make([]float64, n), slope: make([]float64, n)}
	for k, seat := range seats {
		out.value[k], out.slope[k] = right[2*seat], right[2*seat+1]/typical
	}
	return out
}

func (t *tube) seats(n int) []int {
	seats := make([]int, n)
	for k := range seats {
		switch {
		case !t.closed:
			seats[k] = k
		case k <= (n-1)/2:
			seats[k] = 2 * k
		default:
			seats[k] = 2*(n-k) - 1
		}
	}
	return seats
}

// pin makes two unknowns keep to what they are, by a weight that nothing moves.
func pin(band [][bandwidth + 1]float64, right []float64, i int, value, slope float64) {
	weight := 0.0
	for k := range band {
		weight = max(weight, band[k][0])
	}
	weight *= 1e7
	band[i][0] += weight
	right[i] += weight * value
	band[i+1][0] += weight
	right[i+1] += weight * slope
}

// basis holds the cubic Hermite basis functions at u, the slopes' ones times h.
func basis(u, h float64) [4]float64 {
	v := 1 - u
	return [4]float64{v * v * (1 + 2*u), h * u * v * v, u * u * (3 - 2*u), -h * u * u * v}
}

// normals are the lower half of a segment's normal equations and their right side. They are written out one by one, since
// most of an import goes by here.
type normals struct {
	aa, ba, bb, ca, cb, cc, da, db, dc, dd float64
	a, b, c, d                             float64
}

// gather adds one weighted point.
func (s *normals) gather(b [4]float64, w, y float64) {
	wa, wb, wc, wd := w*b[0], w*b[1], w*b[2], w*b[3]
	s.a += wa * y
	s.b += wb * y
	s.c += wc * y
	s.d += wd * y
	s.aa += wa * b[0]
	s.ba += wb * b[0]
	s.bb += wb * b[1]
	s.ca += wc * b[0]
	s.cb += wc * b[1]
	s.cc += wc * b[2]
	s.da += wd * b[0]
	s.db += wd * b[1]
	s.dc += wd * b[2]
	s.dd += wd * b[3]
}

func (s *normals) block() [4][4]float64 {
	return [4][4]float64{{s.aa}, {s.ba, s.bb}, {s.ca, s.cb, s.cc}, {s.da, s.db, s.dc, s.dd}}
}

func (s *normals) side() [4]float64 { return [4]float64{s.a, s.b, s.c, s.d} }

// solveBand solves a symmetric positive definite band system in place by Cholesky's
// method. A whisper is added to each diagonal element, in proportion to itself since their
// sizes differ by many powers of ten, so that a key without points of its own does not
// divide by nothing.
func solveBand(band [][bandwidth + 1]float64, right []float64) {
	n := len(band)
	for i := range n {
		band[i][0] += band[i][0]*1e-12 + 1e-200
		least := band[i][0] * 1e-13
		for d := min(i, bandwidth); d >= 0; d-- {
			j := i - d
			sum := band[i][d]
			for e := d + 1; e <= min(bandwidth, i); e++ {
				if inner := e - d; inner <= bandwidth {
					sum -= band[i][e] * band[j][inner]
				}
			}
			if d == 0 {
				band[i][0] = math.Sqrt(max(sum, least))
			} else {
				band[i][d] = sum / band[j][0]
			}
		}
	}
	for i := range n {
		for d := 1; d <= min(i, bandwidth); d++ {
			right[i] -= band[i][d] * right[i-d]
		}
		right[i] /= band[i][0]
	}
	for i := n - 1; i >= 0; i-- {
		for d := 1; d <= bandwidth && i+d < n; d++ {
			right[i] -= band[i+d][d] * right[i+d]
		}
		right[i] /= band[i][0]
	}
}
