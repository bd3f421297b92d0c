package server

import (
	"math"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// How hovers say numbers: no more digits than tell, and units behind.

// unknown stands for a number that is too large, or too finely divided, to be kept exactly.
const unknown = "?"

// figure writes a number with at most so many decimals.
func figure(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return unknown
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// measured writes a channel's value with its unit.
func measured(v float64, unit string) string { return figure(v, 3) + unitSign(unit) }

// speed writes a channel's speed with its unit.
func speed(perSecond float64, unit string) string {
	return figure(perSecond, 2) + unitSign(unit) + "/s"
}

func unitSign(unit string) string {
	switch unit {
	case "":
		return ""
	case "deg":
		return "°"
	}
	return " " + unit
}

// vulgar are the fractions that have a sign of their own (Unicode, Number Forms and Latin-1).
var vulgar = map[[2]int64]string{
	{1, 2}: "½", {1, 3}: "⅓", {2, 3}: "⅔", {1, 4}: "¼", {3, 4}: "¾", {1, 5}: "⅕", {2, 5}: "⅖", {3, 5}: "⅗", {4, 5}: "⅘",
	{1, 6}: "⅙", {5, 6}: "⅚", {1, 8}: "⅛", {3, 8}: "⅜", {5, 8}: "⅝", {7, 8}: "⅞",
}

// mixed writes a count exactly where that is short: 3, 3½, and otherwise in decimals.
func mixed(r grammar.Rat) string {
	switch {
	case !r.OK():
		return unknown
	case r.IsWhole():
		return strconv.FormatInt(r.Num(), 10)
	}
	whole := r.Num() / r.Den()
	rest := r.Num() % r.Den()
	sign, ok := vulgar[[2]int64{max(rest, -rest), r.Den()}]
	switch {
	case !ok:
		return figure(r.Float(), 3)
	case whole != 0:
		return strconv.FormatInt(whole, 10) + sign
	case rest < 0:
		return "-" + sign
	}
	return sign
}

// several writes a count with its noun.
func several(r grammar.Rat, noun string) string {
	if r == grammar.Whole(1) || 0 < r.Sign() && r.Cmp(grammar.Whole(1)) < 0 {
		return mixed(r) + " " + noun
	}
	return mixed(r) + " " + noun + "s"
}
