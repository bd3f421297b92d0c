package grammar

import (
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// Rat is an exact rational number: a time in frames or beats, a rate, a tempo.
//
// It is always in lowest terms with a positive denominator, so equal numbers are equal under ==, and a Rat can be a map
// key. The zero value is the number 0.
//
// Numerator and denominator lie within ±(2⁶³−1). An operation whose result does not fit, or that divides by zero, gives
// the one overflowed Rat, for which [Rat.OK] is false; every operation on it gives it again. Nothing wraps round and
// nothing panics, so a chain of operations needs one check at its end.
type Rat struct {
	num  int64
	den1 int64 // The denominator less one, so that the zero value reads 0/1; -1 marks the overflowed state.
}

// overflowed is the only Rat with denominator 0, so that == still tells all states apart.
var overflowed = Rat{num: 0, den1: -1}

// NewRat returns num/den in lowest terms; it is overflowed when den is 0 or the result does not fit.
func NewRat(num, den int64) Rat {
	n, d := magnitude(num), magnitude(den)
	if d == 0 {
		return overflowed
	}
	g := gcd(n, d)
	return fromMagnitudes((num < 0) != (den < 0), n/g, d/g)
}

// Whole returns the whole number n.
func Whole(n int64) Rat {
	return fromMagnitudes(n < 0, magnitude(n), 1)
}

// ParseRat reads a decimal such as `1.5` or a fraction such as `3/2`, each with an optional sign in front, and digits on
// both sides of a point or stroke. The second result says whether s is written like that; a number written well that
// does not fit, or `1/0`, is true and overflowed.
func ParseRat(s string) (Rat, bool) {
	text, negative := s, false
	if text != "" && (text[0] == '+' || text[0] == '-') {
		negative = text[0] == '-'
		text = text[1:]
	}
	whole, rest, isFraction := strings.Cut(text, "/")
	isDecimal := false
	if !isFraction {
		whole, rest, isDecimal = strings.Cut(text, ".")
	}
	if !allDigits(whole) || (isFraction || isDecimal) && !allDigits(rest) {
		return Rat{}, false
	}
	num, den := digitsRat(whole), Whole(1)
	switch {
	case isFraction:
		den = digitsRat(rest)
	case isDecimal:
		// Trailing zeros carry no value and would only push a short number over the edge.
		rest = strings.TrimRight(rest, "0")
		num = digitsRat(whole + rest)
		den = digitsRat("1" + strings.Repeat("0", len(rest)))
	}
	r := num.Div(den)
	if negative {
		r = r.Neg()
	}
	return r, true
}

// OK reports whether r is a number: false once an operation has overflowed or divided by zero.
func (r Rat) OK() bool { return r.den1 >= 0 }

// Num returns the numerator, which carries the sign; 0 when r is overflowed.
func (r Rat) Num() int64 { return r.num }

// Den returns the denominator, 1 or more; 0 when r is overflowed.
func (r Rat) Den() int64 { return r.den1 + 1 }

// IsZero reports whether r is the number 0; an overflowed Rat is not.
func (r Rat) IsZero() bool { return r == Rat{} }

// IsWhole reports whether r is a whole number; an overflowed Rat is not.
func (r Rat) IsWhole() bool { return r.den1 == 0 }

// Sign returns -1, 0 or 1; 0 when r is overflowed.
func (r Rat) Sign() int {
	switch {
	case r.num < 0:
		return -1
	case r.num > 0:
		return 1
	}
	return 0
}

// Neg returns -r.
func (r Rat) Neg() Rat { return Rat{num: -r.num, den1: r.den1} }

// Sub returns r - s.
func (r Rat) Sub(s Rat) Rat { return r.Add(s.Neg()) }

// Add returns r + s. The intermediate sum has 128 bits and is reduced before it is judged, by the method of D. E. Knuth,
// The Art of Computer Programming, volume 2, section 4.5.1 (from memory; checked against math/big).
func (r Rat) Add(s Rat) Rat {
	switch {
	case !r.OK() || !s.OK():
		return overflowed
	case r.IsZero(): // most times have one term, and are added up of three
		return s
	case s.IsZero():
		return r
	}
	rDen, sDen := uint64(r.Den()), uint64(s.Den())
	g := gcd(rDen, sDen)
	hi, lo, negative := addSigned(r.num, sDen/g, s.num, rDen/g)
	g2 := gcd(bits.Rem64(hi, lo, g), g)
	if hi >= g2 {
		return overflowed
	}
	num, _ := bits.Div64(hi, lo, g2)
	if num == 0 {
		return Rat{}
	}
	return product(negative, num, 1, rDen/g, sDen/g2)
}

// Mul returns r × s.
func (r Rat) Mul(s Rat) Rat {
	switch {
	case !r.OK() || !s.OK():
		return overflowed
	case r.IsZero() || s.IsZero():
		return Rat{}
	}
	rNum, rDen := magnitude(r.num), uint64(r.Den())
	sNum, sDen := magnitude(s.num), uint64(s.Den())
	g, h := gcd(rNum, sDen), gcd(sNum, rDen)
	return product((r.num < 0) != (s.num < 0), rNum/g, sNum/h, rDen/h, sDen/g)
}

// Div returns r ÷ s, overflowed when s is 0.
func (r Rat) Div(s Rat) Rat {
	if !s.OK() || s.num == 0 {
		return overflowed
	}
	inverse := Rat{num: s.Den(), den1: int64(magnitude(s.num)) - 1}
	if s.num < 0 {
		inverse.num = -inverse.num
	}
	return r.Mul(inverse)
}

// Mod returns r less the whole multiple of m that brings it into [0, m): the place in a cycle of length m. It is
// overflowed when m is not positive, or when r ÷ m does not fit.
func (r Rat) Mod(m Rat) Rat {
	if !m.OK() || m.num <= 0 {
		return overflowed
	}
	rounds := r.Div(m)
	if !rounds.OK() {
		return overflowed
	}
	return r.Sub(m.Mul(Whole(rounds.Floor())))
}

// Cmp returns -1, 0 or 1 as r is less than, equal to or more than s. An overflowed Rat equals itself and comes after
// every number, so that sorting stays total.
func (r Rat) Cmp(s Rat) int {
	switch {
	case r == s:
		return 0
	case !r.OK():
		return 1
	case !s.OK():
		return -1
	case r.Sign() < s.Sign():
		return -1
	case r.Sign() > s.Sign():
		return 1
	}
	rHi, rLo := bits.Mul64(magnitude(r.num), uint64(s.Den()))
	sHi, sLo := bits.Mul64(magnitude(s.num), uint64(r.Den()))
	if less(rHi, rLo, sHi, sLo) == (r.num > 0) {
		return -1
	}
	return 1
}

// Float returns the nearest float64 while numerator and denominator stay under 2⁵³, within two units in the last place
// beyond that, and NaN when r is overflowed.
func (r Rat) Float() float64 {
	if !r.OK() {
		return math.NaN()
	}
	return float64(r.num) / float64(r.Den())
}

// Floor returns the greatest whole number that is not above r; 0 when r is overflowed.
func (r Rat) Floor() int64 {
	if !r.OK() {
		return 0
	}
	q := r.num / r.Den()
	if r.num < 0 && !r.IsWhole() {
		q--
	}
	return q
}

// Round returns the nearest whole number, halves away from zero; 0 when r is overflowed.
func (r Rat) Round() int64 {
	if !r.OK() {
		return 0
	}
	n, d := magnitude(r.num), uint64(r.Den())
	q, rest := n/d, n%d
	if rest >= d-rest {
		q++
	}
	if r.num < 0 {
		return -int64(q)
	}
	return int64(q)
}

// String returns `5`, `-3/2`, or `overflow`; the first two are read back by [ParseRat].
func (r Rat) String() string {
	switch {
	case !r.OK():
		return "overflow"
	case r.IsWhole():
		return strconv.FormatInt(r.num, 10)
	}
	return strconv.FormatInt(r.num, 10) + "/" + strconv.FormatInt(r.Den(), 10)
}

// product returns ±(n1·n2)/(d1·d2), whose factors have no divisor in common across the stroke.
func product(negative bool, n1, n2, d1, d2 uint64) Rat {
	nHi, n := bits.Mul64(n1, n2)
	dHi, d := bits.Mul64(d1, d2)
	if nHi != 0 || dHi != 0 {
		return overflowed
	}
	return fromMagnitudes(negative, n, d)
}

// fromMagnitudes returns ±n/d, which is in lowest terms. The range is symmetric so that Neg can't overflow.
func fromMagnitudes(negative bool, n, d uint64) Rat {
	if n > math.MaxInt64 || d > math.MaxInt64 {
		return overflowed
	}
	r := Rat{num: int64(n), den1: int64(d) - 1}
	if negative {
		r.num = -r.num
	}
	return r
}

// addSigned returns a·x + b·y as a 128-bit magnitude and a sign; with |a|, |b|, x and y under 2⁶³ it always fits.
func addSigned(a int64, x uint64, b int64, y uint64) (hi, lo uint64, negative bool) {
	aHi, aLo := bits.Mul64(magnitude(a), x)
	bHi, bLo := bits.Mul64(magnitude(b), y)
	if (a < 0) == (b < 0) {
		lo, carry := bits.Add64(aLo, bLo, 0)
		hi, _ := bits.Add64(aHi, bHi, carry)
		return hi, lo, a < 0
	}
	negative = a < 0
	if less(aHi, aLo, bHi, bLo) {
		aHi, aLo, bHi, bLo = bHi, bLo, aHi, aLo
		negative = !negative
	}
	lo, borrow := bits.Sub64(aLo, bLo, 0)
	hi, _ = bits.Sub64(aHi, bHi, borrow)
	return hi, lo, negative
}

func less(aHi, aLo, bHi, bLo uint64) bool {
	return aHi < bHi || aHi == bHi && aLo < bLo
}

// magnitude returns |n|, right for the least int64 too.
func magnitude(n int64) uint64 {
	if n < 0 {
		return -uint64(n)
	}
	return uint64(n)
}

func gcd(a, b uint64) uint64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// digitsRat returns the number that the digits in s spell, overflowed when it does not fit.
func digitsRat(s string) Rat {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		return overflowed
	}
	return Whole(n)
}
