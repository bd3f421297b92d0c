package motion

import "math"

// remainder is t less the whole multiple of length that brings it into 0 … length, both ends allowed: the same number as
// by math.Mod, in a tenth of its time. One fused multiplication and addition gives it without an error of its own, since
// the remainder of two floats is a float; only so far out that rounds can't be counted does the slow way take over.
func remainder(t, length float64) float64 {
	rounds := math.Floor(t / length)
	if !(math.Abs(rounds) < 1<<52) {
		rest := math.Mod(t, length)
		if rest < 0 {
			rest += length
		}
		return rest
	}
	rest := math.FMA(-rounds, length, t)
	if rest < 0 { // The quotient was rounded up.
		return math.FMA(1-rounds, length, t)
	}
	if rest >= length { // It was rounded down, or t is so little below a round's start that the rest is rounded up.
		if less := math.FMA(-1-rounds, length, t); less >= 0 {
			return less
		}
	}
	return rest
}
