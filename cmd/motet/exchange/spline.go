package exchange

import (
	"math"

	"github.com/qmuntal/gltf"
)

// A splice is one joint's property on a stretch of moments without a jump, to be written with few keys.
type splice struct {
	property property
	at       []float64 // frames, rising
	path     []quat    // of moves and scales the first three count
	// tolerance is how far the keys may lead from the path: radians, centimetres, or a ratio.
	tolerance float64
	// slopes are the path's own, a frame, before and after a moment; nil where they are not known. Between two moments next
	// to each other there is nothing else to go by.
	slopes func(moment int) (before, after quat)
}

// A splineKey is a key at a moment of the splice, with the slopes a frame before and after it.
type splineKey struct {
	moment  int
	in, out quat
}

// keys finds the fewest keys, of the kind that needs fewer: each segment reaches as far as it stays inside the tolerance.
func (s *splice) keys() (gltf.Interpolation, []splineKey) {
	cubic := s.reach(s.cubicFits)
	if len(cubic) <= 2 {
		if straight := s.reach(s.lineFits); len(straight) <= len(cubic) {
			return gltf.InterpolationLinear, straight
		}
	}
	return gltf.InterpolationCubicSpline, cubic
}

// reach lays segments one after the other, each as long as fits allows: it begins with the length of the one before,
// doubles it until it fails, and then halves what is left.
func (s *splice) reach(fits func(from, to int) (out, in quat, ok bool)) []splineKey {
	keys := []splineKey{{moment: 0}}
	last := len(s.path) - 1
	before := 1
	for from := 0; from < last; {
		// The segment to the next moment always fits.
		good, bad := from+1, last+1
		out, in, _ := fits(from, good)
		for step := max(before, 2); good < last && good+1 < bad; step *= 2 {
			to := min(from+step, last)
			o, i, ok := fits(from, to)
			if !ok {
				bad = to
				break
			}
			good, out, in = to, o, i
		}
		for good+1 < bad && good < last {
			middle := (good + bad) / 2
			if o, i, ok := fits(from, middle); ok {
				good, out, in = middle, o, i
			} else {
				bad = middle
			}
		}
		keys[len(keys)-1].out = out
		keys = append(keys, splineKey{moment: good, in: in})
		before, from = good-from, good
	}
	return keys
}

// fewMoments is how many moments a segment must be longer than for its slopes to be chosen by those between: through two of
// them there always is a cubic, and nothing would be left to tell how far it is off.
const fewMoments = 3

// cubicFits gives the slopes, a frame, of the cubic through the values at two moments that comes closest to those
// between by least squares, and tells whether it stays inside the tolerance.
func (s *splice) cubicFits(from, to int) (out, in quat, ok bool) {
	start, frames := s.at[from], s.at[to]-s.at[from]
	first, last := s.path[from], s.path[to]
	chord := last.plus(first.times(-1))
	if to == from+1 || frames <= 0 {
		if frames > 0 {
			out = chord.times(1 / frames)
		}
		if s.slopes != nil {
			_, out = s.slopes(from)
			in, _ = s.slopes(to)
		} else {
			in = out
		}
		return out, in, true
	}
	if to-from <= fewMoments && s.slopes != nil {
		_, m0 := s.slopes(from)
		m1, _ := s.slopes(to)
		return m0, m1, s.stays(from, to, s.hermite(first, m0.times(frames), last, m1.times(frames)))
	}
	// The normal equations for both slopes, with a pull to the chord so weak that it decides only where the values
	// between do not.
	const pull = 1e-9
	aa, ab, bb := pull, 0.0, pull
	var ra, rb quat
	for k := from + 1; k < to; k++ {
		b := basis((s.at[k]-start)/frames, 1)
		rest := s.path[k].plus(first.times(-b[0])).plus(last.times(-b[2]))
		aa, ab, bb = aa+b[1]*b[1], ab+b[1]*b[3], bb+b[3]*b[3]
		ra, rb = ra.plus(rest.times(b[1])), rb.plus(rest.times(b[3]))
	}
	ra, rb = ra.plus(chord.times(pull)), rb.plus(chord.times(pull))
	scale := 1 / (aa*bb - ab*ab)
	m0 := ra.times(bb * scale).plus(rb.times(-ab * scale))
	m1 := rb.times(aa * scale).plus(ra.times(-ab * scale))
	return m0.times(1 / frames), m1.times(1 / frames), s.stays(from, to, s.hermite(first, m0, last, m1))
}

// hermite is the cubic with these values and these slopes, a segment, at its ends.
func (s *splice) hermite(first, m0, last, m1 quat) func(u float64) quat {
	return func(u float64) quat {
		b := basis(u, 1)
		return s.property.unit(first.times(b[0]).plus(m0.times(b[1])).plus(last.times(b[2])).plus(m1.times(b[3])))
	}
}

// lineFits tells whether a straight line, or for turns the even short way, stays inside the tolerance.
func (s *splice) lineFits(from, to int) (out, in quat, ok bool) {
	first, last := s.path[from], s.path[to]
	return out, in, s.stays(from, to, func(u float64) quat {
		if s.property == turns {
			return slerp(first, last, u)
		}
		return first.times(1 - u).plus(last.times(u))
	})
}

// stays tells whether a curve stays inside the tolerance between two moments. It looks at the middle first, where most
// long segments fail.
func (s *splice) stays(from, to int, curve func(u float64) quat) bool {
	start, perFrame := s.at[from], 1/(s.at[to]-s.at[from])
	near := s.property.nearness(s.tolerance)
	within := func(k int) bool { return near(curve((s.at[k]-start)*perFrame), s.path[k]) }
	for _, k := range []int{(from + to) / 2, (3*from + to) / 4, (from + 3*to) / 4} {
		if k > from && k < to && !within(k) {
			return false
		}
	}
	for k := from + 1; k < to; k++ {
		if !within(k) {
			return false
		}
	}
	return true
}

// nearness is a quick question whether two values are no farther apart than a tolerance, as apart measures it.
func (p property) nearness(tolerance float64) func(a, b quat) bool {
	square := tolerance * tolerance
	switch p {
	case turns:
		half := 2 * math.Sin(tolerance/4)
		square = half * half
	case scales:
		return func(a, b quat) bool { return p.apart(a, b) <= tolerance }
	}
	return func(a, b quat) bool {
		x, y, z, w := a[0]-b[0], a[1]-b[1], a[2]-b[2], a[3]-b[3]
		return x*x+y*y+z*z+w*w <= square
	}
}

// unit makes a turn unit length, as a player does after it has interpolated; others stay.
func (p property) unit(v quat) quat {
	if p == turns {
		return unitOr(v)
	}
	return v
}

// apart is how far two values of a property are apart: the angle between turns in radians, the distance of moves, the
// largest difference of scales.
func (p property) apart(a, b quat) float64 {
	d := a.plus(b.times(-1))
	switch p {
	case turns:
		if a.dot(b) < 0 {
			d = a.plus(b)
		}
		// Of unit quaternions an angle apart the distance is 2·sin(angle/4).
		return 4 * math.Asin(math.Min(1, math.Sqrt(d.dot(d))/2))
	case moves:
		return math.Sqrt(d.dot(d))
	}
	return math.Max(math.Abs(d[0]), math.Max(math.Abs(d[1]), math.Abs(d[2])))
}
