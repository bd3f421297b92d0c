package draw

import (
	"math"
	"strconv"

	"github.com/motet-sheet/motet/lint/motion"
)

// number writes a value with as many decimals as an eye can use.
func number(v float64) string {
	decimals := 1
	if math.Abs(v) < 1 {
		decimals = 2
	}
	scale := math.Pow10(decimals)
	rounded := math.Round(v*scale) / scale
	if rounded == 0 {
		return "0"
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// hundredths writes a number with at most two decimals.
func hundredths(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }

// WithUnit writes a value in a dial's unit, with as many decimals as an eye can use.
func WithUnit(v float64, unit string) string {
	switch unit {
	case "deg":
		return number(v) + "°"
	case "%":
		return number(v) + " %"
	}
	return number(v) + " " + unit
}

// MomentName writes a moment, in frames, as a sheet does, in beats; what is on no half beat is rounded to thousandths.
func MomentName(s *motion.Sheet, frames float64) string {
	beats := math.Round(frames/s.Beat.Float()*1000) / 1000
	if beats == 0 {
		return "0b"
	}
	if halves := beats * 2; halves == math.Trunc(halves) && beats != math.Trunc(beats) {
		return strconv.FormatFloat(halves, 'f', -1, 64) + "/2b"
	}
	return strconv.FormatFloat(beats, 'f', -1, 64) + "b"
}
