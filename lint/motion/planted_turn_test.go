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
