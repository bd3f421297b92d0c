package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestTheRemainderIsThatOfTheStandardLibrary(t *testing.T) {
	check := func(t assert.TestingT, at, length float64) {
		want := math.Mod(at, length)
		if want < 0 {
			want += length
		}
		assert.Equal(t, math.Abs(want), math.Abs(remainder(at, length)), "%v in %v", at, length) // 0 may have a sign
	}
	for _, c := range [][2]float64{{72, 72}, {-72, 72}, {0, 72}, {-1e-300, 72}, {1e50, 72}, {-1e50, 0.3}, {1e17, 3}, {3 * 0.1, 0.1}, {0.3, 0.1}, {-0.3, 0.1}, {1e50, 1e-9}} {
		check(t, c[0], c[1])
	}
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(1e-9, 1e9).Draw(t, "length")
		at := rapid.OneOf(
			rapid.Float64Range(-1e12, 1e12),
			// Beside a whole number of rounds, where a quotient rounds to the wrong side.
			rapid.Custom(func(t *rapid.T) float64 {
				at := float64(rapid.IntRange(-1000, 1000).Draw(t, "rounds")) * length
				for range rapid.IntRange(0, 3).Draw(t, "steps") {
					at = math.Nextafter(at, rapid.SampledFrom([]float64{math.Inf(1), math.Inf(-1)}).Draw(t, "way"))
				}
				return at
			}),
		).Draw(t, "time")
		check(t, at, length)
	})
}

// BenchmarkRemainder wraps times of a few rounds. Its ratio is to math.Mod.
func BenchmarkRemainder(b *testing.B) {
	sum, at := 0.0, -200.0
	for b.Loop() {
		sum += remainder(at, 72)
		at += 0.01
	}
	ours := b.Elapsed()
	at = -200
	plain := plainly(1, func() {
		for range b.N {
			sum += math.Mod(at, 72)
			at += 0.01
		}
	})
	b.ReportMetric(float64(ours)/float64(plain), "×math.Mod")
	if math.IsNaN(sum) {
		b.Fatal()
	}
}
