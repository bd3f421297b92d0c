package exchange

import (
	"math"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// straightRows are a channel's rows where the clip was not baked but keyed, with straight
// lines between few keys: the keys themselves, each going straight to the next. It answers
// nil where the clip has no such keys on frames, or where the lines of a turn, which the
// clip turns about one slanting axis, do not stay within what is allowed.
func (f *figure) straightRows(c *channel, allowance [][]float64) []row {
	s := &f.series[c.drives[0].series]
	t := f.skeleton.tracked[[2]int{f.skeleton.joints[s.joint].node, int(s.property)}]
	if len(c.drives) > 1 || c.above || c.mesh != nil || t == nil || t.kind != gltf.InterpolationLinear || !f.time.even || 2*len(t.times) > f.time.frames {
		return nil
	}
	least := math.Inf(1)
	for _, a := range allowance[c.drives[0].series] {
		least = math.Min(least, a)
	}
	decimals := max(0, int(math.Ceil(-math.Log10(least))))
	frames := f.keyFrames(t, c.closed)
	var rows []row
	for i, frame := range frames {
		value := round((s.clip[frame*stepsPerFrame]-s.rest)/c.drives[0].gain+c.base, decimals)
		r := row{frame: frame, value: value, shape: motion.Straight, text: number(value, decimals) + ">"}
		if !c.closed && i == len(frames)-1 {
			r.shape, r.text = motion.Smooth, number(value, decimals)
		}
		rows = append(rows, r)
	}
	rows = withoutOnTheWay(rows)
	if len(rows) < 2 || f.strays(c, rows, allowance[c.drives[0].series]) {
		return nil
	}
	return rows
}

// keyFrames are the frames of a track's keys, with the ends of the clip where the track
// starts later or ends earlier. A cycle leaves out its end, which is its start.
func (f *figure) keyFrames(t *track, closed bool) []int {
	frames := []int{0}
	for _, seconds := range t.times {
		frame := int(math.Round((seconds - f.time.start) / f.time.frame))
		if frame > frames[len(frames)-1] {
			frames = append(frames, frame)
		}
	}
	if last := frames[len(frames)-1]; last < f.time.frames {
		frames = append(frames, f.time.frames)
	}
	if closed {
		frames = frames[:len(frames)-1]
	}
	return frames
}

// withoutOnTheWay leaves out rows that the line between their neighbours passes through.
func withoutOnTheWay(rows []row) []row {
	out := rows[:min(1, len(rows))]
	for i := 1; i < len(rows); i++ {
		if i+1 < len(rows) {
			a, b, c := out[len(out)-1], rows[i], rows[i+1]
			u := float64(b.frame-a.frame) / float64(c.frame-a.frame)
			if math.Abs(a.value+u*(c.value-a.value)-b.value) < 1e-9 {
				continue
			}
		}
		out = append(out, rows[i])
	}
	return out
}

// strays tells whether rows leave the clip by more than half of what is allowed at any
// step, between frames too.
func (f *figure) strays(c *channel, rows []row, allowance []float64) bool {
	s := &f.series[c.drives[0].series]
	probe := *c
	probe.rows = rows
	curve := probe.curve(f.time.frames, 1)
	for k, want := range s.clip {
		value := s.rest + c.drives[0].gain*(curve.At(float64(k)/stepsPerFrame)-c.base)
		if k == len(s.clip)-1 && c.closed {
			value += s.gain // The curve is at the start of its next round.
			value -= c.drives[0].gain * c.gain
		}
		if math.Abs(value-want) > allowance[k/stepsPerFrame]/2 {
			return true
		}
	}
	return false
}
