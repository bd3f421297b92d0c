package motion

import "math"

// Spring is a damped oscillator that is pulled toward what it follows: x″ + 2ζω·x′ + ω²·x = ω²·u.
type Spring struct {
	Omega float64 // natural frequency, radians a frame
	Zeta  float64 // damping ratio: 1 just does not overshoot
}

// SpringByFrequency is the spring of a natural frequency in Hz and a damping ratio, for a rate in frames a second.
func SpringByFrequency(hertz, damping, rate float64) Spring {
	return Spring{2 * math.Pi * hertz / rate, damping}
}

// SpringByArrival is the spring whose response to a step first touches the goal after so many frames and then goes
// beyond it by a share: ζ = −ln o ÷ √(π² + ln² o), and the first touch is at (π − acos ζ) ÷ (ω√(1−ζ²)). The share lies
// between 0 and 1, both left out. (The step response of a second-order system, any control handbook; from memory, it
// follows from the closed form.)
func SpringByArrival(frames, overshoot float64) Spring {
	log := math.Log(overshoot)
	zeta := -log / math.Hypot(math.Pi, log)
	return Spring{(math.Pi - math.Acos(zeta)) / (frames * math.Sqrt(1-zeta*zeta)), zeta}
}

// Hertz is the natural frequency at a rate in frames a second.
func (s Spring) Hertz(rate float64) float64 { return s.Omega * rate / (2 * math.Pi) }

// Arrival is the frames after which a step's response first touches the goal, and the share by which it then goes
// beyond; a spring with damping of 1 or more never does, and answers infinity and 0.
func (s Spring) Arrival() (frames, overshoot float64) {
	if s.Zeta >= 1 {
		return math.Inf(1), 0
	}
	root := math.Sqrt(1 - s.Zeta*s.Zeta)
	return (math.Pi - math.Acos(s.Zeta)) / (s.Omega * root), math.Exp(-s.Zeta * math.Pi / root)
}

// state is where an oscillator is and how fast it goes a frame.
type state struct{ x, v float64 }

// free is the state some frames later with nothing pulling away from 0: the matrix exponential in closed form, even
// where the damping is at or near 1.
func (s Spring) free(from state, frames float64) state {
	decay := s.Zeta * s.Omega
	// x(t) = e^(-ζωt)·(x·C + (v + ζω·x)·S), with C and S the cosine and the sine divided by the frequency, or their
	// hyperbolic twins above ζ = 1.
	c, sine := s.waves(frames)
	drift := from.v + decay*from.x
	x := from.x*c + drift*sine
	// d/dt of the same: C′ = -q·S and S′ = C, with q = ω²(1−ζ²).
	q := s.Omega * s.Omega * (1 - s.Zeta*s.Zeta)
	v := -from.x*q*sine + drift*c - decay*x
	return state{x, v}
}

// waves are e^(-ζωt)·C(t) and e^(-ζωt)·S(t).
func (s Spring) waves(frames float64) (c, sine float64) {
	q := s.Omega * s.Omega * (1 - s.Zeta*s.Zeta)
	decay := s.Zeta * s.Omega
	fade := math.Exp(-decay * frames)
	switch z := q * frames * frames; {
	case math.Abs(z) < 1e-4:
		// Near critical damping both waves are their power series; four terms leave an error under 1e-20.
		return fade * (1 - z/2*(1-z/12*(1-z/30))), fade * frames * (1 - z/6*(1-z/20*(1-z/42)))
	case q > 0:
		root := math.Sqrt(q)
		sin, cos := math.Sincos(root * frames)
		return fade * cos, fade * sin / root
	}
	root := math.Sqrt(-q)
	// The growing half of the hyperbolic waves is weaker than the fading, so each is put together before it overflows.
	up, down := math.Exp((root-decay)*frames), math.Exp(-(root+decay)*frames)
	return (up + down) / 2, (up - down) / (2 * root)
}

// particular is the cubic that the oscillator follows under a cubic pull, free swings left out: the coefficients are
// compared from the highest down.
func (s Spring) particular(u poly) (p poly) {
	a, b := 2*s.Zeta/s.Omega, 1/(s.Omega*s.Omega)
	p[3] = u[3]
	p[2] = u[2] - 3*a*p[3]
	p[1] = u[1] - 2*a*p[2] - 6*b*p[3]
	p[0] = u[0] - a*p[1] - 2*b*p[2]
	return p
}

// response is an oscillator's answer to a drive: in each of the drive's pieces a cubic and a free swing about it.
type response struct {
	spring Spring
	pull   *drive
	cubics []poly
	swings []state // at the start of each piece
}

// respond solves the oscillator for a drive. In a cycle it is the steady periodic answer: the state that comes back to
// itself after one round, so the seam closes by construction. In a span it starts at rest where the drive starts.
func (s Spring) respond(d *drive) *response {
	r := &response{s, d, make([]poly, len(d.pieces)), make([]state, len(d.pieces))}
	for i := range d.pieces {
		r.cubics[i] = s.particular(d.pieces[i])
	}
	start := state{x: d.pieces[0][0]}
	if d.closed {
		start = s.periodicStart(r)
	}
	r.run(start)
	return r
}

// run fills in the swings from a state at time 0, and gives the state at the end.
func (r *response) run(at state) state {
	for i := range r.cubics {
		p := &r.cubics[i]
		r.swings[i] = state{at.x - p[0], at.v - p[1]}
		frames := r.frames(i)
		swing := r.spring.free(r.swings[i], frames)
		at = state{p.at(frames) + swing.x, p.slope(frames) + swing.v}
	}
	return at
}

func (r *response) frames(i int) float64 {
	if i+1 < len(r.pull.starts) {
		return r.pull.starts[i+1] - r.pull.starts[i]
	}
	return r.pull.length - r.pull.starts[i]
}

// periodicStart solves start = M·start + b: M is a free round, b what a round from nothing ends in.
func (s Spring) periodicStart(r *response) state {
	b := r.run(state{})
	one, two := s.free(state{x: 1}, r.pull.length), s.free(state{v: 1}, r.pull.length)
	// (I − M)·start = b by Cramer's rule; the determinant is 0 only without damping.
	m11, m12, m21, m22 := 1-one.x, -two.x, -one.v, 1-two.v
	det := m11*m22 - m12*m21
	return state{(b.x*m22 - m12*b.v) / det, (m11*b.v - b.x*m21) / det}
}

// at is the response's value and slope a frame.
func (r *response) at(t float64) (value, slope float64) {
	switch {
	case r.pull.closed:
		t = wrapTime(t, r.pull.length)
	case t < 0:
		return r.pull.pieces[0][0], 0
	}
	i := r.pull.find(min(t, r.pull.length))
	s := t - r.pull.starts[i]
	if !r.pull.closed && t > r.pull.length {
		s = r.pull.length - r.pull.starts[i] // a span's value stays after its end
	}
	swing := r.spring.free(r.swings[i], s)
	return r.cubics[i].at(s) + swing.x, r.cubics[i].slope(s) + swing.v
}
