package grammar

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseRat(t *testing.T) {
	tests := []struct{ in, want string }{
		{"0", "0"},
		{"-0", "0"},
		{"36", "36"},
		{"1.5", "3/2"},
		{"3/2", "3/2"},
		{"6/4", "3/2"},
		{"-2.40", "-12/5"},
		{"+4", "4"},
		{"0/7", "0"},
		{"007", "7"},
		{"0.000", "0"},
		{"24000/1001", "24000/1001"},
		{"9223372036854775807", "9223372036854775807"},
		{"-9223372036854775807", "-9223372036854775807"},
		{"9223372036854775808", "overflow"},
		{"1/0", "overflow"},
		{"1.50000000000000000000000000000000", "3/2"},
		{"0.12345678901234567891", "overflow"},
		{"", "no"},
		{"-", "no"},
		{".5", "no"},
		{"5.", "no"},
		{"1e3", "no"},
		{"3/-2", "no"},
		{"1.5/2", "no"},
		{"3/", "no"},
		{"--3", "no"},
		{"+-3", "no"},
		{"1_000", "no"},
		{"٣", "no"},
		{" 3", "no"},
	}
	for _, test := range tests {
		got, ok := ParseRat(test.in)
		if test.want == "no" {
			assert.False(t, ok, test.in)
			continue
		}
		assert.True(t, ok, test.in)
		assert.Equal(t, test.want, got.String(), test.in)
	}
}

// Film click-track arithmetic, common practice: at 24 frames a second, 1440 ÷ bpm frames a beat.
func TestFramesABeatAreExact(t *testing.T) {
	for bpm, want := range map[string]string{
		"60": "24", "72": "20", "80": "18", "90": "16", "96": "15", "120": "12", "144": "10", "160": "9", "180": "8",
		"117.5": "576/47",
	} {
		tempo, ok := ParseRat(bpm)
		require.True(t, ok)
		assert.Equal(t, want, Whole(24*60).Div(tempo).String(), bpm)
	}
}

// SMPTE ST 12-1 (from memory): 29.97 means 30000/1001 exactly, and drop-frame code numbers ten minutes of it with 17 982
// frames, which is the nearest whole count and so follows from the rate.
func TestDropFrameCountFollowsFromTheExactRate(t *testing.T) {
	rate := NewRat(30000, 1001)
	assert.EqualValues(t, 17982, rate.Mul(Whole(600)).Floor())
	assert.EqualValues(t, 107892, rate.Mul(Whole(3600)).Floor())
}

func TestRoundIsHalfAwayFromZero(t *testing.T) {
	for in, want := range map[string]int64{
		"0": 0, "1/2": 1, "-1/2": -1, "3/2": 2, "-3/2": -2, "1/3": 0, "-2/3": -1, "9223372036854775807": math.MaxInt64,
		"-9223372036854775807": -math.MaxInt64, "9223372036854775807/2": 1 << 62,
	} {
		r, ok := ParseRat(in)
		require.True(t, ok)
		assert.Equal(t, want, r.Round(), in)
	}
}

func TestOverflowSpreadsAndNeverPanics(t *testing.T) {
	bad := NewRat(1, 0)
	one := Whole(1)
	assert.False(t, bad.OK())
	assert.False(t, bad.IsZero())
	assert.False(t, bad.IsWhole())
	assert.True(t, math.IsNaN(bad.Float()))
	assert.Zero(t, bad.Floor())
	assert.Zero(t, bad.Round())
	assert.Zero(t, bad.Den())
	for name, got := range map[string]Rat{
		"add": bad.Add(one), "add to": one.Add(bad), "sub": one.Sub(bad), "mul": bad.Mul(Rat{}), "div": one.Div(bad),
		"neg": bad.Neg(), "mod": bad.Mod(one), "mod by": one.Mod(bad), "mod 0": one.Mod(Rat{}), "mod -1": one.Mod(Whole(-1)),
		"div 0": one.Div(Rat{}), "least": Whole(math.MinInt64), "least/1": NewRat(math.MinInt64, 1),
		"1/least": NewRat(1, math.MinInt64), "too large": Whole(math.MaxInt64).Add(one), "too fine": NewRat(1, math.MaxInt64).Mul(NewRat(1, 2)),
	} {
		assert.Equal(t, bad, got, name)
	}
	assert.Equal(t, NewRat(-1<<62, 1), NewRat(math.MinInt64, 2), "reduced before it is judged")
	assert.Equal(t, 0, bad.Cmp(bad))
	assert.Equal(t, 1, bad.Cmp(Whole(math.MaxInt64)))
	assert.Equal(t, -1, Whole(math.MaxInt64).Cmp(bad))
}

func anyRat() *rapid.Generator[Rat] {
	small := rapid.Int64Range(-300, 300)
	num := rapid.OneOf(small, rapid.Int64())
	return rapid.Custom(func(t *rapid.T) Rat {
		return NewRat(num.Draw(t, "num"), num.Draw(t, "den"))
	})
}

// want turns an exact result into the Rat that must stand for it: overflowed when the reduced fraction does not fit.
func want(exact *big.Rat) Rat {
	limit := big.NewInt(math.MaxInt64)
	if exact.Num().CmpAbs(limit) > 0 || exact.Denom().Cmp(limit) > 0 {
		return overflowed
	}
	return Rat{num: exact.Num().Int64(), den1: exact.Denom().Int64() - 1}
}

func TestRatAgreesWithBigRat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyRat().Filter(Rat.OK).Draw(t, "a")
		b := anyRat().Filter(Rat.OK).Draw(t, "b")
		x, y := big.NewRat(a.Num(), a.Den()), big.NewRat(b.Num(), b.Den())
		assert.Equal(t, want(new(big.Rat).Add(x, y)), a.Add(b), "add")
		assert.Equal(t, want(new(big.Rat).Sub(x, y)), a.Sub(b), "sub")
		assert.Equal(t, want(new(big.Rat).Mul(x, y)), a.Mul(b), "mul")
		assert.Equal(t, want(new(big.Rat).Neg(x)), a.Neg(), "neg")
		assert.Equal(t, x.Cmp(y), a.Cmp(b), "cmp")
		assert.Equal(t, x.Sign(), a.Sign(), "sign")
		assert.Equal(t, x.Cmp(y) == 0, a == b, "equality")
		assert.Equal(t, x.IsInt(), a.IsWhole(), "whole")
		floor := new(big.Int).Div(x.Num(), x.Denom())
		assert.Equal(t, floor.Int64(), a.Floor(), "floor")
		nearest, _ := x.Float64()
		assert.InDelta(t, nearest, a.Float(), math.Abs(nearest)*4.5e-16, "float")
		read, ok := ParseRat(a.String())
		assert.True(t, ok)
		assert.Equal(t, a, read, "text")
		if !b.IsZero() {
			assert.Equal(t, want(new(big.Rat).Quo(x, y)), a.Div(b), "div")
		}
		if b.Sign() > 0 {
			checkMod(t, a, b, x, y)
		}
	})
}

// checkMod allows an overflow only where the count of rounds itself can't be held.
func checkMod(t *rapid.T, a, m Rat, x, y *big.Rat) {
	rounds := new(big.Rat).Quo(x, y)
	floor := new(big.Int).Div(rounds.Num(), rounds.Denom())
	exact := want(new(big.Rat).Sub(x, new(big.Rat).Mul(y, new(big.Rat).SetInt(floor))))
	got := a.Mod(m)
	if got.OK() || want(rounds).OK() && want(new(big.Rat).Mul(y, new(big.Rat).SetInt(floor))).OK() {
		assert.Equal(t, exact, got, "mod")
	}
}
