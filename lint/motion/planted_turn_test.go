package motion

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A planted foot may still turn on its own pivot: the goal gives the turn at rest, and the joint's channels add theirs in
// the joint's own frame. The angles are those of the right-hand rule about +y: z goes to x (glTF 2.0, coordinate system).
func TestAPlantedEndKeepsItsOwnTurn(t *testing.T) {
	files := limbSheet("track hips\n  at  drop  twist\n  0b  -6    20\n\ntrack ankle.left\n  at  turn\n  0b  30\n\nplant\n  foot.left  0b..4b\n  foot.right 0b..4b on hips\n\ntrack ankle.right\n  at  turn\n  0b  25\n")
	rig := strings.Replace(files["rig.motet"], "x    y    z\n", "x    y    z   ry\n", 1)
	rig = strings.Replace(rig, "ankle.left   shin.left    0    -45  0\n", "ankle.left   shin.left    0    -45  0   10\n", 1)
	files["rig.motet"] = strings.Replace(rig, "  foot.left/side ", "  ankle.left/turn  .  turn.y  1  deg\n  ankle.right/turn  .  turn.y  1  deg\n  foot.left/side ", 1)
	m := resolved(t, files)
	require.Empty(t, m.Problems)
	f := m.Figure(7)
	toward := func(joint string) float64 { // where the joint's z axis points, in degrees about +y
		w := f.World[m.Rig.JointIndex(joint)]
		assert.InDelta(t, 0, w[7], 1e-12, "%s stands level", joint)
		return math.Atan2(w[6], w[8]) * 180 / math.Pi
	}
	assert.InDelta(t, 10+30, toward("ankle.left"), 1e-9, "at rest, and its own")
	assert.InDelta(t, 25, toward("ankle.right"), 1e-9, "its own; the hips have not turned since the plant began")
	assert.InDelta(t, 0, length(minus(f.World[m.Rig.JointIndex("ankle.left")].Position(), [3]float64{8, 2, 0})), 1e-9)
}

// A goal planted on a joint that a chain before it moves starts where it is and stays there in that joint's frame.
func TestAGoalPlantedOnASolvedLimbStaysOnIt(t *testing.T) {
	m := resolved(t, limbSheet("track hips\n  at  side  drop  twist\n  0b  0     -6    0\n  2b  6     -14   8\n\nplant\n  foot.left   0b..4b\n  foot.right  0b..4b on shin.left\n"))
	require.Empty(t, m.Problems)
	left, right := m.Rig.JointIndex("shin.left"), m.Rig.JointIndex("ankle.right")
	world := m.Figure(0).World
	// Both ankles rest 92 − 45 − 45 cm above the ground and 8 cm from the middle; the goal has no channels in use.
	assert.InDelta(t, 0, length(minus(world[right].Position(), [3]float64{-8, 2, 0})), 1e-9)
	on := world[left].Undo(world[right].Position())
	assert.Greater(t, m.Figure(36).Bend[0], m.Figure(0).Bend[0]+10, "the shin turns")
	for at := 0.0; at < 72; at += 3 {
		f := m.Figure(at)
		if assert.Zero(t, f.Short[1], "in reach") {
			now := f.World[left].Undo(f.World[right].Position())
			assert.InDelta(t, 0, length(minus(now, on)), 1e-9, "at %g", at)
		}
	}
}
