package exchange

import (
	"math"
	"slices"
	"sort"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// exactly is how far a cubic that counts as the sheet's own may be from it: radians, centimetres, or a ratio. A turn is
// cubic in its angle and not in its quaternion, so only small ones are.
const exactly = 5e-7

// A reel is one property of one joint on the grid.
type reel struct {
	sampled  *sampled
	joint    int // -1 for the weight of a morph target
	morph    int // of a weight, the rig's morph target
	property property
	order    order
	channels []int // that move it
	path     []quat
	// closes says that the end is the start; gapes that it should be and is not.
	closes, gapes bool
}

// reelOf reads a property of a joint; nil where nothing moves it.
func (s *sampled) reelOf(joint int, p property) *reel {
	r := &reel{sampled: s, joint: joint, property: p, order: orderOf(&s.motion.Rig.Joints[joint])}
	advances := false
	for i := range s.motion.Channels {
		dial := s.motion.Channels[i].Dial
		for _, d := range dial.Drives {
			if d.Joint == joint && propertyOf(d.Kind) == p && s.values[i] != nil {
				r.channels = append(r.channels, i)
				advances = advances || s.motion.Sheet.Advance[dial.Path] != 0
				break
			}
		}
	}
	switch solved := s.solved[joint]; {
	case solved != nil:
		r.path = make([]quat, len(solved))
		for k := range solved {
			r.path[k] = solved[k].of(p)
		}
	case len(r.channels) == 0:
		return nil
	default:
		r.readChannels()
	}
	r.joinEnds(advances)
	return r
}

// joinEnds finds out whether a cycle's end is its start, and makes the two one where they are but for rounding.
func (r *reel) joinEnds(advances bool) {
	if !r.sampled.motion.Sheet.Closed || advances {
		return
	}
	first, last := r.path[0], r.path[len(r.path)-1]
	r.closes = r.property.apart(first, last) <= 20*exactly
	r.gapes = !r.closes
	if r.closes {
		if r.property == turns && first.dot(last) < 0 {
			first = first.times(-1)
		}
		r.path[len(r.path)-1] = first
	}
}

// solved tells whether a chain has a say in the reel's property.
func (r *reel) solved() bool { return r.joint >= 0 && r.sampled.solved[r.joint] != nil }

func propertyOf(kind motion.DriveKind) property {
	switch kind {
	case motion.DrivesMove:
		return moves
	case motion.DrivesTurn:
		return turns
	case motion.DrivesScale:
		return scales
	}
	return -1
}

// of is one property of a transform.
func (t transform) of(p property) quat {
	switch p {
	case moves:
		return quat{t.move[0], t.move[1], t.move[2]}
	case turns:
		return t.turn
	}
	return quat{t.scale[0], t.scale[1], t.scale[2]}
}

// readChannels works the path out from the channels' values.
func (r *reel) readChannels() {
	r.path = make([]quat, len(r.sampled.at))
	for k := range r.path {
		parts := r.parts(func(n int) float64 { return r.sampled.values[r.channels[n]][k] })
		r.path[k] = r.value(parts)
		if r.property == turns && k > 0 && r.path[k].dot(r.path[k-1]) < 0 {
			r.path[k] = r.path[k].times(-1)
		}
	}
}

// parts are the property by its three axes for values of the reel's channels, by their places among these: centimetres,
// degrees, or ratios.
func (r *reel) parts(value func(n int) float64) vec3 {
	if r.property == weighs {
		return r.weightParts(value)
	}
	m := r.sampled.motion
	j := &m.Rig.Joints[r.joint]
	parts := [...]vec3{vec3(j.Rest), vec3(j.RestTurn), {1, 1, 1}}[r.property]
	for n, i := range r.channels {
		dial := m.Channels[i].Dial
		for k := range dial.Drives {
			d := &dial.Drives[k]
			if d.Joint != r.joint || propertyOf(d.Kind) != r.property {
				continue
			}
			change := d.Gain * (value(n) - dial.Rest)
			for axis := range 3 {
				switch {
				case !d.Axes[axis]:
				case r.property == scales:
					parts[axis] *= 1 + change/100
				default:
					parts[axis] += change
				}
			}
		}
	}
	return parts
}

func (r *reel) value(parts vec3) quat {
	if r.property == turns {
		return r.order.quat(parts)
	}
	return quat{parts[0], parts[1], parts[2]}
}

// cubic tells whether the sheet's own keys could be the track's: what moves the property is cubic between its corners,
// and turns are about one axis only.
func (r *reel) cubic() bool {
	if r.solved() {
		return false
	}
	var turning [3]bool
	for _, i := range r.channels {
		if !r.sampled.corners[i].Cubic {
			return false
		}
		for _, d := range r.sampled.motion.Channels[i].Dial.Drives {
			if d.Joint == r.joint && propertyOf(d.Kind) == turns {
				for axis := range 3 {
					turning[axis] = turning[axis] || d.Axes[axis]
				}
			}
		}
	}
	axes := 0
	for _, t := range turning {
		if t {
			axes++
		}
	}
	return r.property != turns || axes <= 1
}

// A knot is a key on a corner of a reel: the values and the slopes a frame on both its sides.
type knot struct {
	at                  float64
	before, after       quat
	slopeIn, slopeAfter quat
}

// knots are the corners of all channels of the reel, and how far the cubics between lead from it. Where several scales
// multiply, which makes no cubic, segments are halved.
func (r *reel) knots() (out []knot, off float64) {
	s := r.sampled
	var times []float64
	for _, i := range r.channels {
		times = append(times, s.corners[i].Times...)
	}
	halvings := 0
	if r.property == scales {
		halvings = mostHalvings
	}
	for _, t := range inOrder(times, s.motion.Sheet.Length.Float()) {
		next := r.knot(t)
		if n := len(out); n > 0 {
			out = r.between(out, out[n-1], next, halvings)
		}
		out = append(out, next)
	}
	if r.property == turns {
		keepSigns(out)
	}
	for i := 1; i < len(out); i++ {
		off = math.Max(off, r.off(&out[i-1], &out[i]))
	}
	return out, off
}

// mostHalvings bounds how often a segment is halved for the sake of exactness.
const mostHalvings = 8

// between adds to out the knots that are needed between two.
func (r *reel) between(out []knot, a, b knot, halvings int) []knot {
	if halvings == 0 || r.off(&a, &b) <= exactly {
		return out
	}
	middle := r.knot((a.at + b.at) / 2)
	out = r.between(out, a, middle, halvings-1)
	out = append(out, middle)
	return r.between(out, middle, b, halvings-1)
}

// off is how far the cubic between two knots is from the sheet's motion at worst.
func (r *reel) off(a, b *knot) (worst float64) {
	frames := b.at - a.at
	first, last := a.after, b.before
	slopeOut, slopeIn := a.slopeAfter.times(frames), b.slopeIn.times(frames)
	if r.property == turns && first.dot(last) < 0 {
		last, slopeIn = last.times(-1), slopeIn.times(-1)
	}
	at := r.sampled.at
	for k := sort.SearchFloat64s(at, a.at); k < len(at) && at[k] < b.at; k++ {
		u := (at[k] - a.at) / frames
		if u < 1e-9 || u > 1-1e-9 {
			continue
		}
		w := basis(u, 1)
		curve := r.property.unit(first.times(w[0]).plus(slopeOut.times(w[1])).plus(last.times(w[2])).plus(slopeIn.times(w[3])))
		worst = math.Max(worst, r.property.apart(curve, r.path[k]))
	}
	return worst
}

// knot reads the property and its slopes on both sides of a moment.
func (r *reel) knot(t float64) knot {
	m := r.sampled.motion
	length := m.Sheet.Length.Float()
	values, slopes := make([][2]float64, len(r.channels)), make([][2]float64, len(r.channels))
	for n, i := range r.channels {
		c := &m.Channels[i]
		in, out := c.Slope(t)
		before, after := c.At(math.Max(0, t-besideJump))+in*math.Min(besideJump, t), c.At(t)
		if t >= length {
			after = before
		}
		if math.Abs(before-after) < 2e-9 {
			before = after
		}
		values[n], slopes[n] = [2]float64{before, after}, [2]float64{in, out}
	}
	out := knot{at: t}
	for side := range 2 {
		value := func(n int) float64 { return values[n][side] }
		parts := r.parts(value)
		rates := r.rates(parts, value, func(n int) float64 { return slopes[n][side] })
		if side == 0 {
			out.before, out.slopeIn = r.value(parts), rates
		} else {
			out.after, out.slopeAfter = r.value(parts), rates
		}
	}
	return out
}

// slopes are those of the path on both sides of a moment of the grid, which no chain has a part in.
func (r *reel) slopes(moment int) (before, after quat) {
	k := r.knot(r.sampled.at[moment])
	if r.property == turns {
		if k.before.dot(r.path[moment]) < 0 {
			k.slopeIn = k.slopeIn.times(-1)
		}
		if k.after.dot(r.path[moment]) < 0 {
			k.slopeAfter = k.slopeAfter.times(-1)
		}
	}
	return k.slopeIn, k.slopeAfter
}

// rates are the property's slopes for the channels' values and slopes a frame.
func (r *reel) rates(parts vec3, value, slope func(n int) float64) (out quat) {
	if r.property == weighs {
		return r.weightRates(slope)
	}
	m := r.sampled.motion
	var byAxis vec3
	for n, i := range r.channels {
		dial := m.Channels[i].Dial
		for _, d := range dial.Drives {
			if d.Joint != r.joint || propertyOf(d.Kind) != r.property {
				continue
			}
			for axis := range 3 {
				switch {
				case !d.Axes[axis]:
				case r.property == scales:
					// The product rule: all other factors stand in the whole.
					if factor := 1 + d.Gain*(value(n)-dial.Rest)/100; factor != 0 {
						byAxis[axis] += parts[axis] / factor * d.Gain * slope(n) / 100
					}
				default:
					byAxis[axis] += d.Gain * slope(n)
				}
			}
		}
	}
	if r.property != turns {
		return quat{byAxis[0], byAxis[1], byAxis[2]}
	}
	for axis := range 3 {
		if byAxis[axis] != 0 {
			out = out.plus(r.order.quatRate(parts, axis).times(byAxis[axis]))
		}
	}
	return out
}

// quatRate is by how much the turn's quaternion changes a degree about one axis.
func (o order) quatRate(angles vec3, about int) quat {
	out := quat{0, 0, 0, 1}
	for _, axis := range o {
		half := angles[axis] / 2 / degrees
		var q quat
		q[axis], q[3] = math.Sin(half), math.Cos(half)
		if axis == about {
			q[axis], q[3] = math.Cos(half)/2/degrees, -math.Sin(half)/2/degrees
		}
		out = out.after(q)
	}
	return out
}

// keepSigns chooses the sign of each quaternion so that the path does not go through the other half of the sphere.
func keepSigns(knots []knot) {
	var last quat
	for i := range knots {
		k := &knots[i]
		if i > 0 && k.before.dot(last) < 0 {
			k.before, k.slopeIn = k.before.times(-1), k.slopeIn.times(-1)
		}
		if k.after.dot(k.before) < 0 {
			k.after, k.slopeAfter = k.after.times(-1), k.slopeAfter.times(-1)
		}
		last = k.after
	}
}

// still tells whether the reel never leaves its first value.
func (r *reel) still() bool {
	for _, v := range r.path {
		if r.property.apart(v, r.path[0]) > exactly/5 {
			return false
		}
	}
	return true
}

// runs are the stretches of moments without a jump.
func (r *reel) runs() [][2]int {
	var out [][2]int
	from := 0
	at := r.sampled.at
	for k := 1; k < len(at); k++ {
		if at[k] == at[k-1] && r.property.apart(r.path[k], r.path[k-1]) > 20*exactly {
			out = append(out, [2]int{from, k})
			from = k
		}
	}
	return append(out, [2]int{from, len(at)})
}

// steps tells whether the reel moves by jumps only.
func (r *reel) steps(runs [][2]int) bool {
	return len(runs) > 1 && !slices.ContainsFunc(runs, func(run [2]int) bool {
		for k := run[0]; k < run[1]; k++ {
			if r.property.apart(r.path[k], r.path[run[0]]) > exactly/5 {
				return true
			}
		}
		return false
	})
}

// track writes the reel with as few keys as keep it within the tolerance: with the sheet's own where they do, by steps
// where it moves by jumps only, and fitted otherwise.
func (r *reel) track(tolerance float64) track {
	w := newTrackWriter(r)
	runs := r.runs()
	switch {
	case r.still():
		w.exact = true
		w.key(0, quat{}, r.path[0], quat{})
		w.kind = gltf.InterpolationLinear
		return w.track
	case r.steps(runs):
		w.exact = true
		w.kind = gltf.InterpolationStep
		for _, run := range runs {
			w.key(r.sampled.at[run[0]], quat{}, r.path[run[0]], quat{})
		}
		w.close()
		return w.track
	case r.cubic():
		if knots, off := r.knots(); r.property != turns || off <= tolerance {
			w.exact = off <= exactly
			r.write(w, knots)
			return w.track
		}
	}
	r.fit(w, runs, tolerance)
	return w.track
}

// write writes knots as they are.
func (r *reel) write(w *trackWriter, knots []knot) {
	w.kind = gltf.InterpolationCubicSpline
	for _, k := range knots {
		if r.property.apart(k.before, k.after) > 20*exactly {
			w.key(w.justBefore(k.at), k.slopeIn, k.before, quat{})
			w.key(k.at, quat{}, k.after, k.slopeAfter)
			continue
		}
		w.key(k.at, k.slopeIn, k.after, k.slopeAfter)
	}
	w.close()
}

// fit writes the runs with the fewest keys. One track is of one kind: straight lines only where all runs are.
func (r *reel) fit(w *trackWriter, runs [][2]int, tolerance float64) {
	kinds, keys := make([]gltf.Interpolation, len(runs)), make([][]splineKey, len(runs))
	w.kind = gltf.InterpolationLinear
	splices := make([]splice, len(runs))
	for i, run := range runs {
		splices[i] = splice{property: r.property, at: r.sampled.at[run[0]:run[1]], path: r.path[run[0]:run[1]], tolerance: tolerance}
		if !r.solved() {
			splices[i].slopes = func(moment int) (before, after quat) { return r.slopes(run[0] + moment) }
		}
		if kinds[i], keys[i] = splices[i].keys(); kinds[i] == gltf.InterpolationCubicSpline {
			w.kind = gltf.InterpolationCubicSpline
		}
	}
	for i := range splices {
		s := &splices[i]
		if kinds[i] != w.kind {
			keys[i] = s.reach(s.cubicFits)
		}
		for _, k := range keys[i] {
			at := s.at[k.moment]
			if i+1 < len(splices) && k.moment == len(s.at)-1 {
				at = w.justBefore(at)
			}
			w.key(at, k.in, s.path[k.moment], k.out)
		}
	}
	w.close()
}
