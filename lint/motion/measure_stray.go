package motion

import "math"

// MayStray is how far one joint may at most travel as seen from another that carries it, in cm and in any direction: no less
// than it does from sample to sample. It makes no figure, and so is quick, but knows a bound only where what is between the
// two pivots is stiff and as at rest; elsewhere it is infinite.
//
// Such a stretch keeps its length, and turns by no more than the turns of what carries it add up to; and the end of a
// stretch of a length that turns by an angle travels by no more than length × angle.
func (s *Sampled) MayStray(joint, carrier int) float64 {
	rig := s.Motion.Rig
	if !s.hangs() {
		return math.Inf(1)
	}
	between, above := make([]bool, len(rig.Joints)), make([]bool, len(rig.Joints))
	for i := joint; i != carrier; i = rig.Joints[i].Parent {
		if i < 0 {
			return math.Inf(1)
		}
		between[i] = true
	}
	for i := carrier; i >= 0; i = rig.Joints[i].Parent {
		above[i] = true
	}
	turned := 0.0 // degrees
	for i := range rig.Channels {
		dial := &rig.Channels[i]
		var least, most float64
		known := false
		for k := range dial.Drives {
			d := &dial.Drives[k]
			if d.Joint < 0 || !between[d.Joint] && !above[d.Joint] || d.Joint == joint && d.Kind == DrivesTurn {
				continue // it moves neither pivot
			}
			if !known {
				least, most = s.Range(i)
				known = true
			}
			switch {
			case least == dial.Rest && most == dial.Rest:
			case between[d.Joint] || d.Kind == DrivesScale:
				return math.Inf(1)
			case d.Kind == DrivesTurn:
				for _, turns := range d.Axes {
					if turns {
						turned += math.Abs(d.Gain) * (most - least)
					}
				}
			}
		}
	}
	rest := rig.RestWorld()
	return length(minus(rest[joint].Position(), rest[carrier].Position())) * turned * math.Pi / 180
}
