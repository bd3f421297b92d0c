package exchange

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// begunAt is a take that was baked, begun at another of its keys: its end is its start again.
func begunAt(take *Take, keys int) *Take {
	out := *take
	out.tracks = nil
	for _, t := range take.tracks {
		n := len(t.times) - 1
		if n > 1 {
			values := make([]float64, 0, len(t.values))
			for k := range n + 1 {
				at := (k + keys) % n
				values = append(values, t.values[at*t.width:(at+1)*t.width]...)
			}
			t.values = values
		}
		out.tracks = append(out.tracks, t)
	}
	return &out
}

// A loop that an engine begins elsewhere is not the sheet's motion at its times, and is found out for what it is.
func TestLoopsBegunElsewhere(t *testing.T) {
	long(t)
	for _, name := range []string{"keeper", "ropewalker"} {
		m := cast(t)[name]
		rate := Rate{m.Sheet.Rate.Num(), m.Sheet.Rate.Den()}
		take, err := NewTake(m, TakeWish{Bake: rate})
		require.NoError(t, err)
		l := likenessOf(t, m, take, nil)
		require.True(t, l.Within(DefaultLikeness()))
		assert.Nil(t, l.Beginning, "a clip that is the motion begins where it does")
		for _, frames := range []int{1, 31, int(m.Sheet.Length.Float()) - 2} {
			l = likenessOf(t, m, begunAt(take, frames), nil)
			if l.Within(DefaultLikeness()) {
				continue // a frame makes no difference that counts
			}
			require.NotNil(t, l.Beginning, "%s, begun at %d", name, frames)
			assert.InDelta(t, float64(frames), l.Beginning.Seconds*rate.perSecond(), 0.01)
			assert.True(t, l.Beginning.Within(DefaultLikeness()), "%+v", l.Beginning)
			assert.Less(t, l.Beginning.Place.Largest, 0.1)
		}
		// Between two frames: a clip of twice the rate, begun at an odd one.
		fine, err := NewTake(m, TakeWish{Bake: Rate{2 * rate.Frames, rate.Seconds}})
		require.NoError(t, err)
		l = likenessOf(t, m, begunAt(fine, 41), nil)
		require.NotNil(t, l.Beginning, name)
		assert.InDelta(t, 20.5, l.Beginning.Seconds*rate.perSecond(), 0.02, name)
	}
}

// What is another motion does not begin elsewhere, nor does one that is over sooner, or a span.
func TestNoOtherBeginning(t *testing.T) {
	all := cast(t)
	m := all["keeper"]
	take, err := NewTake(m, TakeWish{Bake: Rate{24, 1}})
	require.NoError(t, err)
	bent := begunAt(take, 30)
	for i := range bent.tracks {
		if tr := &bent.tracks[i]; tr.property == turns && len(tr.times) > 2 {
			for k := range tr.times {
				q := quat(tr.values[4*k : 4*k+4]).after(order{0, 1, 2}.quat(vec3{0, 0, 12 * math.Sin(float64(k)/7)}))
				tr.values = append(append(append([]float64(nil), tr.values[:4*k]...), q[:]...), tr.values[4*k+4:]...)
			}
		}
	}
	l := likenessOf(t, m, bent, nil)
	require.False(t, l.Within(DefaultLikeness()))
	assert.Nil(t, l.Beginning)

	other, err := NewTake(all["tallywoman"], TakeWish{})
	require.NoError(t, err)
	assert.Nil(t, likenessOf(t, m, other, nil).Beginning)
}

// weightsBegunAt is a take that was baked with only its weights begun at another of their keys, or both.
func weightsBegunAt(take *Take, keys int) *Take {
	out := *take
	out.weights = nil
	for _, w := range take.weights {
		n := len(w.times) - 1
		values := make([]float64, 0, len(w.values))
		width := len(w.values) / len(w.times)
		for k := range n + 1 {
			at := (k + keys) % n
			values = append(values, w.values[at*width:(at+1)*width]...)
		}
		w.values = values
		out.weights = append(out.weights, w)
	}
	return &out
}

// A face is part of the motion: a clip begins elsewhere with its weights, where nothing else tells, and what only the body
// does is no beginning of the whole.
func TestFacesBegunElsewhere(t *testing.T) {
	m := faceKeeper(t)
	take, err := NewTake(m, TakeWish{Bake: Rate{24, 1}})
	require.NoError(t, err)
	require.NotEmpty(t, take.weights)
	require.Equal(t, len(take.weights[0].times)-1, int(m.Sheet.Length.Float()))
	for _, frames := range []int{5, 31} {
		l := likenessOf(t, m, weightsBegunAt(begunAt(take, frames), frames), nil)
		require.NotNil(t, l.Beginning, "begun at %d", frames)
		assert.InDelta(t, float64(frames), 24*l.Beginning.Seconds, 0.01)
		assert.True(t, l.Beginning.Within(DefaultLikeness()), "%+v", l.Beginning)
		assert.Less(t, l.Beginning.Weight.Largest, 0.5)

		// The body is begun elsewhere, and the face is not.
		l = likenessOf(t, m, begunAt(take, frames), nil)
		if l.Beginning != nil {
			assert.False(t, l.Beginning.Within(DefaultLikeness()))
			assert.Greater(t, l.Beginning.Weight.Largest, DefaultLikeness().WeightPercent)
			assert.NotEmpty(t, l.Beginning.WeightTarget)
		}
	}

	// Nothing but the face moves.
	still := *take
	still.tracks = nil
	for _, tr := range take.tracks {
		if tr.width > 0 && len(tr.times) > 2 {
			for k := range tr.times {
				copy(tr.values[k*tr.width:(k+1)*tr.width], tr.values[:tr.width])
			}
		}
		still.tracks = append(still.tracks, tr)
	}
	d := changed(t, mustGLB(t, &still), nil)
	l, err := LikenessOfClips(d, "", changed(t, mustGLB(t, weightsBegunAt(&still, 17)), nil), "")
	require.NoError(t, err)
	require.False(t, l.Within(DefaultLikeness()))
	require.NotNil(t, l.Beginning)
	assert.InDelta(t, 17, 24*l.Beginning.Seconds, 0.01)
	assert.True(t, l.Beginning.Within(DefaultLikeness()))
}
