package exchange

import (
	"math"
	"slices"
)

// A tube is what a fitted curve has to stay inside: at every step of the clip the value
// that it should have and how far it may be off.
type tube struct {
	frames int
	// closed says that the end is the start: the curve is periodic, and middle and half
	// hold frames × stepsPerFrame points. A span holds one more.
	closed       bool
	middle, half []float64
	// plainEnds allows the first and the last key to go without a mark. The ends of an
	// open curve in a cycle may not: each would take the other's slope.
	plainEnds bool

	// Memory of the solver, used again and again.
	weights, scratch, right []float64
	band                    [][bandwidth + 1]float64
	window                  *tube
}

// A fit is a cubic Hermite curve through keys on whole frames, with one slope a key.
type fit struct {
	at    []int     // frames, rising
	value []float64 // in the channel's unit
	slope []float64 // in the channel's unit a frame
}

// fitShare is how much of the tube the curve may use before its numbers are rounded.
const fitShare = 0.93

// fitKeys finds few keys whose curve stays inside the tube.
//
// A shortest path over frames picks keys under the slopes that the motion itself has
// there, in a tube somewhat widened, since the least-squares values and slopes that follow
// do better than the data's own. Keys are added where the curve is still outside, and then
// taken out one by one as long as it stays inside. Keys where the motion turns, and on the
// frames in shared (rows that the control has anyway), are preferred among equals.
func fitKeys(t *tube, shared map[int]bool) fit {
	if v, ok := t.constant(); ok {
		return fit{at: []int{0}, value: []float64{v}, slope: []float64{0}}
	}
	slopes := t.slopes()
	f, _ := t.solve(t.choose(slopes, t.keyCosts(shared), 2.2))
	return t.merge(t.thin(t.mend(f, slopes)))
}

// refit moves an earlier fit into a tube that has become narrower, adding keys where it
// must.
func refit(t *tube, f fit) fit {
	if len(f.at) < 2 {
		return fitKeys(t, nil)
	}
	g, _ := t.solve(f.at)
	return t.mend(g, t.slopes())
}

// mend adds a key where the curve is farthest outside the tube, and solves it and its
// neighbours anew, until it is inside. Where there are keys on both sides already, they
// are put on the motion itself; in the end all would be, and the curve inside.
func (t *tube) mend(f fit, slopes []float64) fit {
	for range 3 * t.frames {
		errors := t.errors(f)
		worst := 0
		for k, e := range errors {
			if e > errors[worst] {
				worst = k
			}
		}
		if errors[worst] <= fitShare {
			return f
		}
		if frame := t.frameToAdd(f, worst); frame >= 0 {
			more, k := t.with(f, frame, func(frame int) float64 { return slopes[frame] })
			f, _ = t.solveAround(more, k)
			continue
		}
		for _, frame := range t.framesBeside(worst) {
			k, _ := slices.BinarySearch(f.at, frame)
			f.value[k], f.slope[k] = t.atFrame(frame), t.chord(frame)
		}
	}
	return t.through()
}

// framesBeside are the frames on both sides of a step, the nearer one first; a step on a
// frame has only that.
func (t *tube) framesBeside(step int) []int {
	before, after := step/stepsPerFrame, (step+stepsPerFrame-1)/stepsPerFrame
	if t.closed {
		after %= t.frames
	}
	switch {
	case before == after:
		return []int{before}
	case step%stepsPerFrame > stepsPerFrame/2:
		return []int{after, before}
	}
	return []int{before, after}
}

// frameToAdd is the nearest frame to a step that has no key yet, or -1 when those beside it
// all have one.
func (t *tube) frameToAdd(f fit, step int) int {
	for _, frame := range t.framesBeside(step) {
		if _, has := slices.BinarySearch(f.at, frame); !has {
			return frame
		}
	}
	return -1
}

// chord is the slope of the motion at a frame as the tube's own smooth middle has it.
func (t *tube) chord(frame int) float64 {
	if !t.closed && (frame == 0 || frame == t.frames) {
		return t.atFrame(frame+1) - t.atFrame(frame-1)
	}
	return (t.atFrame(frame+1) - t.atFrame(frame-1)) / 2
}

// through is the curve with a key on every frame, on the motion itself.
func (t *tube) through() fit {
	var f fit
	for at := range t.frames + 1 {
		if at == t.frames && t.closed {
			break
		}
		f.at, f.value, f.slope = append(f.at, at), append(f.value, t.atFrame(at)), append(f.slope, t.chord(at))
	}
	return f
}

