package grammar

import (
	"fmt"
	"strings"
)

// Time is a time as it is written: so many frames, beats and seconds, which add up. What it is in frames depends on the
// sheet's rate and tempo.
type Time struct{ Frames, Beats, Seconds Rat }

// Capture lets the grammar fill a Time from one atom.
func (t *Time) Capture(values []string) error {
	parsed, ok := ParseTime(values[0])
	if !ok {
		if dividesBy0(values[0]) {
			return fmt.Errorf("%s divides by 0; write a number above 0 below the line", quoteShort(values[0]))
		}
		return fmt.Errorf("%s has too many digits to be kept exactly", quoteShort(values[0]))
	}
	*t = parsed
	return nil
}

// ParseTime reads `36f`, `3/2b`, `0.75s`, sums such as `2b+3f`, or `0`. It is false for anything else and for numbers
// too large to be kept exactly.
func ParseTime(text string) (Time, bool) {
	var t Time
	if text == "0" {
		return t, true
	}
	for start := 0; start < len(text); {
		end := start + 1 + strings.IndexAny(text[start:], "fbs")
		if end == start || (start > 0 && text[start] != '+' && text[start] != '-') {
			return Time{}, false
		}
		amount, ok := ParseRat(text[start : end-1])
		if !ok {
			return Time{}, false
		}
		term := t.term(text[end-1])
		*term = term.Add(amount)
		start = end
	}
	return t, text != "" && t.OK()
}

func (t *Time) term(unit byte) *Rat {
	switch unit {
	case 'f':
		return &t.Frames
	case 'b':
		return &t.Beats
	}
	return &t.Seconds
}

// OK is false when a number of t overflowed.
func (t Time) OK() bool { return t.Frames.OK() && t.Beats.OK() && t.Seconds.OK() }

// IsZero tells whether t is 0 at every rate and tempo.
func (t Time) IsZero() bool { return t == Time{} }

// Add is t and u together.
func (t Time) Add(u Time) Time {
	return Time{t.Frames.Add(u.Frames), t.Beats.Add(u.Beats), t.Seconds.Add(u.Seconds)}
}

// In gives t in frames, for a rate in frames a second and a beat in frames. The answer is exact; one that overflows
// says so by its OK.
func (t Time) In(rate, beat Rat) Rat {
	return t.Frames.Add(t.Beats.Mul(beat)).Add(t.Seconds.Mul(rate))
}

// String writes t in the canonical form: beats, then seconds, then frames, terms of zero left out, fractions reduced.
// Seconds and frames are written in decimals where they end, since that is how a clock and a frame counter read.
func (t Time) String() string {
	var out strings.Builder
	for _, term := range []struct {
		amount Rat
		unit   string
	}{{t.Beats, "b"}, {t.Seconds, "s"}, {t.Frames, "f"}} {
		if term.amount.IsZero() {
			continue
		}
		if out.Len() > 0 && term.amount.Sign() > 0 {
			out.WriteByte('+')
		}
		if term.unit != "b" {
			out.WriteString(decimals(term.amount) + term.unit)
			continue
		}
		out.WriteString(term.amount.String() + term.unit)
	}
	if out.Len() == 0 {
		return "0"
	}
	return out.String()
}

// decimals writes r as a decimal where that ends within nine digits, and as a fraction otherwise.
func decimals(r Rat) string {
	scale := int64(1)
	for digits := 0; digits <= 9; digits++ {
		if scaled := r.Mul(Whole(scale)); scaled.OK() && scaled.IsWhole() {
			if digits == 0 {
				return r.String()
			}
			sign, n := "", scaled.Num()
			if n < 0 {
				sign, n = "-", -n
			}
			return fmt.Sprintf("%s%d.%0*d", sign, n/scale, digits, n%scale)
		}
		scale *= 10
	}
	return r.String()
}

// dividesBy0 tells whether a time has a term with nothing but 0 below its line.
func dividesBy0(text string) bool {
	for _, below := range strings.Split(text, "/")[1:] {
		if digits := strings.TrimLeft(below, "0"); len(digits) < len(below) && (digits == "" || digits[0] < '0' || digits[0] > '9') {
			return true
		}
	}
	return false
}
