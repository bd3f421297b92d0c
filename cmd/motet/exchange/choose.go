package exchange

import (
	"math"
	"sort"
)

// keyCosts is the price of a key at each frame: a little less where the motion turns and
// where the control has a row anyway, so that among equally short choices the one that
// reads best wins.
func (t *tube) keyCosts(shared map[int]bool) []float64 {
	out := make([]float64, t.frames+1)
	for f := range out {
		out[f] = 1
		here := t.atFrame(f)
		if (t.atFrame(f-1)-here)*(t.atFrame(f+1)-here) > 0 {
			out[f] -= 0.12
		}
		if shared[f] || t.closed && shared[f%t.frames] {
			out[f] -= 0.4
		}
	}
	return out
}

// mostFailures is after how many segments in a row that leave the tube longer ones are no
// longer tried.
const mostFailures = 20

// choose is the shortest path of keys from end to end, each segment the cubic with the
// motion's own values and slopes, inside the tube widened by a factor. A cycle goes round
// from the frame farthest from its mean, a turn of the motion.
func (t *tube) choose(slopes, costs []float64, widen float64) []int {
	first := t.farthest()
	index := func(f int) int {
		if t.closed {
			return f % t.frames
		}
		return f
	}
	cost := make([]float64, t.frames+1)
	from := make([]int, t.frames+1)
	for j := 1; j <= t.frames; j++ {
		cost[j] = math.Inf(1)
		failures := 0
		for i := j - 1; i >= 0 && failures < mostFailures; i-- {
			// One segment can't go round a whole cycle: a single key is a constant.
			if t.closed && j-i == t.frames {
				continue
			}
			price := cost[i] + costs[index(first+j)]
			if price >= cost[j] {
				continue
			}
			if j-i > 1 && !t.spans(first+i, first+j, slopes[index(first+i)], slopes[index(first+j)], widen) {
				failures++
				continue
			}
			failures = 0
			cost[j], from[j] = price, i
		}
	}
	var keys []int
	for j := t.frames; j > 0; j = from[j] {
		keys = append(keys, index(first+j))
	}
	if !t.closed {
		keys = append(keys, 0)
	}
	sort.Ints(keys)
	return keys
}

// farthest is the frame of a cycle at which it is farthest from its mean; a span begins at
// its beginning.
func (t *tube) farthest() int {
	first := 0
	if t.closed {
		middle := mean(t.middle)
		for f := range t.frames {
			if math.Abs(t.atFrame(f)-middle) > math.Abs(t.atFrame(first)-middle) {
				first = f
			}
		}
	}
	return first
}

// spans tells whether the cubic between two frames stays inside the widened tube. It
// looks at the middle and the quarters first, where most long segments fail.
func (t *tube) spans(from, to int, slope0, slope1, widen float64) bool {
	length := (to - from) * stepsPerFrame
	h := float64(to - from)
	p := hermite(t.atFrame(from), slope0*h, t.atFrame(to), slope1*h)
	first, perStep := t.step(from*stepsPerFrame), 1/float64(length)
	middle, half := t.middle, t.half[:len(t.middle)]
	inside := func(k int) bool {
		at := first + k
		if at >= len(middle) {
			at -= len(middle) // round a cycle, once at most
		}
		return math.Abs(p.at(float64(k)*perStep)-middle[at]) <= widen*half[at]
	}
	if !inside(length/2) || !inside(length/4) || !inside(length-length/4) {
		return false
	}
	for k := 2; k < length; k += 2 {
		if !inside(k) {
			return false
		}
	}
	return true
}
