package motion

import "math"

// EndJoints returns the indices of the joints at which limbs and trunk end: those on which no other hangs, with what
// hangs on a face left out, so that a head ends in itself and not in its eyelids.
func (r *Rig) EndJoints() []int {
	if r.ends != nil {
		return r.ends
	}
	ofFace := func(i int) bool {
		switch r.Joints[i].Part {
		case PartFace, PartEye, PartLid:
			return true
		}
		return false
	}
	carries := make([]bool, len(r.Joints))
	for i := range r.Joints {
		if up := r.Joints[i].Parent; up >= 0 && !ofFace(i) {
			carries[up] = true
		}
	}
	var ends []int
	for i := range r.Joints {
		if !carries[i] && !ofFace(i) {
			ends = append(ends, i)
		}
	}
	return ends
}

// JointSpeeds returns how fast each joint's pivot moves through the world at a time in frames, in cm per frame, when the
// channels change at the given speeds there, one a channel in the rig's order, in units per frame. It is the central
// difference over two thousandths of a frame.
func (m *Motion) JointSpeeds(frames float64, channelSpeeds []float64) [][3]float64 {
	const half = 1e-3
	at := m.Values(frames, nil)
	moved := func(by float64) []Transform {
		values := make([]float64, len(at))
		for i := range values {
			values[i] = at[i] + by*channelSpeeds[i]
		}
		return m.figure(frames, values).World
	}
	before, after := moved(-half), moved(half)
	speeds := make([][3]float64, len(before))
	for i := range speeds {
		speeds[i] = times(minus(after[i].Position(), before[i].Position()), 0.5/half)
	}
	return speeds
}

// PeakJointSpeeds returns the greatest speed of each joint's pivot through the world, in cm per frame: the longest way
// from one frame to the next. A motion of more than 480 frames is looked at in 480 equal steps.
func (m *Motion) PeakJointSpeeds() []float64 {
	const most = 480
	frames := m.Sheet.Length.Float()
	count := max(1, int(math.Ceil(min(frames, most))))
	step := frames / float64(count)
	peaks := make([]float64, len(m.Rig.Joints))
	last := make([][3]float64, len(m.Rig.Joints))
	player := m.Player()
	for i := 0; i <= count; i++ {
		world := player.Figure(float64(i) * step).World
		for k := range world {
			place := world[k].Position()
			if i > 0 {
				peaks[k] = max(peaks[k], length(minus(place, last[k]))/step)
			}
			last[k] = place
		}
	}
	return peaks
}
