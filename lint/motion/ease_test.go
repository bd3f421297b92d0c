package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// Source: bezier-easing 3.2.0 from npm, asked by easing.mjs at these shares of time. Kept so that the check needs no Node.
func TestEaseAgainstKeptValues(t *testing.T) {
	shares := []float64{0.1, 0.25, 0.5, 0.75, 0.9}
	for ease, want := range map[Ease][]float64{
		{0.25, 0.1, 0.25, 1}:      {0.09479630571604326, 0.4085105913553959, 0.8024033875848573, 0.9604589783489742, 0.9943164774845566},
		{0.42, 0, 0.58, 1}:        {0.0197224535483112, 0.12916193104731982, 0.5, 0.8708380689526801, 0.9802775464516887},
		{0.3, 0, 0.1, 1}:          {0.052075222106984884, 0.4335914164710141, 0.8384713278735382, 0.968957446822132, 0.9955900431980478},
		{0.68, -0.55, 0.27, 1.55}: {-0.0662714099417481, -0.08293509319176255, 0.5965962920655996, 1.0888243951121963, 1.0626954497935386},
		{0, 1, 1, 0}:              {0.38740031697727517, 0.479055466999209, 0.5, 0.5209445330007912, 0.612599683022725},
		{0, 0, 0, 0.5}:            {0.27316520350478257, 0.4702753944880747, 0.6949407874211548, 0.8632227183354849, 0.9482546276792364},
	} {
		for i, x := range shares {
			assert.InDelta(t, want[i], ease.At(x), 1e-12, "%v at %v", ease, x)
		}
	}
}

func TestEaseAgainstBezierEasing(t *testing.T) {
	type question struct {
		Ease [4]float64 `json:"ease"`
		At   []float64  `json:"at"`
	}
	corners := []float64{0, 1e-9, 0.01, 0.3, 0.5, 0.9, 1}
	var questions []question
	for _, x1 := range corners {
		for _, x2 := range corners {
			for _, y := range [][2]float64{{0, 1}, {0.1, 1}, {-0.6, 1.6}, {1, 0}, {0.3, 0.3}} {
				q := question{Ease: [4]float64{x1, y[0], x2, y[1]}}
				for i := range 201 {
					q.At = append(q.At, float64(i)/200)
				}
				questions = append(questions, q)
			}
		}
	}
	var answers [][]float64
	reference.Ask(t, "easing.mjs", questions, &answers)
	require.Len(t, answers, len(questions))
	for i, q := range questions {
		ease := Ease{q.Ease[0], q.Ease[1], q.Ease[2], q.Ease[3]}
		for j, x := range q.At {
			assert.InDelta(t, answers[i][j], ease.At(x), 1e-6, "%v at %v", ease, x)
		}
	}
}

func TestEaseEnds(t *testing.T) {
	tests := []struct {
		ease               Ease
		wantFirst, wantEnd float64 // Slopes: of the tangents to the control points, or of the next that is not the end point.
	}{
		{Ease{0, 0, 1, 1}, 1, 1},
		{Ease{0.25, 0.1, 0.25, 1}, 0.4, 0},
		{Ease{0.5, 1, 0.5, 0}, 2, 2},
		{Ease{0, 0, 0.5, 1}, 2, 0},
		{Ease{0.5, 0, 1, 1}, 0, 2},
		{Ease{0, 0, 0, 0}, 1, 1},
		{Ease{0.3, 0.3, 0.6, 0.6}, 1, 1},
		{Ease{0, 0.5, 0.5, 1}, 1.5e6, 0},
	}
	for _, test := range tests {
		assert.Equal(t, 0.0, test.ease.At(0))
		assert.Equal(t, 1.0, test.ease.At(1))
		assert.Equal(t, 0.0, test.ease.At(-3))
		assert.Equal(t, 1.0, test.ease.At(3))
		assert.InDelta(t, test.wantFirst, test.ease.Slope(0), 1e-9*(1+test.wantFirst), "%v", test.ease)
		assert.InDelta(t, test.wantEnd, test.ease.Slope(1), 1e-9, "%v", test.ease)
	}
}

func TestEaseIsSolvedExactly(t *testing.T) {
	share := rapid.Float64Range(0, 1)
	rapid.Check(t, func(t *rapid.T) {
		ease := Ease{share.Draw(t, "x1"), rapid.Float64Range(-2, 3).Draw(t, "y1"), share.Draw(t, "x2"), rapid.Float64Range(-2, 3).Draw(t, "y2")}
		x := share.Draw(t, "x")
		assert.InDelta(t, x, bezierAxis(ease.X1, ease.X2).at(ease.parameter(x)), 1e-15)
	})
}

func TestEaseTurnsAndArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ease := anyEase().Draw(t, "ease")
		least, most, area, fastest, slowest := 0.0, 1.0, 0.0, 0.0, math.Inf(1)
		const steps = 2000
		for i := range steps {
			x := (float64(i) + 0.5) / steps
			v, pace := ease.At(x), ease.Slope(x)
			least, most, area = min(least, v), max(most, v), area+v/steps
			fastest, slowest = max(fastest, pace), min(slowest, pace)
		}
		exactLeast, exactMost := 0.0, 1.0
		xs, n := ease.turns()
		for _, x := range xs[:n] {
			exactLeast, exactMost = min(exactLeast, ease.At(x)), max(exactMost, ease.At(x))
		}
		assert.InDelta(t, least, exactLeast, 1e-4)
		assert.InDelta(t, most, exactMost, 1e-4)
		assert.InDelta(t, area, ease.integral(1), 1e-4)
		peak, dip := max(ease.Slope(0), ease.Slope(1)), min(ease.Slope(0), ease.Slope(1))
		xs, n = ease.fastest()
		for _, x := range xs[:n] {
			peak, dip = max(peak, ease.Slope(x)), min(dip, ease.Slope(x))
		}
		assert.GreaterOrEqual(t, peak, fastest-1e-9)
		assert.InEpsilon(t, 100+fastest, 100+peak, 0.05, "nothing faster than the fastest place found by sampling")
		assert.LessOrEqual(t, dip, slowest+1e-9)
	})
}
