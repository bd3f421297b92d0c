package exchange

import (
	"cmp"
	"math"
	"slices"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// earlyKey is how many frames before a jump the key stands that has the value before it: less than any player shows.
const earlyKey = 0.01

// leastJumpSize is by how much the numbers of two keys differ at least for which a track jumps.
const leastJumpSize = 1e-5

// jumpsOn are the frames, rising, on which a track goes from one value to another at one moment, as an export writes a stay.
// all is false where it jumps elsewhere, or has a corner.
func (t *track) jumpsOn(time timing) (frames []int, all bool) {
	all = true
	for k := 1; k < len(t.times) && t.kind != gltf.InterpolationStep; k++ {
		if t.times[k]-t.times[k-1] >= leastJump {
			continue
		}
		apart, opposite := 0.0, 0.0
		for n := range t.width {
			a, b := t.values[t.valueAt(k-1)+n], t.values[t.valueAt(k)+n]
			apart, opposite = math.Max(apart, math.Abs(a-b)), math.Max(opposite, math.Abs(a+b))
		}
		if t.property == turns {
			apart = math.Min(apart, opposite)
		}
		if apart < leastJumpSize {
			all = all && (k == len(t.times)-1 || !t.corner(k, time.frame)) // the slope behind the last key is nobody's
			continue
		}
		at := (t.times[k] - time.start) / time.frame
		frame := math.Round(at)
		switch {
		case math.Abs(at-frame) > nearFrame:
			all = false
		case frame > 0 && frame <= float64(time.frames) && (len(frames) == 0 || frames[len(frames)-1] < int(frame)):
			frames = append(frames, int(frame))
		}
	}
	return frames, all
}

// leastCorner is by how much the slopes of two keys of one moment differ in a frame at least for which the track has a corner.
const leastCorner = 4e-3

// corner tells whether a cubic track leaves key k otherwise than it arrives at the one before it, which is of the same moment.
func (t *track) corner(k int, frame float64) bool {
	for n := range t.width {
		if t.kind == gltf.InterpolationCubicSpline && math.Abs(t.values[3*(k-1)*t.width+n]-t.values[(3*k+2)*t.width+n])*frame > leastCorner {
			return true
		}
	}
	return false
}

// from is the value of a track from a time on: where it jumps at that time, by the rounding of 32-bit seconds, the value
// after that.
func (t *track) from(seconds float64) [4]float64 {
	if k := t.jumpAt(seconds); k >= 0 {
		return t.key(k)
	}
	return t.at(seconds)
}

// jumpAt is the key with the value after a jump at a time; -1 where there is none.
func (t *track) jumpAt(seconds float64) int {
	i, _ := slices.BinarySearch(t.times, seconds+leastJump/2)
	switch i--; {
	case i < 0 || t.times[i] < seconds-leastJump/2:
		return -1 // no key is there
	case t.kind == gltf.InterpolationStep || i > 0 && t.times[i]-t.times[i-1] < leastJump:
		return i
	}
	return -1
}

// leftAt is the value of a path just before a step on a frame: of the cubic through what it has in the frame before.
func leftAt(path func(step int) float64, step int) float64 {
	return 4*path(step-1) - 6*path(step-2) + 4*path(step-3) - path(step-4)
}

// jumpsOf are those of some frames at which a path of a clip jumps by more than a little. What jumps at the end of a cycle
// does so at its beginning; at the end of a span nothing does.
func jumpsOf(path []float64, frames []int, closed bool, reach float64) (out []int) {
	for _, frame := range frames {
		step := frame * stepsPerFrame
		if step == len(path)-1 && !closed {
			continue
		}
		if before := leftAt(func(k int) float64 { return path[k] }, step); math.Abs(path[step]-before) > reach {
			out = append(out, step%(len(path)-1)/stepsPerFrame)
		}
	}
	slices.Sort(out)
	return out
}

// piecesOf are the stretches between jumps, from a frame to a frame; in a cycle the last one ends in the next round.
func piecesOf(cuts []int, frames int, closed bool) (pieces [][2]int) {
	if closed {
		for i, from := range cuts {
			to := cuts[0] + frames
			if i+1 < len(cuts) {
				to = cuts[i+1]
			}
			pieces = append(pieces, [2]int{from, to})
		}
		return pieces
	}
	from := 0
	for _, to := range append(slices.Clone(cuts), frames) {
		pieces = append(pieces, [2]int{from, to})
		from = to
	}
	return pieces
}

// smoothPieces is the smooth curve of a path between its jumps.
func smoothPieces(path []float64, closed bool, cuts []int) []float64 {
	frames := (len(path) - 1) / stepsPerFrame
	out := slices.Clone(path)
	for _, piece := range piecesOf(cuts, frames, closed) {
		own := pieceOf(path, frames, piece, slices.Contains(cuts, piece[1]%frames))
		for k, v := range smoothCurve(own, false, 0)[:len(own)-1] {
			out[(piece[0]*stepsPerFrame+k)%(frames*stepsPerFrame)] = v
		}
	}
	if closed {
		out[len(out)-1] = out[0]
	}
	return out
}

// pieceOf is a piece of a path of so many frames, to its last frame. jumps says that it ends in a jump, and so with the value
// before that.
func pieceOf(path []float64, frames int, piece [2]int, jumps bool) []float64 {
	out := make([]float64, (piece[1]-piece[0])*stepsPerFrame+1)
	for k := range out {
		at := piece[0]*stepsPerFrame + k
		if piece[1] > frames {
			at %= frames * stepsPerFrame
		}
		out[k] = path[min(at, len(path)-1)]
	}
	if last := len(out) - 1; jumps {
		out[last] = leftAt(func(k int) float64 { return out[k] }, last)
	}
	return out
}

// cutsOf are the frames at which a channel has to jump.
func (f *figure) cutsOf(c *channel) (cuts []int) {
	if c.gain != 0 {
		return nil
	}
	for _, d := range c.drives {
		if s := &f.series[d.series]; !d.loose && !s.idle {
			cuts = append(cuts, s.jumps...)
		}
	}
	slices.Sort(cuts)
	return slices.Compact(cuts)
}

// fitPieces fits the curve of a tube by pieces between jumps. What is before a jump arrives just before its frame, or stays
// until then where it does in the clip.
func (t *tube) fitPieces(cuts []int, beatFrames float64) (rows []row) {
	for _, piece := range piecesOf(cuts, t.frames, t.closed) {
		jumps := slices.Contains(cuts, piece[1]%t.frames) && (t.closed || piece[1] < t.frames)
		p := &tube{frames: piece[1] - piece[0], middle: pieceOf(t.middle, t.frames, piece, jumps), half: pieceOf(t.half, t.frames, piece, false)}
		if last := len(p.half) - 1; jumps {
			p.half[last] = p.half[last-1]
		}
		for _, r := range p.untilJump(jumps, beatFrames) {
			if r.frame += piece[0]; t.closed && r.frame >= t.frames {
				if r.frame -= t.frames; r.frame == 0 && r.part < 0 {
					r.frame = t.frames
				}
			}
			rows = append(rows, r)
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(a.time(), b.time()) })
	return rows
}

// untilJump are the rows of a piece. Its last one stands just before its end where it jumps there, or is left out where the
// one before it stays until then.
func (t *tube) untilJump(jumps bool, beatFrames float64) []row {
	f := fitKeys(t, nil)
	if len(f.at) == 1 {
		rows := t.write(f, beatFrames, 0)
		rows[0].hold()
		return rows
	}
	last := len(f.at) - 1
	rows := t.write(f, beatFrames, 0)
	if !jumps {
		return rows
	}
	// Stays are what their author meant.
	g := fit{at: slices.Clone(f.at), value: make([]float64, 0, last+1), slope: slices.Clone(f.slope)}
	for _, r := range rows {
		g.value = append(g.value, r.value)
	}
	g.value[last], g.slope[last-1], g.slope[last] = g.value[last-1], 0, 0
	if largest(t.errors(g)) <= 1 {
		rows[last-1].hold()
		return rows[:last]
	}
	rows[last].part = -earlyKey
	return rows
}

// hold makes a row one that stays until the next.
func (r *row) hold() {
	r.shape, r.slope, r.text = motion.Stay, 0, number(r.value, 7)+"="
}

// time is when a row stands, in frames.
func (r *row) time() float64 { return float64(r.frame) + r.part }

// weightFrom is the weight of one of a track's targets from a time on, as [track.from] is of the others.
func (t *track) weightFrom(target int, seconds float64) float64 {
	if k := t.jumpAt(seconds); k >= 0 {
		return t.weightKey(k, target)
	}
	return t.weight(target, seconds)
}
