package motion

import "math"

// Ease is a cubic Bézier easing: the curve from (0, 0) to (1, 1) with these two control points between, read as a
// function from the share of time to the share of the way. X1 and X2 lie within 0 and 1, so that time never runs back;
// Y1 and Y2 may lie anywhere, and the way overshoots then. Source: W3C CSS Easing Functions Level 1, cubic-bezier().
type Ease struct{ X1, Y1, X2, Y2 float64 }

// steepest is the least rise of time along the Bézier's parameter that a slope is divided by: a vertical tangent gives
// a slope of about a million, not an endless one.
const steepest = 1e-6

// At returns the share of the way at share x of the time; 0 before 0 and 1 after 1.
func (e *Ease) At(x float64) float64 {
	switch {
	case !(x > 0):
		return 0
	case x >= 1:
		return 1
	case e.linear():
		return x
	}
	return bezierAxis(e.Y1, e.Y2).at(e.parameter(x))
}

// Slope returns the rate of At at share x, within 0 and 1: 1 is the pace of a straight line. Where the curve stands
// vertical it is held at about a million.
func (e *Ease) Slope(x float64) float64 {
	if e.linear() {
		return 1
	}
	s := e.parameter(x)
	timeAxis, way := bezierAxis(e.X1, e.X2), bezierAxis(e.Y1, e.Y2)
	dx, dy := timeAxis.slope(s), way.slope(s)
	if dx >= steepest {
		return dy / dx
	}
	// A control point on its own end point leaves both at rest there; the ratio of the next derivatives is the limit.
	if math.Abs(dy) < steepest {
		if bend := timeAxis.bend(s); math.Abs(bend) >= steepest {
			return way.bend(s) / bend
		}
		if math.Abs(timeAxis.cube) >= steepest && math.Abs(way.bend(s)) < steepest {
			return way.cube / timeAxis.cube
		}
	}
	return dy / steepest
}

func (e *Ease) linear() bool { return e.X1 == e.Y1 && e.X2 == e.Y2 }

// curvature returns the second derivative of At.
func (e *Ease) curvature(x float64) float64 {
	if e.linear() {
		return 0
	}
	s := e.parameter(x)
	timeAxis, way := bezierAxis(e.X1, e.X2), bezierAxis(e.Y1, e.Y2)
	dx := max(timeAxis.slope(s), steepest)
	return (way.bend(s)*dx - way.slope(s)*timeAxis.bend(s)) / (dx * dx * dx)
}

// integral returns the area under At from 0 to x: the exact integral of way × d(time) along the Bézier's parameter.
func (e *Ease) integral(x float64) float64 {
	if e.linear() {
		return x * x / 2
	}
	s := e.parameter(x)
	t, w := bezierAxis(e.X1, e.X2), bezierAxis(e.Y1, e.Y2)
	return s * s * (w.line*t.line/2 +
		s*((2*w.line*t.square+w.square*t.line)/3+
			s*((3*w.line*t.cube+2*w.square*t.square+w.cube*t.line)/4+
				s*((3*w.square*t.cube+2*w.cube*t.square)/5+
					s*(3*w.cube*t.cube/6)))))
}

// turns returns the shares of time at which the way turns back, in rising order.
func (e *Ease) turns() (xs [2]float64, n int) {
	if e.linear() {
		return xs, 0
	}
	w := bezierAxis(e.Y1, e.Y2)
	ss, n := rootsBetween(w.line, w.square, 3*w.cube)
	return e.times(ss, n)
}

// fastest returns the shares of time at which the pace is greatest or least: where way″·time′ = way′·time″, of which
// the cubic terms cancel and a quadratic is left.
func (e *Ease) fastest() (xs [2]float64, n int) {
	if e.linear() {
		return xs, 0
	}
	t, w := bezierAxis(e.X1, e.X2), bezierAxis(e.Y1, e.Y2)
	ss, n := rootsBetween(
		2*(w.square*t.line-w.line*t.square),
		3*(w.cube*t.line-w.line*t.cube),
		6*(w.cube*t.square-w.square*t.cube),
	)
	return e.times(ss, n)
}

func (e *Ease) times(ss [2]float64, n int) (xs [2]float64, count int) {
	t := bezierAxis(e.X1, e.X2)
	for i := range n {
		xs[i] = t.at(ss[i])
	}
	return xs, n
}

// parameter returns the place s along the Bézier at which its time is x: Newton's steps, kept inside a bracket that
// halves when a step would leave it, so that it ends for every easing.
func (e *Ease) parameter(x float64) float64 {
	if x <= 0 || x >= 1 {
		return min(max(x, 0), 1)
	}
	t := bezierAxis(e.X1, e.X2)
	low, high, s := 0.0, 1.0, x
	for range 64 {
		miss := t.at(s) - x
		if miss == 0 {
			break
		}
		if miss < 0 {
			low = s
		} else {
			high = s
		}
		next := s - miss/t.slope(s)
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-s) < 1e-16 {
			break
		}
		s = next
	}
	return s
}

// tamed brings what the grammar would refuse into the range that the arithmetic needs.
func (e *Ease) tamed() Ease {
	return Ease{
		X1: min(max(tame(e.X1), 0), 1), Y1: tame(e.Y1),
		X2: min(max(tame(e.X2), 0), 1), Y2: tame(e.Y2),
	}
}

// axis is one coordinate of the Bézier as a polynomial of its parameter s: line·s + square·s² + cube·s³.
type axis struct{ line, square, cube float64 }

func bezierAxis(p1, p2 float64) axis {
	line := 3 * p1
	square := 3*(p2-p1) - line
	return axis{line: line, square: square, cube: 1 - line - square}
}

func (a axis) at(s float64) float64    { return s * (a.line + s*(a.square+s*a.cube)) }
func (a axis) slope(s float64) float64 { return a.line + s*(2*a.square+s*3*a.cube) }
func (a axis) bend(s float64) float64  { return 2*a.square + 6*s*a.cube }
