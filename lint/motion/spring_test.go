package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// sineDrive is amplitude-1 harmonic motion of so many rounds a cycle, as cubics fine enough not to matter.
func sineDrive(length float64, rounds float64, pieces int) *drive {
	w := 2 * math.Pi * rounds / length
	d := &drive{length: length, closed: true}
	step := length / float64(pieces)
	for i := range pieces {
		t := float64(i) * step
		d.starts = append(d.starts, t)
		d.pieces = append(d.pieces, hermitePoly(step, math.Sin(w*t), w*math.Cos(w*t), math.Sin(w*(t+step)), w*math.Cos(w*(t+step))))
	}
	return d
}

func TestSpringAnswersAHarmonicDriveAsTheHandbookSays(t *testing.T) {
	// Amplitude 1/√((1−r²)²+(2ζr)²) and phase atan2(2ζr, 1−r²): S. S. Rao, Mechanical Vibrations, harmonic excitation
	// (from memory, closed form). The numbers are its values for three pairs, to the digits that the handbook prints.
	for _, c := range []struct{ r, zeta, printedAmplitude, printedPhase float64 }{
		{1, 0.05, 10, 90},
		{0.5, 0.25, 1.26491, 18.4349},
		{2, 0.1, 0.330410, 172.405},
	} {
		amplitude := 1 / math.Hypot(1-c.r*c.r, 2*c.zeta*c.r)
		phase := math.Atan2(2*c.zeta*c.r, 1-c.r*c.r)
		require.InEpsilon(t, c.printedAmplitude, amplitude, 5e-6)
		require.InEpsilon(t, c.printedPhase, phase*180/math.Pi, 5e-6)
		const length = 96.0
		drive := sineDrive(length, 1, 4096)
		w := 2 * math.Pi / length
		answer := Spring{Omega: w / c.r, Zeta: c.zeta}.respond(drive)
		for k := range 97 {
			at := float64(k)
			value, slope := answer.at(at)
			want := amplitude * math.Sin(w*at-phase)
			assert.InDelta(t, want, value, 1e-9, "r=%g at %g", c.r, at)
			assert.InDelta(t, amplitude*w*math.Cos(w*at-phase), slope, 1e-9)
		}
	}
}

func TestSpringAnswersManyHarmonicsLikeANumericalIntegration(t *testing.T) {
	knots := []Knot{{Time: 0, Value: 3}, {Time: 7, Value: -1}, {Time: 20, Value: 4, Shape: Straight}, {Time: 33, Value: 0, Shape: Stay}, {Time: 40, Value: 2}}
	curve := NewCurve(knots, Extent{Length: 48, Closed: true})
	d := &drive{length: 48, closed: true}
	for _, c := range curve.Cubics(driveStep) {
		d.starts = append(d.starts, c.Start)
		d.pieces = append(d.pieces, hermitePoly(c.Duration, c.Value0, c.Slope0, c.Value1, c.Slope1))
	}
	for _, spring := range []Spring{{0.4, 0.3}, {0.2, 1}, {0.3, 0.9999999}, {0.5, 2.5}} {
		answer := spring.respond(d)
		// Runge and Kutta's fourth-order method from nothing to its steady state.
		const steps = 4800
		var s state
		h := 48.0 / steps
		pull := func(t float64) float64 { v, _ := d.at(t); return v }
		rate := func(s state, u float64) state {
			return state{s.v, spring.Omega*spring.Omega*(u-s.x) - 2*spring.Zeta*spring.Omega*s.v}
		}
		for round := range 20 {
			for i := range steps {
				at := float64(i) * h
				if round == 19 && i%400 == 0 {
					value, _ := answer.at(at)
					require.InDelta(t, s.x, value, 1e-6, "%v at %g", spring, at)
				}
				// The drive jumps between steps only, so each step takes the values within it.
				u0, u1, u2 := pull(at+1e-10), pull(at+h/2), pull(at+h-1e-10)
				k1 := rate(s, u0)
				k2 := rate(state{s.x + h/2*k1.x, s.v + h/2*k1.v}, u1)
				k3 := rate(state{s.x + h/2*k2.x, s.v + h/2*k2.v}, u1)
				k4 := rate(state{s.x + h*k3.x, s.v + h*k3.v}, u2)
				s.x += h / 6 * (k1.x + 2*k2.x + 2*k3.x + k4.x)
				s.v += h / 6 * (k1.v + 2*k2.v + 2*k3.v + k4.v)
			}
		}
	}
}

