package server

import (
	"math"
	"strings"
)

// bars are the eighths of a block, U+2581 to U+2588, which terminals and editors draw on one grid.
var bars = []rune("▁▂▃▄▅▆▇█")

// sparkline draws a curve from time 0 to length as one line of bars, each the value in the middle of its share of the
// time, between the least and the greatest value. The bar that holds the time marked stands in brackets; a time outside
// marks none. A curve that hardly moves is drawn low and flat, not as its own noise.
func sparkline(at func(frames float64) float64, length float64, columns int, marked float64) string {
	if !(0 < length) || columns < 1 {
		return ""
	}
	values := make([]float64, columns)
	least, most := math.Inf(1), math.Inf(-1)
	for i := range values {
		values[i] = at((float64(i) + 0.5) * length / float64(columns))
		least, most = min(least, values[i]), max(most, values[i])
	}
	mark := -1
	if 0 <= marked && marked <= length {
		mark = min(int(marked/length*float64(columns)), columns-1)
		// The marked moment itself, not the middle of its column, so that the bar agrees with the number beside it.
		values[mark] = at(min(marked, length))
		least, most = min(least, values[mark]), max(most, values[mark])
	}
	var out strings.Builder
	for i, v := range values {
		if i == mark {
			out.WriteByte('[')
		}
		out.WriteRune(bars[level(v, least, most)])
		if i == mark {
			out.WriteByte(']')
		}
	}
	return out.String()
}

// level is which of the bars a value reaches.
func level(v, least, most float64) int {
	if !(1e-9*max(1, math.Abs(least), math.Abs(most)) < most-least) {
		return 0
	}
	return min(int((v-least)/(most-least)*float64(len(bars))), len(bars)-1)
}