// thin takes out keys as long as the curve through the others, with those beside it solved
// anew, stays inside the tube; the one that the curve would miss least goes first.
func (t *tube) thin(f fit) fit {
	kept := map[int]bool{} // frames whose key is known to be needed
	misses := make([]float64, len(f.at))
	for k := range misses {
		misses[k] = t.missWithout(f, k)
	}
	for len(f.at) > 2 {
		key, least := -1, float64(farMiss)
		for k, at := range f.at {
			if misses[k] < least && !kept[at] && (t.closed || k > 0 && k < len(f.at)-1) {
				key, least = k, misses[k]
			}
		}
		if key < 0 {
			break
		}
		g, worst := t.solveAround(f.without(key), key)
		if worst > fitShare {
			kept[f.at[key]] = true
			continue
		}
		misses = slices.Delete(misses, key, key+1)
		f = g
		n := len(f.at)
		for _, beside := range []int{key - 2, key - 1, key, key + 1} {
			delete(kept, f.at[(beside+2*n)%n])
		}
		// Those that were solved anew are other keys' neighbours.
		for beside := key - windowKeys - 2; beside <= key+windowKeys+2; beside++ {
			k := (beside%n + n) % n
			misses[k] = t.missWithout(f, k)
		}
	}
	return f
}

// reachOfRows is how many frames a key may move to stand in a row with another channel's.
const reachOfRows = 5

// share moves keys that stand alone in their row to a frame where the control has a row
// anyway, where the curve allows it.
func (t *tube) share(f fit, others map[int]bool) fit {
	for k := range f.at {
		if others[f.at[k]] || !t.closed && (k == 0 || k == len(f.at)-1) || len(f.at) < 2 {
			continue
		}
		for move := 1; move <= 2*reachOfRows; move++ {
			frame := f.at[k] + (move+1)/2*(1-move%2*2)
			if !others[frame] || frame < 0 || frame >= t.frames || k > 0 && frame <= f.at[k-1] || k+1 < len(f.at) && frame >= f.at[k+1] {
				continue
			}
			moved := fit{at: slices.Clone(f.at), value: slices.Clone(f.value), slope: slices.Clone(f.slope)}
			moved.at[k], moved.value[k], moved.slope[k] = frame, t.atFrame(frame), t.chord(frame)
			if g, worst := t.solveAround(moved, k); worst <= fitShare {
				f = g
				break
			}
		}
	}
	return f
}

// mergeTries is how many frames between two keys are tried for one that replaces both.
const mergeTries = 5

// farMiss is how far outside the tube the curve would go without a key, from which the key
// is not even tried to be done without.
const farMiss = 20

// farMerge is the same for one key in place of two, which stands on the motion.
const farMerge = 8

// merge puts one key between two for both of them where the curve allows it: taking out a
// key leaves its neighbours where they are, though they may stand beside the better frame.
func (t *tube) merge(f fit) fit {
	for k := 0; k < len(f.at) && len(f.at) > 2; k++ {
		next, between := k+1, 0
		switch {
		case !t.closed && (k == 0 || k+2 >= len(f.at)):
			continue
		case next == len(f.at):
			next, between = 0, f.at[0]+t.frames-f.at[k]
		default:
			between = f.at[next] - f.at[k]
		}
		if t.missWithout(f, k) > 5*farMiss && t.missWithout(f, next) > 5*farMiss {
			continue
		}
		others := f.without(max(k, next)).without(min(k, next))
		last := 0
		for try := range mergeTries {
			off := (try + 1) * between / (mergeTries + 1)
			if off == last {
				continue
			}
			last = off
			one, at := t.with(others, (f.at[k]+off)%t.frames, t.chord)
			if max(t.missBetween(one, at-1, at), t.missBetween(one, at, at+1)) > farMerge {
				continue
			}
			if g, worst := t.solveAround(one, at); worst <= fitShare {
				f, k = g, max(-1, k-2)
				break
			}
		}
	}
	return f
}

// with is a fit with a key more, on the motion at a frame, and that key's number.
func (t *tube) with(f fit, frame int, slope func(frame int) float64) (fit, int) {
	k, _ := slices.BinarySearch(f.at, frame)
	return fit{
		at:    slices.Insert(slices.Clone(f.at), k, frame),
		value: slices.Insert(slices.Clone(f.value), k, t.atFrame(frame)),
		slope: slices.Insert(slices.Clone(f.slope), k, slope(frame)),
	}, k
}

// without is a fit without one of its keys.
func (f fit) without(k int) fit {
	return fit{
		at:    slices.Delete(slices.Clone(f.at), k, k+1),
		value: slices.Delete(slices.Clone(f.value), k, k+1),
		slope: slices.Delete(slices.Clone(f.slope), k, k+1),
	}
}

// missWithout is how far outside the tube the curve would be between the neighbours of
// key k if it went straight from one to the other with their slopes.
func (t *tube) missWithout(f fit, k int) float64 { return t.missBetween(f, k-1, k+1) }

