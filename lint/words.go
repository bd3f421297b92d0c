package lint

import (
	"math"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// How reports say numbers: in the sheet's own units, no more digits than tell, and times in frames and in seconds.

// number writes a value with at most three decimals.
func number(v float64) string {
	text := strconv.FormatFloat(v, 'f', 3, 64)
	text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}

// value writes a channel's value with its unit.
func value(c *motion.Channel, v float64) string { return number(v) + unitSign(c.Dial.Unit) }

func unitSign(unit string) string {
	switch unit {
	case "deg":
		return "°"
	case "%":
		return " %"
	}
	return " " + unit
}

// toward says which way a change of a channel goes, in the rig's own words; empty where the rig does not say.
func toward(c *motion.Channel, change float64) string {
	switch {
	case c.Dial.Positive == "":
		return ""
	case change < 0:
		return " away from \"" + c.Dial.Positive + "\""
	}
	return " " + c.Dial.Positive
}

// rounded keeps some decimals of a number that is not the text's own, so that a message can be read.
func rounded(v float64, decimals int) float64 {
	scale := math.Pow(10, float64(decimals))
	return math.Round(v*scale) / scale
}

// moment writes a time in frames and in seconds.
func moment(s *motion.Sheet, frames grammar.Rat) string {
	return "frame " + frameNumber(frames) + " (" + number(s.Seconds(frames).Float()) + " s)"
}

// duration writes a length of time in frames and in seconds.
func duration(s *motion.Sheet, frames grammar.Rat) string {
	return frameNumber(frames) + "f (" + number(s.Seconds(frames).Float()) + " s)"
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

func isOrAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// spaces0 is n spaces, none where n is not above 0.
func spaces0(n int) string { return strings.Repeat(" ", max(n, 0)) }

func spaces(n int) string { return strings.Repeat(" ", max(n, 1)) }

func frameNumber(frames grammar.Rat) string {
	if frames.IsWhole() {
		return frames.String()
	}
	return number(frames.Float())
}

func inLayer(layer string) string {
	if layer == "" {
		return ""
	}
	return " in the layer `" + layer + "`"
}

// copyValue is the mend that gives one key the value of another, its own mark kept.
func copyValue(title string, to, from motion.Key) motion.Mend {
	return copyNumber(title, &to, from.Value)
}

// copyNumber is the mend that gives a key a value, its own mark kept.
func copyNumber(title string, to *motion.Key, v float64) motion.Mend {
	text := strconv.FormatFloat(v, 'f', -1, 64)
	old := to.At.Text()
	if at := strings.IndexAny(old, "~^>=@"); at >= 0 {
		text += old[at:]
	}
	return motion.Mend{Title: title, Edits: []motion.Edit{writeCell(to.At.Block, to.At.Line, to.At.Span, text)}}
}
