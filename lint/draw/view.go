package draw

import "math"

// View is from where a figure is seen: turned about the vertical axis, and a little from above, so that the ground is a
// plane and feet that stand one behind the other don't hide each other. There is no perspective: a length is the same
// wherever it is.
type View struct {
	Name      string
	TurnDeg   float64 // 0 sees the front, 90 their right side, so that they look to the right of the picture
	HeightDeg float64 // by which the eye looks down
}

const lookDownDeg = 9

// Front, Side and ThreeQuarter are the views that a sheet's `view` line names.
func Front() View        { return View{"front", 0, lookDownDeg} }
func Side() View         { return View{"side", 90, lookDownDeg} }
func ThreeQuarter() View { return View{"three-quarter", 40, lookDownDeg} }

// Views gives the views that a word of the `view` line stands for: `round` is all of them.
func Views(word string) []View {
	switch word {
	case "side":
		return []View{Side()}
	case "three-quarter":
		return []View{ThreeQuarter()}
	case "round":
		return []View{Front(), ThreeQuarter(), Side()}
	}
	return []View{Front()}
}

// project gives where a point of the world is seen, in cm to the right and up, and how near it is to the eye.
func (v View) project(p [3]float64) (right, up, near float64) {
	sin, cos := math.Sincos(v.TurnDeg * math.Pi / 180)
	down, level := math.Sincos(v.HeightDeg * math.Pi / 180)
	right = p[0]*cos + p[2]*sin
	depth := p[2]*cos - p[0]*sin
	return right, p[1]*level - depth*down, depth*level + p[1]*down
}
