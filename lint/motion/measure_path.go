package motion

import (
	"math"
	"slices"
)

// Steps is how many steps there are from sample to sample: in a cycle as many as samples, in a span one less.
func (s *Sampled) Steps() int {
	if s.Closed {
		return s.Count
	}
	return s.Count - 1
}

// PathLength is how far a joint's pivot travels through the world in one round, or in the span, in cm: the sum of the
// straight ways from sample to sample. That is never more than the true path; where the path turns by an angle of θ
// radians from one step to the next it is less by about θ²/24 of it (an arc over its chord), at 24 samples a beat mostly
// under a thousandth.
func (s *Sampled) PathLength(joint int) float64 {
	path, here := 0.0, s.place(joint, 0)
	for k := range s.Steps() {
		next := s.place(joint, k+1)
		path += length(minus(next, here))
		here = next
	}
	return path
}

// Speeds gives a joint's mean speed through the world over each step, in cm a second, in dst where that is long enough:
// entry k runs from sample k to the next.
func (s *Sampled) Speeds(joint int, dst []float64) []float64 {
	dst = slices.Grow(dst[:0], s.Steps())[:s.Steps()]
	clear(dst)
	s.eachSpeed(joint, func(k int, speed float64) { dst[k] = speed })
	return dst
}

// SummedSpeeds gives the speeds of all joints added up, as [Sampled.Speeds] gives each: how much moves at all.
func (s *Sampled) SummedSpeeds(dst []float64) []float64 {
	dst = slices.Grow(dst[:0], s.Steps())[:s.Steps()]
	clear(dst)
	s.seenAll()
	for joint := range s.Motion.Rig.Joints {
		s.eachSpeed(joint, func(k int, speed float64) { dst[k] += speed })
	}
	return dst
}

// FastestSpeeds gives the speed of whichever joint is the fastest over each step, as [Sampled.Speeds] gives each: where
// it is near 0 the whole figure is still.
func (s *Sampled) FastestSpeeds(dst []float64) []float64 {
	dst = slices.Grow(dst[:0], s.Steps())[:s.Steps()]
	clear(dst)
	s.seenAll()
	for joint := range s.Motion.Rig.Joints {
		s.eachSpeed(joint, func(k int, speed float64) { dst[k] = max(dst[k], speed) })
	}
	return dst
}

// FastestSpeedsIn is [Sampled.FastestSpeeds] for some steps alone, as many as the motion has; the others are 0. It makes the
// figures of those steps and no others, unless all are there.
func (s *Sampled) FastestSpeedsIn(steps []bool) []float64 {
	f := s.figures.Load()
	if f == nil || !f.whole {
		if !s.hangs() {
			f = s.seenAll()
		} else {
			samples := make([]bool, s.Count)
			for k, wanted := range steps {
				if wanted {
					samples[k], samples[(k+1)%s.Count] = true, true
				}
			}
			f = s.newFigures()
			s.hangJoints(f, s.withParents(nil), samples)
		}
	}
	speeds := make([]float64, s.Steps())
	perSecond := s.Motion.Sheet.Rate.Float() / s.Step
	for k := range speeds {
		if !steps[k] {
			continue
		}
		for joint := range f.places {
			from, to := s.placeIn(f, joint, k), s.placeIn(f, joint, k+1)
			speeds[k] = max(speeds[k], length(minus(to, from))*perSecond)
		}
	}
	return speeds
}

func (s *Sampled) eachSpeed(joint int, take func(k int, cmASecond float64)) {
	perSecond := s.Motion.Sheet.Rate.Float() / s.Step
	places := s.seen(joint).places[joint]
	x, y, z := places[:s.Count], places[s.Count:2*s.Count], places[2*s.Count:]
	for k := range s.Count - 1 {
		dx, dy, dz := x[k+1]-x[k], y[k+1]-y[k], z[k+1]-z[k]
		take(k, math.Sqrt(dx*dx+dy*dy+dz*dz)*perSecond)
	}
	if last := s.Count - 1; s.Steps() == s.Count { // and over the seam
		take(last, length(minus(s.place(joint, s.Count), s.place(joint, last)))*perSecond)
	}
}