func TestSpringByArrivalArrivesAndOvershootsAsAsked(t *testing.T) {
	// ζ = −ln(o)/√(π²+ln²o): 15 % → 0.5169, 20 % → 0.4559 (any control handbook; from memory, follows from the closed form).
	assert.InDelta(t, 0.5169, SpringByArrival(5, 0.15).Zeta, 5e-5)
	assert.InDelta(t, 0.4559, SpringByArrival(5, 0.20).Zeta, 1e-4)
	for _, overshoot := range []float64{0.02, 0.15, 0.4} {
		spring := SpringByArrival(7, overshoot)
		step := &drive{length: 200, starts: []float64{0}, pieces: []poly{{1}}, last: 1}
		answer := spring.respond(step)
		answer.run(state{}) // from 0, not from the drive's own start
		value, _ := answer.at(7)
		assert.InDelta(t, 1, value, 1e-9)
		peak := math.Pi / (spring.Omega * math.Sqrt(1-spring.Zeta*spring.Zeta))
		value, slope := answer.at(peak)
		assert.InDelta(t, 1+overshoot, value, 1e-9)
		assert.InDelta(t, 0, slope, 1e-9)
		frames, share := spring.Arrival()
		assert.InDelta(t, 7, frames, 1e-9)
		assert.InDelta(t, overshoot, share, 1e-12)
	}
}

func TestEverySpringClosesItsSeam(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(4, 400).Draw(t, "length")
		count := rapid.IntRange(1, 12).Draw(t, "count")
		d := &drive{length: length, closed: true}
		for i := range count {
			d.starts = append(d.starts, length*float64(i)/float64(count))
			d.pieces = append(d.pieces, poly{rapid.Float64Range(-50, 50).Draw(t, "value"), rapid.Float64Range(-5, 5).Draw(t, "slope")})
		}
		spring := Spring{rapid.Float64Range(0.01, 3).Draw(t, "omega"), rapid.Float64Range(0.05, 4).Draw(t, "zeta")}
		answer := spring.respond(d)
		start := answer.swings[0].x + answer.cubics[0][0]
		end := answer.run(state{start, answer.swings[0].v + answer.cubics[0][1]})
		scale := 1 + math.Abs(start)
		if math.Abs(end.x-start) > 1e-9*scale {
			t.Fatalf("the seam is open by %g", end.x-start)
		}
	})
}

func TestDrivesShiftAndAddExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		closed := rapid.Bool().Draw(t, "closed")
		make := func() *drive {
			count := rapid.IntRange(1, 6).Draw(t, "count")
			d := &drive{length: 60, closed: closed}
			for i := range count {
				d.starts = append(d.starts, 60*float64(i)/float64(count))
				d.pieces = append(d.pieces, poly{rapid.Float64Range(-9, 9).Draw(t, "a"), rapid.Float64Range(-1, 1).Draw(t, "b"), rapid.Float64Range(-0.1, 0.1).Draw(t, "c"), rapid.Float64Range(-0.01, 0.01).Draw(t, "d")})
			}
			last := count - 1
			d.last = d.pieces[last].at(60 - d.starts[last])
			return d
		}
		a, b := make(), make()
		// Pieces begin at multiples of 1/64 and are looked at between them: at a jump itself either side is right.
		late := float64(rapid.IntRange(-130*64, 130*64).Draw(t, "late")) / 64
		both := sum([]*drive{a.late(late), b})
		least, most := -70*64, 130*64
		if !closed { // a sum of spans is asked for inside its length
			least, most = 0, 60*64-1
		}
		at := (float64(rapid.IntRange(least, most).Draw(t, "at")) + 0.5) / 64
		va, _ := a.at(at - late)
		vb, _ := b.at(at)
		got, _ := both.at(at)
		if math.Abs(got-va-vb) > 1e-7*(1+math.Abs(va)+math.Abs(vb)) {
			t.Fatalf("at %g: %g is not %g + %g", at, got, va, vb)
		}
	})
}
