package exchange

import (
	"math"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

// A row is one key of a channel as the sheet writes it.
type row struct {
	frame int
	part  float64 // of a frame that it is later than that, or earlier where it is below 0
	value float64
	shape motion.Shape
	// slope is in the channel's unit a beat, for a sloped key; the cell's text holds the
	// same digits.
	slope float64
	text  string
}

// knots are the rows as the curve's engine takes them, with slopes a frame.
func knots(rows []row, beatFrames float64) []motion.Knot {
	out := make([]motion.Knot, len(rows))
	for i, r := range rows {
		out[i] = motion.Knot{
			Time: r.time(), Value: r.value, Shape: r.shape,
			SlopeIn: r.slope / beatFrames, SlopeOut: r.slope / beatFrames,
		}
	}
	return out
}

// curve is the channel's curve as the sheet's reader will see it.
func (c *channel) curve(frames int, beatFrames float64) *motion.Curve {
	extent := motion.Extent{Length: float64(frames), Closed: c.closed, Gain: c.gain}
	if len(c.rows) == 0 {
		return motion.Constant(c.base, extent)
	}
	return motion.NewCurve(knots(c.rows, beatFrames), extent)
}

// write turns a fit into rows: values and slopes with as few decimals as stay inside the
// tube, and where that holds no slope at all, since a bare number reads best: the smooth
// slope that the language gives an unmarked key, or rest. The trend that was taken off a
// channel that gains in a round is put back.
func (t *tube) write(f fit, beatFrames, trend float64) []row {
	for decimals := t.fewestDecimals(); decimals < 7; decimals++ {
		g := fit{at: f.at, slope: append([]float64(nil), f.slope...)}
		for k, v := range f.value {
			lift := trend * float64(f.at[k])
			g.value = append(g.value, round(v+lift, decimals)-lift)
		}
		if largest(t.errors(g)) > 1 {
			continue
		}
		if rows, ok := t.mark(g, beatFrames, trend, decimals); ok {
			return rows
		}
	}
	var rows []row
	for k, at := range f.at {
		rows = append(rows, sloped(at, f.value[k]+trend*float64(at), (f.slope[k]+trend)*beatFrames, 7, 7))
	}
	return rows
}

// fewestDecimals is where the search for enough decimals begins.
func (t *tube) fewestDecimals() int {
	least := math.Inf(1)
	for _, h := range t.half {
		least = math.Min(least, h)
	}
	return max(0, min(5, int(math.Ceil(-math.Log10(least)))-1))
}

// mark chooses the shape of every key of a curve whose values are rounded.
func (t *tube) mark(g fit, beatFrames, trend float64, decimals int) ([]row, bool) {
	smooth := t.smoothSlopes(g, trend)
	rows := make([]row, len(g.at))
	for k := range rows {
		value := g.value[k] + trend*float64(g.at[k])
		rows[k] = row{frame: g.at[k], value: value, text: number(value, decimals)}
		free := g.slope[k]
		plain := t.plainEnds || k > 0 && k < len(rows)-1
		if g.slope[k] = smooth[k]; plain && t.errorBeside(g, k) <= 1 {
			continue
		}
		if g.slope[k] = -trend; t.errorBeside(g, k) <= 1 {
			rows[k].shape, rows[k].text = motion.Rest, rows[k].text+"^"
			continue
		}
		done := false
		for digits := 0; digits < 6 && !done; digits++ {
			rows[k] = sloped(g.at[k], value, (free+trend)*beatFrames, decimals, digits)
			g.slope[k] = rows[k].slope/beatFrames - trend
			done = t.errorBeside(g, k) <= 1
		}
		if !done {
			return nil, false
		}
	}
	return rows, true
}

// smoothSlopes are the slopes that unmarked keys would have, by the curve's own engine,
// less the trend.
func (t *tube) smoothSlopes(g fit, trend float64) []float64 {
	keys := make([]motion.Knot, len(g.at))
	for k, at := range g.at {
		keys[k] = motion.Knot{Time: float64(at), Value: g.value[k] + trend*float64(at)}
	}
	curve := motion.NewCurve(keys, motion.Extent{Length: float64(t.frames), Closed: t.closed, Gain: trend * float64(t.frames)})
	out := make([]float64, len(g.at))
	for k, at := range g.at {
		before, after := curve.Slope(float64(at))
		if out[k] = after - trend; !t.closed && k == len(g.at)-1 {
			out[k] = before - trend
		}
	}
	return out
}

func sloped(frame int, value, slope float64, decimals, digits int) row {
	text := number(slope, digits)
	slope, _ = strconv.ParseFloat(text, 64)
	return row{frame: frame, value: value, shape: motion.Sloped, slope: slope, text: number(value, decimals) + "@" + text}
}

// errorBeside is the worst error on the two segments that meet at key k.
func (t *tube) errorBeside(f fit, k int) float64 {
	n := len(f.at)
	worst := 0.0
	look := func(a, b, to int) {
		p := cubicOf(f, a, b, to-f.at[a])
		length := (to - f.at[a]) * stepsPerFrame
		for step := range length + 1 {
			at := t.step(f.at[a]*stepsPerFrame + step)
			worst = math.Max(worst, math.Abs(p.at(float64(step)/float64(length))-t.middle[at])/t.half[at])
		}
	}
	switch {
	case k > 0:
		look(k-1, k, f.at[k])
	case t.closed:
		look(n-1, 0, f.at[0]+t.frames)
	}
	switch {
	case k < n-1:
		look(k, k+1, f.at[k+1])
	case t.closed:
		look(n-1, 0, f.at[0]+t.frames)
	}
	return worst
}

// number writes a value with at most so many decimals and none to spare.
func number(value float64, decimals int) string {
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

func round(value float64, decimals int) float64 {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(value, 'f', decimals, 64), 64)
	return rounded + 0 // No minus nothing.
}

func largest(values []float64) float64 {
	out := 0.0
	for _, v := range values {
		out = max(out, v)
	}
	return out
}

// heldRow is a key that stays until the next.
func heldRow(frame int, value float64) row {
	return row{frame: frame, value: value, shape: motion.Stay, text: number(value, 4) + "="}
}
