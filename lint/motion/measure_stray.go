package motion

import "math"

// MayStray is how far one joint may at most travel as seen from another that carries it, in cm and in any direction: no less
// than it does from sample to sample. It makes no figure, and so is quick, but knows a bound only where what is between the
// two pivots is stiff and as at rest; elsewhere it is infinite.
//
// Such a stretch keeps its length. A turn about an axis takes its end along by the end's distance from that axis × the angle;
// what has turned before has brought the end no farther from the axis than at rest by its length × all angles together.
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
	rest := rig.RestWorld()
	stretch := minus(rest[joint].Position(), rest[carrier].Position())
	type turn struct{ angle, offAxis float64 } // radians, cm
	var turns []turn
	astray := 0.0 // radians that all turns together may lead away from rest
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
				perUnit := math.Abs(d.Gain) * math.Pi / 180
				for axis, is := range d.Axes {
					if is {
						turns = append(turns, turn{perUnit * (most - least), offAxis(stretch, &rig.Joints[d.Joint], &rest[d.Joint], axis)})
						astray += perUnit * max(math.Abs(most-dial.Rest), math.Abs(least-dial.Rest))
					}
				}
			}
		}
	}
	may := 0.0
	for _, t := range turns {
		may += t.angle * min(length(stretch), t.offAxis+astray*length(stretch))
	}
	return may
}

// offAxis is how far the end of a stretch is from an axis of a joint through its beginning, at rest. Where the joint is
// turned at rest its axes are not those of its frame, and the length of the stretch stands for the distance.
func offAxis(stretch [3]float64, joint *Joint, rest *Transform, axis int) float64 {
	if joint.RestTurn != ([3]float64{}) {
		return length(stretch)
	}
	along := unit([3]float64{rest[3*axis], rest[3*axis+1], rest[3*axis+2]}, [3]float64{})
	return length(cross(along, stretch))
}
