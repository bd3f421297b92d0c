package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// busyLimbs has plants across the seam and on a joint, a keyed goal, and times at which a foot is free.
const busyLimbs = `track hips
  at   side  drop  twist
  0b   0     -3    0
  1b   3     -5    9
  2b   -1    -3    -7
  3b   -4    -6    2

track foot.left
  at   side  knee
  0b   1     0
  2b   4     20

plant
  foot.left   3b..5b
  foot.right  0b..2b on hips
  foot.right  5/2b..3b
`

func TestAPlayerThatIsUsedAgainGivesWhatANewOneGives(t *testing.T) {
	m := resolved(t, limbSheet(busyLimbs))
	require.Empty(t, m.Problems)
	player := m.Player()
	// Times go forward, back and over the seam, so that what a player keeps of a plant would be wrong if it were stale.
	for _, at := range []float64{0, 10, 60, 71.5, 3, 35, 36, 40, 50, 54, 72, 100, -10, 46, 10} {
		want, got := m.Figure(at), player.Figure(at)
		assert.Equal(t, want.World, got.World, "at %g", at)
		assert.Equal(t, want.Short, got.Short)
		assert.InDeltaSlice(t, want.Bend[:1], got.Bend[:1], 0)
	}
}

func TestAPlayerAsksForNoMemory(t *testing.T) {
	m := resolved(t, limbSheet(busyLimbs))
	player := m.Player()
	player.Figure(60)
	at := 60.0
	assert.Zero(t, testing.AllocsPerRun(20, func() {
		player.Figure(at)
		at += 0.25
	}))
}
