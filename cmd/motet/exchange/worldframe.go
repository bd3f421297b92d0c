package exchange

import (
	"math"
	"strings"
)

// unitSizes are how many times as large one unit of length makes things as another: the metric ones, and inches and feet.
func unitSizes() []float64 {
	out := []float64{1}
	for _, inMetres := range []float64{0.001, 0.01, 0.1, 0.0254, 0.3048} {
		out = append(out, inMetres, 1/inMetres)
	}
	return append(out, 2.54, 1/2.54, 30.48, 1/30.48)
}

// findFrame finds out whether the clip's file has other units or other axes than the motion, as files have that came
// through another program: another size of unit, turned by quarter turns. Anything else is a difference.
func (h *holding) findFrame() {
	h.frame = matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	length := math.Min(h.motion.seconds, h.clip.seconds)
	var asked, played []vec3
	spread := [2]float64{}
	for _, share := range []float64{0, 0.31, 0.67} {
		h.at(share*length, share*length)
		middle, place, count := [2]vec3{}, [2]vec3{}, 0.0
		for _, pass := range []bool{false, true} {
			for i, n := range h.nodes {
				if n < 0 {
					continue
				}
				place = [2]vec3{h.asked[i].place, h.played[i].place}
				if !pass {
					count++
					middle[0], middle[1] = middle[0].plus(place[0]), middle[1].plus(place[1])
					continue
				}
				asked, played = append(asked, place[0]), append(played, place[1])
				for side := range spread {
					spread[side] += place[side].minus(middle[side].times(1 / count)).length()
				}
			}
		}
	}
	size := 1.0
	for _, unit := range unitSizes() {
		if ratio := spread[1] / spread[0] / unit; spread[0] > 0 && math.Abs(ratio-1) < 0.01 {
			size = unit
			break
		}
	}
	off := func(m matrix) (sum float64) {
		for i := range asked {
			sum += asked[i].to(m.apply(played[i]))
		}
		return sum
	}
	best, least := h.frame, off(h.frame)
	asIs := least
	for _, turn := range quarterTurns() {
		m := turn.columnsScaled(vec3{1 / size, 1 / size, 1 / size})
		if sum := off(m); sum < 0.999*least {
			best, least = m, sum
		}
	}
	// What differs by its axes or units alone fits ten times better without them.
	if least > asIs/10 {
		return
	}
	h.frame, h.l.Size = best, size
	h.l.Axes = axesWords(best.columnsScaled(vec3{size, size, size}))
}

// quarterTurns are the 24 turns that take axes to axes.
func quarterTurns() (out []matrix) {
	for _, o := range orders() {
		for signs := range 8 {
			var m matrix
			for row := range 3 {
				m[row][o[row]] = float64(1 - signs>>row&1*2)
			}
			if m.determinant() > 0 {
				out = append(out, m)
			}
		}
	}
	return out
}

// axesWords says which of the motion's axes the clip's x, y and z are; empty where they are the same.
func axesWords(m matrix) string {
	var words []string
	for column := range 3 {
		for row := range 3 {
			if v := m[row][column]; math.Abs(v) > 0.5 {
				words = append(words, map[bool]string{true: "", false: "-"}[v > 0]+string("xyz"[row]))
			}
		}
	}
	if text := strings.Join(words, " "); text != "x y z" {
		return text
	}
	return ""
}
