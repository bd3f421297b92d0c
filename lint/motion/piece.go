package motion

import "math"

// piece is the curve between two neighbouring keys, as a polynomial of its share of time u, from 0 to 1. A straight or
// a held piece has the same form, so that evaluating one takes no decision; an eased one runs from a to a+b by ease.
type piece struct {
	start, frames float64 // Frames.
	perFrame      float64 // 1 ÷ frames; 0 for the endless pieces outside a span.
	a, b, c, d    float64 // Value a + b·u + c·u² + d·u³.
	ease          *Ease
	kind          SegmentKind
}

// hermite returns the cubic through two values with two slopes: the arithmetic of glTF 2.0 CUBICSPLINE (appendix on
// animation interpolation), with slopes in units per frame.
func hermite(start, frames, value0, slope0, value1, slope1 float64) piece {
	rise, b, arriving := value1-value0, slope0*frames, slope1*frames
	return piece{
		start: start, frames: frames, perFrame: 1 / frames,
		a: value0, b: b, c: 3*rise - 2*b - arriving, d: b + arriving - 2*rise,
	}
}

func (p *piece) at(u float64) float64 {
	if p.ease != nil {
		return p.a + p.b*p.ease.At(u)
	}
	return p.a + u*(p.b+u*(p.c+u*p.d))
}

// slope returns units per frame.
func (p *piece) slope(u float64) float64 {
	if p.ease != nil {
		return p.b * p.ease.Slope(u) * p.perFrame
	}
	return (p.b + u*(2*p.c+u*3*p.d)) * p.perFrame
}

// acceleration returns units per frame, per frame.
func (p *piece) acceleration(u float64) float64 {
	if p.ease != nil {
		return p.b * p.ease.curvature(u) * p.perFrame * p.perFrame
	}
	return (2*p.c + 6*u*p.d) * p.perFrame * p.perFrame
}

// integral returns the area from u = 0, in units × frames.
func (p *piece) integral(u float64) float64 {
	if p.ease != nil {
		return p.frames * (p.a*u + p.b*p.ease.integral(u))
	}
	return p.frames * u * (p.a + u*(p.b/2+u*(p.c/3+u*p.d/4)))
}

// turns returns the shares u strictly between 0 and 1 at which the slope passes through zero, in rising order.
func (p *piece) turns() (us [2]float64, n int) {
	if p.ease == nil {
		return rootsBetween(p.b, p.c, 3*p.d)
	}
	us, n = p.ease.turns()
	if p.b == 0 {
		n = 0
	}
	return us, n
}

// fastest returns the shares u strictly between 0 and 1 at which the slope may be greatest or least.
func (p *piece) fastest() (us [2]float64, n int) {
	if p.ease != nil {
		return p.ease.fastest()
	}
	return rootsBetween(2*p.c, 3*p.d, 0)
}

// rootsBetween returns the roots of c + 2·b·u + a·u² that lie within (0, 1), clear of both ends, in rising order. A
// root closer to an end than rounding can tell from it is the end's own, where the curve only starts or stops.
func rootsBetween(c, b, a float64) (us [2]float64, n int) {
	const clear = 1e-9
	scale := max(math.Abs(a), math.Abs(b), math.Abs(c))
	if scale == 0 {
		return us, 0
	}
	a, b, c = a/scale, b/scale, c/scale
	square := b*b - a*c
	if square < 0 {
		return us, 0
	}
	// The sum without cancellation, then the other root from the product of both.
	q := -(b + math.Copysign(math.Sqrt(square), b))
	for _, u := range [2]float64{q / a, c / q} {
		if u > clear && u < 1-clear {
			us[n] = u
			n++
		}
	}
	if n == 2 && us[0] > us[1] {
		us[0], us[1] = us[1], us[0]
	}
	if n == 2 && us[0] == us[1] {
		n = 1
	}
	return us, n
}
