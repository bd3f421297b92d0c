package exchange

import "math"

// heldRows are the rows of a number that stays between changes, one at each change: where the keys of its track lie, where they
// are to be kept, or else on the frame that shows it first. number gives it at a step; the track is nil where there is none.
func (f *figure) heldRows(t *track, closed bool, number func(step int) float64) (rows []row) {
	if t != nil && t.holdsBetween(f.time) {
		return t.heldOnKeys(f.time, closed, number)
	}
	last := math.NaN()
	for frame := range f.time.frames + 1 {
		if frame == f.time.frames && closed {
			break
		}
		if value := number(frame * stepsPerFrame); value != last {
			rows = append(rows, heldRow(frame, value))
			last = value
		}
	}
	return rows
}

// holdsBetween tells whether a track's keys are to be kept where they are, between frames: few enough that somebody has set
// them. One that is baked at another rate is looked at on frames.
func (t *track) holdsBetween(time timing) bool {
	return !time.even && 2*len(t.times) <= time.frames
}

// heldOnKeys are the rows of a number that stays between the keys of a track, at the moments at which it changes: whole frames
// where the keys lie on them. value is the number at a step, and time the clip's.
func (t *track) heldOnKeys(time timing, closed bool, value func(step int) float64) (rows []row) {
	put := func(frames, value float64) {
		whole := math.Round(frames)
		part := round(frames-whole, 3)
		if math.Abs(part) < nearFrame {
			part = 0
		}
		r := heldRow(int(whole), value)
		r.part = part
		if n := len(rows); n > 0 && rows[n-1].value == r.value {
			return
		}
		rows = append(rows, r)
	}
	put(0, value(0))
	for k, seconds := range t.times {
		at := (seconds - time.start) / time.frame
		step := int(math.Ceil((at - nearFrame) * stepsPerFrame))
		if k+1 < len(t.times) && int(math.Ceil(((t.times[k+1]-time.start)/time.frame-nearFrame)*stepsPerFrame)) <= step {
			continue // gone before anybody looks
		}
		if step > 0 && (step < time.frames*stepsPerFrame || step == time.frames*stepsPerFrame && !closed) {
			put(at, value(step))
		}
	}
	return rows
}