// missBetween is how far outside the tube the segment from key a to key b would be; keys are counted on round a cycle.
func (t *tube) missBetween(f fit, a, b int) float64 {
	n := len(f.at)
	a, b = (a+n)%n, (b+n)%n
	from, to := f.at[a], f.at[b]
	if t.closed && b <= a {
		to += t.frames
	}
	p := cubicOf(f, a, b, to-from)
	length := (to - from) * stepsPerFrame
	perStep := 1 / float64(length)
	worst := 0.0
	for step := 1; step < length; step += 2 {
		at := t.step(from*stepsPerFrame + step)
		worst = max(worst, math.Abs(p.at(float64(step)*perStep)-t.middle[at])/t.half[at])
	}
	return worst
}

// step brings a number of steps into the tube.
func (t *tube) step(k int) int {
	n := len(t.middle)
	switch {
	case k >= 0 && k < n:
		return k
	case t.closed:
		return ((k % n) + n) % n
	case k < 0:
		return 0
	}
	return n - 1
}

func (t *tube) atFrame(f int) float64 { return t.middle[t.step(f*stepsPerFrame)] }

// constant is the value that stays inside the whole tube, if there is one.
func (t *tube) constant() (float64, bool) {
	low, high := t.common()
	return (low + high) / 2, low <= high
}

// common is the range of values that stay inside the whole tube; low is above high where there are none.
func (t *tube) common() (low, high float64) {
	low, high = math.Inf(-1), math.Inf(1)
	for k, m := range t.middle {
		low, high = math.Max(low, m-t.half[k]), math.Min(high, m+t.half[k])
	}
	return low, high
}

// slopes are the motion's own slopes at whole frames, by the five-point difference.
func (t *tube) slopes() []float64 {
	out := make([]float64, t.frames+1)
	for f := range out {
		if !t.closed && (f < 2 || f > t.frames-2) {
			before, after := max(0, f-1), min(t.frames, f+1)
			out[f] = (t.atFrame(after) - t.atFrame(before)) / float64(after-before)
			continue
		}
		out[f] = (t.atFrame(f-2) - 8*t.atFrame(f-1) + 8*t.atFrame(f+1) - t.atFrame(f+2)) / 12
	}
	return out
}

// errors is how far the curve is off at each step, as a share of the tube.
func (t *tube) errors(f fit) []float64 {
	out := make([]float64, len(t.middle))
	t.errorsInto(out, f)
	return out
}

// errorsInto is errors in memory of the caller's, and tells the largest.
func (t *tube) errorsInto(out []float64, f fit) (most float64) {
	if len(f.at) == 1 {
		for k, m := range t.middle {
			out[k] = math.Abs(f.value[0]-m) / t.half[k]
			most = max(most, out[k])
		}
		return most
	}
	middle, half := t.middle, t.half[:len(t.middle)]
	out = out[:len(middle)]
	t.eachSegment(f.at, func(a, b, from, length int) {
		p := cubicOf(f, a, b, length/stepsPerFrame)
		perStep := 1 / float64(length)
		for k := range length {
			at := from + k
			if at >= len(middle) {
				at -= len(middle) // a cycle's last segment
			}
			e := math.Abs(p.at(float64(k)*perStep)-middle[at]) / half[at]
			if out[at] = e; e > most {
				most = e
			}
		}
	})
	if !t.closed {
		last := len(middle) - 1
		out[last] = math.Abs(f.value[len(f.value)-1]-middle[last]) / half[last]
		most = max(most, out[last])
	}
	return most
}

// eachSegment calls do for each pair of neighbouring keys with the step at which their
// segment starts and its length in steps. In a cycle the last goes round to the first.
func (t *tube) eachSegment(at []int, do func(a, b, from, length int)) {
	for a := range at {
		b := a + 1
		to := 0
		switch {
		case b < len(at):
			to = at[b]
		case t.closed:
			b, to = 0, at[0]+t.frames
		default:
			return
		}
		do(a, b, at[a]*stepsPerFrame, (to-at[a])*stepsPerFrame)
	}
}

// A cubic is a segment as a polynomial of its share of time.
type cubic struct{ a, b, c, d float64 }

// cubicOf is the Hermite segment from key a to key b, so many frames long.
func cubicOf(f fit, a, b, frames int) cubic {
	h := float64(frames)
	return hermite(f.value[a], f.slope[a]*h, f.value[b], f.slope[b]*h)
}

// hermite is the cubic with these values and these slopes, in units a segment, at its ends.
func hermite(v0, m0, v1, m1 float64) cubic {
	rise := v1 - v0
	return cubic{v0, m0, 3*rise - 2*m0 - m1, m0 + m1 - 2*rise}
}

func (p cubic) at(u float64) float64 { return p.a + u*(p.b+u*(p.c+u*p.d)) }
