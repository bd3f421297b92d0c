package exchange

import "math"

// A vec3 is a point or a direction, x y z, in whatever unit its name says.
type vec3 [3]float64

// A quat is a turn as a quaternion, x y z w, the order that glTF stores.
type quat [4]float64

const degrees = 180 / math.Pi

func (a vec3) plus(b vec3) vec3     { return vec3{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vec3) minus(b vec3) vec3    { return vec3{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec3) times(s float64) vec3 { return vec3{a[0] * s, a[1] * s, a[2] * s} }
func (a vec3) scaled(b vec3) vec3   { return vec3{a[0] * b[0], a[1] * b[1], a[2] * b[2]} }
func (a vec3) dot(b vec3) float64   { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vec3) length() float64      { return math.Sqrt(a.dot(a)) }
func (a vec3) to(b vec3) float64    { return b.minus(a).length() }
func (q quat) dot(p quat) float64   { return q[0]*p[0] + q[1]*p[1] + q[2]*p[2] + q[3]*p[3] }
func (q quat) times(s float64) quat { return quat{q[0] * s, q[1] * s, q[2] * s, q[3] * s} }
func (q quat) plus(p quat) quat     { return quat{q[0] + p[0], q[1] + p[1], q[2] + p[2], q[3] + p[3]} }
func (q quat) inverse() quat        { return quat{-q[0], -q[1], -q[2], q[3]} }
func (q quat) normal() quat         { return q.times(1 / math.Sqrt(q.dot(q))) }
func (a vec3) cross(b vec3) vec3 {
	return vec3{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// after is the turn p first, then q (the product q·p).
func (q quat) after(p quat) quat {
	return quat{
		q[3]*p[0] + q[0]*p[3] + q[1]*p[2] - q[2]*p[1],
		q[3]*p[1] - q[0]*p[2] + q[1]*p[3] + q[2]*p[0],
		q[3]*p[2] + q[0]*p[1] - q[1]*p[0] + q[2]*p[3],
		q[3]*p[3] - q[0]*p[0] - q[1]*p[1] - q[2]*p[2],
	}
}

// turn is the vector v turned by the unit quaternion q.
func (q quat) turn(v vec3) vec3 {
	u := vec3{q[0], q[1], q[2]}
	t := u.cross(v).times(2)
	return v.plus(t.times(q[3])).plus(u.cross(t))
}

// angleTo is the angle in degrees of the turn that leads from q to p, both unit
// quaternions, 0 to 180. It is taken from the vector part, since the arc cosine of
// a dot product loses all digits below a few hundredths of a degree.
func (q quat) angleTo(p quat) float64 {
	d := q.inverse().after(p)
	sine := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	return 2 * math.Atan2(sine, math.Abs(d[3])) * degrees
}

// slerp is the turn a share u of the short way from q to p. The formula is that of the
// glTF 2.0 specification, appendix on animation interpolation, spherical linear.
func slerp(q, p quat, u float64) quat {
	d := q.dot(p)
	if d < 0 {
		p, d = p.times(-1), -d
	}
	if d > 1-1e-10 {
		return q.times(1 - u).plus(p.times(u)).normal()
	}
	angle := math.Acos(d)
	return q.times(math.Sin((1 - u) * angle)).plus(p.times(math.Sin(u * angle))).times(1 / math.Sin(angle)).normal()
}

// A matrix is a 3 by 3 linear map, row by row.
type matrix [3][3]float64

func (q quat) matrix() matrix {
	x, y, z, w := q[0], q[1], q[2], q[3]
	return matrix{
		{1 - 2*(y*y+z*z), 2 * (x*y - z*w), 2 * (x*z + y*w)},
		{2 * (x*y + z*w), 1 - 2*(x*x+z*z), 2 * (y*z - x*w)},
		{2 * (x*z - y*w), 2 * (y*z + x*w), 1 - 2*(x*x+y*y)},
	}
}

func (m matrix) times(o matrix) matrix {
	var out matrix
	for i := range 3 {
		for j := range 3 {
			out[i][j] = m[i][0]*o[0][j] + m[i][1]*o[1][j] + m[i][2]*o[2][j]
		}
	}
	return out
}

func (m matrix) apply(v vec3) vec3 {
	return vec3{vec3(m[0]).dot(v), vec3(m[1]).dot(v), vec3(m[2]).dot(v)}
}

// columnsScaled is m · diag(s).
func (m matrix) columnsScaled(s vec3) matrix {
	for i := range 3 {
		for j := range 3 {
			m[i][j] *= s[j]
		}
	}
	return m
}

func (m matrix) column(j int) vec3 { return vec3{m[0][j], m[1][j], m[2][j]} }

func (m matrix) determinant() float64 {
	return m.column(0).dot(m.column(1).cross(m.column(2)))
}

// quat is the turn of a pure rotation matrix, by the largest of the four squared
// components so that no division is by a small number.
func (m matrix) quat() quat {
	trace := m[0][0] + m[1][1] + m[2][2]
	if trace > 0 {
		s := 2 * math.Sqrt(1+trace)
		return quat{(m[2][1] - m[1][2]) / s, (m[0][2] - m[2][0]) / s, (m[1][0] - m[0][1]) / s, s / 4}.normal()
	}
	i := 0
	if m[1][1] > m[0][0] {
		i = 1
	}
	if m[2][2] > m[i][i] {
		i = 2
	}
	j, k := (i+1)%3, (i+2)%3
	s := 2 * math.Sqrt(math.Max(0, 1+m[i][i]-m[j][j]-m[k][k]))
	var q quat
	q[i] = s / 4
	q[j] = (m[i][j] + m[j][i]) / s
	q[k] = (m[i][k] + m[k][i]) / s
	q[3] = (m[k][j] - m[j][k]) / s
	return q.normal()
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
