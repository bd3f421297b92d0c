package exchange

import (
	"math"
	"slices"
)

// A stretch is some frames of a clip, both ends included. In a cycle it may begin before the clip's end and end behind
// it. All of a cycle is 0 to its length.
type stretch struct{ from, to int }

// trendShare is how far a parabola through a point that stands may go, as a share of its reach. One that slides or turns
// round goes all of it.
const trendShare = 0.5

// finerReaches is how often a stretch that has a trend is searched for stiller ones, each time with half the reach.
const finerReaches = 2

// stillStretches are the stretches of at least so many frames in which a point stays within reach of one place without a
// trend. Places are by frame, those of a cycle without its last one, which is its first.
//
// A point that stands is told from one that is slow: it leaves its place faster than it ever moved there. So the stretch
// is what lies within half the reach of where the point mostly is, and a parabola through it may go no farther than a
// share of that. What slides fills its reach from end to end, and what turns round fills it there and back; noise has no
// trend.
func stillStretches(place []vec3, closed bool, reach float64, least int) []stretch {
	n := len(place)
	if n == 0 {
		return nil
	}
	start := 0
	if closed {
		// Round the seam, from where the longest stretch ends.
		whole := append(slices.Clone(place), place...)
		best := longest(farthestWithin(whole, 2*reach), 0, 2*n-1)
		if best.to-best.from+1 >= n {
			if trend(place, stretch{0, n - 1}) <= trendShare*reach {
				return []stretch{{0, n}}
			}
		} else {
			start = (best.to + 1) % n
		}
		place = append(slices.Clone(place[start:]), place[:start]...)
	}
	var out []stretch
	var look func(from, to int, reach float64, far []int, finer int)
	look = func(from, to int, reach float64, far []int, finer int) {
		if to-from+1 < least {
			return
		}
		s := longest(far, from, to)
		if s.to-s.from+1 < least {
			return
		}
		look(from, s.from-1, reach, far, finer)
		switch t := s.trimmed(place, reach/2); {
		case t.to-t.from+1 >= least && trend(place, t) <= trendShare*reach:
			out = append(out, stretch{t.from + start, t.to + start})
		case finer > 0:
			look(s.from, s.to, reach/2, farthestWithin(place, reach), finer-1)
		}
		look(s.to+1, to, reach, far, finer)
	}
	look(0, n-1, reach, farthestWithin(place, 2*reach), finerReaches)
	for i := range out {
		if out[i].from >= n {
			out[i].from, out[i].to = out[i].from-n, out[i].to-n
		}
	}
	slices.SortFunc(out, func(a, b stretch) int { return a.from - b.from })
	return out
}

// longest is the longest stretch between two places, by how far each one's reaches.
func longest(far []int, from, to int) (best stretch) {
	best = stretch{from, from - 1}
	for a := from; a <= to; a++ {
		if b := min(far[a], to); b-a > best.to-best.from {
			best = stretch{a, b}
		}
	}
	return best
}

// farthestWithin is, for each place, the last one up to which all lie in a box of some diagonal.
func farthestWithin(place []vec3, diagonal float64) []int {
	out := make([]int, len(place))
	var least, most [3]window
	end := -1
	for a := range place {
		for ; end+1 < len(place); end++ {
			fits := 0.0
			for axis := range 3 {
				low, high := place[end+1][axis], place[end+1][axis]
				if end >= a {
					low, high = min(low, least[axis].best()), max(high, -most[axis].best())
				}
				fits += (high - low) * (high - low)
			}
			if end >= a && math.Sqrt(fits) > diagonal {
				break
			}
			for axis := range 3 {
				least[axis].push(end+1, place[end+1][axis])
				most[axis].push(end+1, -place[end+1][axis])
			}
		}
		out[a] = end
		for axis := range 3 {
			least[axis].drop(a)
			most[axis].drop(a)
		}
	}
	return out
}

// A window keeps the least of the values that it holds, with those that will be it when that goes.
type window struct {
	at     []int
	values []float64
}

func (w *window) best() float64 { return w.values[0] }

func (w *window) push(at int, value float64) {
	for n := len(w.at); n > 0 && w.values[n-1] >= value; n-- {
		w.at, w.values = w.at[:n-1], w.values[:n-1]
	}
	w.at, w.values = append(w.at, at), append(w.values, value)
}

// drop lets go of the value that came at a place, the oldest one.
func (w *window) drop(at int) {
	if len(w.at) > 0 && w.at[0] == at {
		w.at, w.values = w.at[1:], w.values[1:]
	}
}

// trimmed leaves out the ends of a stretch that lie farther than reach from where its places mostly are.
func (s stretch) trimmed(place []vec3, reach float64) stretch {
	home := s.home(place)
	for s.from < s.to && place[s.from].to(home) > reach {
		s.from++
	}
	for s.from < s.to && place[s.to].to(home) > reach {
		s.to--
	}
	return s
}

// home is where the places of a stretch mostly are: the median along each axis.
func (s stretch) home(place []vec3) vec3 {
	var home vec3
	var along []float64
	for axis := range 3 {
		along = along[:0]
		for k := s.from; k <= s.to; k++ {
			along = append(along, place[k%len(place)][axis])
		}
		slices.Sort(along)
		home[axis] = along[len(along)/2]
	}
	return home
}

// middle is the middle of the box round the places of a stretch, from which none is farther than it must be.
func (s stretch) middle(place []vec3) vec3 {
	low, high := place[s.from%len(place)], place[s.from%len(place)]
	for k := s.from; k <= s.to; k++ {
		for axis, v := range place[k%len(place)] {
			low[axis], high[axis] = min(low[axis], v), max(high[axis], v)
		}
	}
	return low.plus(high).times(0.5)
}

// trend is how far the least-squares parabola through the places of a stretch goes.
func trend(place []vec3, s stretch) float64 {
	count := float64(s.to - s.from + 1)
	// The polynomials of one, a line and a parabola that are at right angles on even steps.
	last := max(1, count-1)
	basisAt := func(k int) [2]float64 {
		u := 2*float64(k-s.from)/last - 1
		return [2]float64{u, u*u - (count+1)/(3*last)}
	}
	var norms [2]float64
	var sums [2]vec3
	for k := s.from; k <= s.to; k++ {
		for d, b := range basisAt(k) {
			norms[d] += b * b
			sums[d] = sums[d].plus(place[k%len(place)].times(b))
		}
	}
	var low, high vec3
	for k := s.from; k <= s.to; k++ {
		var at vec3
		for d, b := range basisAt(k) {
			if norms[d] > 1e-9 {
				at = at.plus(sums[d].times(b / norms[d]))
			}
		}
		if k == s.from {
			low, high = at, at
		}
		for axis, v := range at {
			low[axis], high[axis] = min(low[axis], v), max(high[axis], v)
		}
	}
	return low.to(high)
}
