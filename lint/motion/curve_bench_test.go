package motion

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/interp"
)

// A baked curve of a few seconds: 200 keys, and the times of a picture or an export, every tenth of a frame.
func benchmarkCurve(b *testing.B) (*Curve, *interp.FritschButland, []float64) {
	b.Helper()
	const count = 200
	knots := make([]Knot, count)
	xs, ys := make([]float64, count), make([]float64, count)
	for i := range knots {
		xs[i], ys[i] = float64(i), 10*math.Sin(float64(i)/7)+math.Sin(float64(i)/2)
		knots[i] = Knot{Time: xs[i], Value: ys[i]}
	}
	var reference interp.FritschButland
	if err := reference.Fit(xs, ys); err != nil {
		b.Fatal(err)
	}
	times := make([]float64, 10*(count-1))
	for i := range times {
		times[i] = float64(i) / 10
	}
	return NewCurve(knots, Extent{Length: count - 1}), &reference, times
}

// scattered visits the same times in an order that no cache of the last place helps with.
func scattered(times []float64) []float64 {
	mixed := make([]float64, len(times))
	for i := range mixed {
		mixed[i] = times[(i*787)%len(times)]
	}
	return mixed
}

// BenchmarkAt reports the time of one value at a random place and its ratio to the monotone cubic of gonum (piecewise
// cubic Predict) on the same keys and times in the same run.
func BenchmarkAt(b *testing.B) {
	c, reference, times := benchmarkCurve(b)
	times = scattered(times)
	benchmarkRatio(b, len(times), func() (sum float64) {
		for _, t := range times {
			sum += c.At(t)
		}
		return sum
	}, func() (sum float64) {
		for _, t := range times {
			sum += reference.Predict(t)
		}
		return sum
	})
}

// BenchmarkSample is BenchmarkAt for a row of rising times.
func BenchmarkSample(b *testing.B) {
	c, reference, times := benchmarkCurve(b)
	values := make([]float64, len(times))
	benchmarkRatio(b, len(times), func() float64 {
		c.Sample(values, times)
		return values[1]
	}, func() float64 {
		for i, t := range times {
			values[i] = reference.Predict(t)
		}
		return values[1]
	})
}

// BenchmarkNewCurve is BenchmarkAt for making the curve from its keys.
func BenchmarkNewCurve(b *testing.B) {
	c, reference, _ := benchmarkCurve(b)
	knots := c.Knots()
	xs, ys := make([]float64, len(knots)), make([]float64, len(knots))
	for i, k := range knots {
		xs[i], ys[i] = k.Time, k.Value
	}
	benchmarkRatio(b, len(knots), func() float64 {
		return NewCurve(knots, c.Extent()).At(3)
	}, func() float64 {
		if err := reference.Fit(xs, ys); err != nil {
			b.Fatal(err)
		}
		return reference.Predict(3)
	})
}

// BenchmarkChangeWithout asks of every key whether it is spare, against building the curve anew without each.
func BenchmarkChangeWithout(b *testing.B) {
	c, _, _ := benchmarkCurve(b)
	benchmarkRatio(b, len(c.Knots()), func() (sum float64) {
		for i := range c.Knots() {
			change, _ := c.ChangeWithout(i)
			sum += change
		}
		return sum
	}, func() (sum float64) {
		for i := range c.Knots() {
			change, _ := MaxDifference(c, c.Without(i))
			sum += change
		}
		return sum
	})
}

// benchmarkRatio runs ours and theirs in turn, so that both meet the same machine, and reports ours per operation and
// how many times theirs it takes.
func benchmarkRatio(b *testing.B, operations int, ours, theirs func() float64) {
	b.Helper()
	b.ReportAllocs()
	var our, their time.Duration
	sink := 0.0
	for b.Loop() {
		start := time.Now()
		sink += ours()
		middle := time.Now()
		sink += theirs()
		our += middle.Sub(start)
		their += time.Since(middle)
	}
	if math.IsNaN(sink) {
		b.Fatal("not a number")
	}
	b.ReportMetric(float64(our.Nanoseconds())/float64(b.N*operations), "ns/ours")
	b.ReportMetric(float64(our)/float64(their), "ours/theirs")
}
