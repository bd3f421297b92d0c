package motion

import "math"

// Transform is a joint's place in the world: the image of its x, y and z axes, column by column, then its position in
// cm. A scale that differs by axis is kept as it is.
type Transform [12]float64

// Identity is the transform that changes nothing.
var identity = Transform{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0}

// Position is where the joint's pivot stands, in cm.
func (t *Transform) Position() [3]float64 { return [3]float64{t[9], t[10], t[11]} }

// Apply takes a point from the joint's frame into the world.
func (t *Transform) Apply(p [3]float64) (out [3]float64) {
	for row := range 3 {
		out[row] = t[row]*p[0] + t[3+row]*p[1] + t[6+row]*p[2] + t[9+row]
	}
	return out
}

// times is t after u: a point goes through u first.
func (t *Transform) times(u *Transform) (out Transform) {
	for column := range 4 {
		for row := range 3 {
			out[column*3+row] = t[row]*u[column*3] + t[3+row]*u[column*3+1] + t[6+row]*u[column*3+2]
		}
	}
	for row := range 3 {
		out[9+row] += t[9+row]
	}
	return out
}

// JointPose is a joint's own transform in its parent's frame, by its parts.
type JointPose struct {
	Move  [3]float64 // cm
	Turn  [3]float64 // degrees about x, y, z, in the joint's order
	Scale [3]float64 // 1 is rest
}

// Local is translate(Move) · turn(Turn) · scale(Scale).
func (j *JointPose) Local(order Order) Transform {
	turn := TurnMatrix(order, j.Turn)
	var t Transform
	for column := range 3 {
		for row := range 3 {
			t[column*3+row] = turn[column*3+row] * j.Scale[column]
		}
	}
	t[9], t[10], t[11] = j.Move[0], j.Move[1], j.Move[2]
	return t
}

// TurnMatrix is the rotation of Euler angles in degrees about x, y and z, by columns. The order names the factors from
// left to right: xyz is Rx·Ry·Rz. Angles follow the right-hand rule (glTF 2.0, ISO/IEC 12113, coordinate system).
func TurnMatrix(order Order, degrees [3]float64) (m [9]float64) {
	m = [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}
	for i := 0; i < len(order); i++ {
		axis := int(order[i] - 'x')
		sin, cos := sinCos(degrees[axis])
		if sin == 0 && cos == 1 {
			continue // most joints turn about one axis or none
		}
		// Multiplying by an elementary rotation from the right mixes the two other columns.
		a, b := (axis+1)%3, (axis+2)%3
		for row := range 3 {
			ca, cb := m[a*3+row], m[b*3+row]
			m[a*3+row], m[b*3+row] = ca*cos+cb*sin, cb*cos-ca*sin
		}
	}
	return m
}

// sinCos is exact at the quarter turns, so that a rig turned by 90° stays square.
func sinCos(degrees float64) (sin, cos float64) {
	if quarter := degrees / 90; quarter == math.Trunc(quarter) && math.Abs(quarter) < 1<<31 {
		switch ((int64(quarter) % 4) + 4) % 4 {
		case 0:
			return 0, 1
		case 1:
			return 1, 0
		case 2:
			return 0, -1
		}
		return -1, 0
	}
	return math.Sincos(degrees * math.Pi / 180)
}

// RestWorld gives every joint's place at rest, for reading only.
func (r *Rig) RestWorld() []Transform {
	if r.rest != nil {
		return r.rest
	}
	return r.World(r.RestPose(nil), nil)
}

// RestPose gives every joint's own transform at rest, in dst where that is long enough.
func (r *Rig) RestPose(dst []JointPose) []JointPose {
	if cap(dst) < len(r.Joints) {
		dst = make([]JointPose, len(r.Joints))
	}
	dst = dst[:len(r.Joints)]
	for i := range r.Joints {
		dst[i] = JointPose{r.Joints[i].Rest, r.Joints[i].RestTurn, [3]float64{1, 1, 1}}
	}
	return dst
}

// Pose gives every joint's own transform for the channels' values, one a channel in the rig's order, in dst where that
// is long enough. A channel at its rest value changes nothing. Goals are not solved here.
func (r *Rig) Pose(values []float64, dst []JointPose) []JointPose {
	dst = r.RestPose(dst)
	for i := range r.Channels {
		dial := &r.Channels[i]
		for k := range dial.Drives {
			dial.Drives[k].apply(dst, values[i], dial.Rest)
		}
	}
	return dst
}

// apply moves a joint. The departure from the channel's rest counts, so that a dial whose rest is not 0 stands still
// there; a size is a factor, so that two channels of one axis multiply.
func (d *Drive) apply(pose []JointPose, value, rest float64) {
	if d.Joint < 0 {
		return
	}
	for axis := range 3 {
		if !d.Axes[axis] {
			continue
		}
		switch d.Kind {
		case DrivesMove:
			pose[d.Joint].Move[axis] += d.Gain * (value - rest)
		case DrivesTurn:
			pose[d.Joint].Turn[axis] += d.Gain * (value - rest)
		case DrivesScale:
			pose[d.Joint].Scale[axis] *= 1 + d.Gain*(value-rest)/100
		}
	}
}

// World gives every joint's place in the world for the joints' own transforms, in dst where that is long enough.
func (r *Rig) World(pose []JointPose, dst []Transform) []Transform {
	if cap(dst) < len(r.Joints) {
		dst = make([]Transform, len(r.Joints))
	}
	dst = dst[:len(r.Joints)]
	for i := range r.Joints {
		j := &r.Joints[i]
		local := pose[i].Local(j.Order)
		if j.Parent < 0 {
			dst[i] = local
			continue
		}
		dst[i] = dst[j.Parent].times(&local)
	}
	return dst
}
