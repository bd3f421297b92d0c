package motion

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// without is the curve with some knots taken out.
func without(c *Curve, out []int) *Curve {
	var left []Knot
	for i, k := range c.Knots() {
		if !slices.Contains(out, i) {
			left = append(left, k)
		}
	}
	return NewCurve(left, c.Extent())
}

func inner(c *Curve) func(int) bool {
	return func(i int) bool { return i > 0 && i < len(c.Knots())-1 }
}

func TestSpareKnotsOfStraightAndFlatStretches(t *testing.T) {
	var flat, straight []Knot
	for i := range 41 {
		flat = append(flat, knot(float64(i), 3, Smooth))
		straight = append(straight, knot(float64(i), math.Abs(float64(i)-20), Straight))
	}
	c := NewCurve(flat, span)
	assert.Len(t, c.Spare(1e-9, inner(c)), 39)
	c = NewCurve(straight, span)
	out := c.Spare(1e-9, inner(c))
	assert.Len(t, out, 38)
	assert.NotContains(t, out, 20, "the corner stays")
}

func TestSpareKnotsTogetherKeepTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(2, 60).Draw(t, "count")
		closed := rapid.Bool().Draw(t, "closed")
		limit := rapid.SampledFrom([]float64{1e-6, 0.05, 0.5, 3}).Draw(t, "limit")
		var knots []Knot
		for i := range count {
			value := 5*math.Sin(float64(i)/4) + rapid.Float64Range(-0.3, 0.3).Draw(t, "noise")
			knots = append(knots, knot(float64(i), value, rapid.SampledFrom([]Shape{Smooth, Smooth, Smooth, Rest, Straight, Stay}).Draw(t, "shape")))
		}
		c := NewCurve(knots, Extent{Length: float64(count - 1), Closed: closed})
		kept := rapid.IntRange(0, count-1).Draw(t, "kept")
		out := c.Spare(limit, func(i int) bool { return i != kept })
		if slices.Contains(out, kept) {
			t.Fatalf("knot %d may not go", kept)
		}
		if change, at := MaxDifference(c, without(c, out)); change > limit+1e-9 {
			t.Fatalf("without %v the curve changes by %g at %g, over %g", out, change, at, limit)
		}
	})
}

// TestSpareKnotsOfTheNextVersion changes, adds and drops knots, and holds what takes over from the version before to what
// begins anew.
func TestSpareKnotsOfTheNextVersion(t *testing.T) {
	taken := 0
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(2, 40).Draw(t, "count")
		extent := Extent{Length: 100, Closed: rapid.Bool().Draw(t, "closed")}
		limit := rapid.SampledFrom([]float64{0.05, 0.5, 3}).Draw(t, "limit")
		draw := func(time float64) Knot {
			value := 5*math.Sin(time/4) + rapid.Float64Range(-0.3, 0.3).Draw(t, "noise")
			return knot(time, value, rapid.SampledFrom([]Shape{Smooth, Smooth, Smooth, Rest, Straight, Stay}).Draw(t, "shape"))
		}
		var knots []Knot
		for i := range count {
			knots = append(knots, draw(float64(2*i)))
		}
		var before *Curve
		for range 4 {
			knots = slices.Clone(knots)
			switch at := rapid.IntRange(0, len(knots)-1).Draw(t, "at"); rapid.IntRange(0, 2).Draw(t, "what") {
			case 0:
				knots[at] = draw(knots[at].Time)
			case 1:
				if at+1 < len(knots) {
					knots = slices.Insert(knots, at+1, draw((knots[at].Time+knots[at+1].Time)/2))
				}
			case 2:
				if len(knots) > 2 {
					knots = slices.Delete(knots, at, at+1)
				}
			}
			kept := rapid.IntRange(-1, len(knots)-1).Draw(t, "kept")
			may := func(i int) bool { return i != kept }
			now, anew := NewCurve(knots, extent), NewCurve(knots, extent)
			if before != nil {
				now.known.before.Store(before)
				taken++
			}
			if got, want := now.Spare(limit, may), anew.Spare(limit, may); !slices.Equal(got, want) {
				t.Fatalf("%v, and anew %v", got, want)
			}
			before = now
		}
	})
	assert.Positive(t, taken)
}

// BenchmarkSpare reports how the time grows when the knots double: 2 is linear, 4 quadratic.
func BenchmarkSpare(b *testing.B) {
	take := func(n int) func() {
		var knots []Knot
		for i := range n {
			knots = append(knots, knot(float64(i), 9*math.Sin(float64(i)/7)+math.Sin(float64(i*i)), Smooth))
			if i%10 < 8 {
				knots[i].Value = 9 * math.Sin(float64(i)/7)
			}
		}
		c := NewCurve(knots, Extent{Length: float64(n), Closed: true})
		return func() { c.Spare(0.05, func(i int) bool { return i > 0 }) }
	}
	small, large := take(2000), take(8000)
	var smallTime, largeTime float64
	b.ReportAllocs()
	for b.Loop() {
		smallTime += timed(small)
		largeTime += timed(large)
	}
	b.ReportMetric(largeTime/smallTime, "×time/×4knots")
	b.ReportMetric(smallTime/float64(b.N)/2000*1e9, "ns/knot")
}

func timed(work func()) float64 {
	start := time.Now()
	work()
	return time.Since(start).Seconds()
}
