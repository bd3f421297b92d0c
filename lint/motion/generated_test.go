package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const limbRig = `rig figure
  height 100

joints
  joint        on           x    y    z
  hips         .            0    92   0
  spine        hips         0    20   0
  head         spine        0    20   0
  wrist.left   spine        20   0    0
  wrist.right  spine        -20  0    0
  thigh.left   hips         8    0    0
  shin.left    thigh.left   0    -45  0
  ankle.left   shin.left    0    -45  0
  thigh.right  hips         -8   0    0
  shin.right   thigh.right  0    -45  0
  ankle.right  shin.right   0    -45  0

channels
  channel          joint  drives       gain  unit  range    mirror  positive
  hips/side        .      move.x       1     cm    -12..12  flip    "to their left"
  hips/drop        .      move.y       1     cm    -30..4   keep    "up"
  hips/twist       .      turn.y       1     deg   -90..90  flip    "to their left"
  spine/lean       .      turn.z       1     deg   -90..90  flip    "to their left"
  head/tilt        .      turn.z       1     deg   -90..90  flip    "to their left"
  wrist.left/turn  .      turn.x       1     deg   -90..90  keep    "in"
  wrist.right/turn .      turn.x       1     deg   -90..90  keep    "in"
  foot.left/side   .      goal.x       1     cm    -30..30  flip    "to their left"
  foot.left/knee   .      goal.swivel  1     deg   -60..60  flip    "out"
  foot.right/side  .      goal.x       1     cm    -30..30  flip    "to their left"

chains
  goal        root         middle      end          bends
  foot.left   thigh.left   shin.left   ankle.left   +z
  foot.right  thigh.right  shin.right  ankle.right  +z
`

func limbSheet(body string) map[string]string {
	return map[string]string{"rig.motet": limbRig, "sheet.motet": "sheet s\n  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n\n" + body}
}

const sway = `track hips
  at   side
  0b   0
  1b   3
  2b   -1
  3b   -4
`

func TestFollowersAddTheLeadersDepartureLate(t *testing.T) {
	m := resolved(t, limbSheet(sway+`
track head
  at  tilt
  0b  10
  2b  12

follow spine after hips
  lag   2f
  lean  0.5 of side

follow head after spine
  lag   3f
  tilt  -2 of lean
`))
	require.Empty(t, m.Problems)
	side, lean, tilt := m.Channel("hips/side"), m.Channel("spine/lean"), m.Channel("head/tilt")
	mean := side.Base.Curve.Mean()
	for at := -5.0; at < 150; at += 0.7 {
		assert.InDelta(t, 0.5*(side.At(at-2)-mean), lean.At(at), 1e-9)
		assert.InDelta(t, tilt.Base.Curve.At(at)-2*lean.At(at-3), tilt.At(at), 1e-9)
		left, right := tilt.Slope(at)
		assert.InDelta(t, (tilt.At(at+1e-6)-tilt.At(at-1e-6))/2e-6, (left+right)/2, 1e-4)
	}
}

func TestSpringFollowersSettleRoundTheSeam(t *testing.T) {
	m := resolved(t, limbSheet(sway+`
follow spine after hips
  spring  arrives 5f overshoot 15%
  lean    0.5 of side

follow head after spine
  spring  1.8 Hz damping 0.45
  tilt    1 of lean
`))
	require.Empty(t, m.Problems)
	for _, path := range []string{"spine/lean", "head/tilt"} {
		c := m.Channel(path)
		assert.InDelta(t, c.At(0), c.At(72), 1e-9)
		assert.InDelta(t, c.At(-1e-7), c.At(72-1e-7), 1e-9)
		left, right := c.Slope(0)
		assert.InDelta(t, left, right, 1e-9)
	}
}

func TestRingsOfFollowersAreSpelledOut(t *testing.T) {
	m := resolved(t, limbSheet(`follow spine after hips
  lean  1 of side

follow hips after head
  side  1 of tilt

follow head after spine
  tilt  1 of lean
`))
	require.Len(t, m.Problems, 1)
	assert.Equal(t, "ring", m.Problems[0].Rule)
	assert.Equal(t, "the followers lead in a ring: hips/side → head/tilt → spine/lean → hips/side; let one of them stand alone", m.Problems[0].Message)
}

func TestQuiversAndBreathsInLayers(t *testing.T) {
	m := resolved(t, limbSheet(`layer fine
  strength  50%

quiver hands in fine
  band            0.6..2.5 Hz
  seed            7
  wrist.*/turn    1.5
  wrist.right/turn 0.5

breath calm
  hips/drop  2
`))
	require.Empty(t, m.Problems)
	most := 0.0
	for at := 0.0; at < 72; at += 0.01 {
		most = max(most, math.Abs(m.Channel("wrist.left/turn").At(at)))
	}
	assert.InDelta(t, 0.75, most, 1e-4)
	assert.InDelta(t, 2, m.Channel("hips/drop").At(72*0.4), 1e-12)
}

func TestKneesBendByTheLawOfCosines(t *testing.T) {
	// 45 + 45 cm: hips lowered by 0.2 cm bend the knee by 7.6°, by 0.8 cm by 15.3° (trigonometry, to the digits printed).
	for drop, bend := range map[float64]float64{-0.2: 7.6, -0.8: 15.3} {
		m := resolved(t, limbSheet("plant\n  foot.left  0b..4b\n\ntrack hips\n  at  drop\n  0b  "+numberText(drop)+"\n"))
		require.Empty(t, m.Problems)
		f := m.Figure(10)
		assert.InDelta(t, bend, f.Bend[0], 0.06)
		assert.InDelta(t, 2*math.Acos((90+drop)/90)*180/math.Pi, f.Bend[0], 1e-9)
		assert.True(t, math.IsNaN(f.Bend[1]), "the right leg keeps its own channels")
	}
}

func numberText(v float64) string {
	if v == -0.2 {
		return "-0.2"
	}
	return "-0.8"
}

func TestPlantedFeetStayWhereTheyAre(t *testing.T) {
	m := resolved(t, limbSheet(`track hips
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
  foot.right  0b..4b
`))
	require.Empty(t, m.Problems)
	start := m.Figure(54).World[m.Rig.JointIndex("ankle.left")].Position()
	for at := 54.0; at < 54+36; at += 0.5 {
		f := m.Figure(math.Mod(at, 72))
		p := f.World[m.Rig.JointIndex("ankle.left")].Position()
		assert.InDelta(t, 0, length(minus(p, start)), 1e-9, "at %g", at)
		assert.InDelta(t, 0, f.Short[0], 1e-12)
		knee := f.World[m.Rig.JointIndex("shin.left")].Position()
		hip := f.World[m.Rig.JointIndex("thigh.left")].Position()
		assert.InDelta(t, 45, length(minus(knee, hip)), 1e-9)
		assert.InDelta(t, 45, length(minus(p, knee)), 1e-9)
		right := f.World[m.Rig.JointIndex("ankle.right")].Position()
		assert.InDelta(t, 0, length(minus(right, [3]float64{-8, 2, 0})), 1e-9)
	}
	// Between its plants the left foot goes where its goal channels say: 8 + side from the middle.
	p := m.Figure(36).World[m.Rig.JointIndex("ankle.left")].Position()
	assert.InDelta(t, 8+4, p[0], 1e-9)
}

func TestSwivelTurnsTheKneeAboutTheLineToTheFoot(t *testing.T) {
	m := resolved(t, limbSheet("track hips\n  at  drop\n  0b  -9\n\ntrack foot.left\n  at  knee\n  0b  90\n"))
	require.Empty(t, m.Problems)
	f := m.Figure(0)
	hip := f.World[m.Rig.JointIndex("thigh.left")].Position()
	knee := f.World[m.Rig.JointIndex("shin.left")].Position()
	// Straight down is the line; the knee bends forward (+z), and a quarter turn about -y takes +z to -x.
	assert.InDelta(t, 0, knee[2], 1e-9)
	assert.Less(t, knee[0], hip[0]-10)
}

func TestAHandPlantedOnTheBodyIsCarried(t *testing.T) {
	m := resolved(t, limbSheet("track hips\n  at  side  drop\n  0b  0     -6\n  2b  6     -9\n\nplant\n  foot.left  0b..4b on hips\n"))
	require.Empty(t, m.Problems)
	require.Empty(t, m.Problems)
	for at := 0.0; at < 72; at += 3 {
		f := m.Figure(at)
		hips := f.World[0].Position()
		foot := f.World[m.Rig.JointIndex("ankle.left")].Position()
		assert.InDelta(t, 8, foot[0]-hips[0], 1e-9)
		assert.InDelta(t, 2-86, foot[1]-hips[1], 1e-9)
	}
}

func TestOutOfReachStretchesNothing(t *testing.T) {
	m := resolved(t, limbSheet("track hips\n  at  drop\n  0b  3\n\nplant\n  foot.left  0b..4b\n"))
	f := m.Figure(0)
	assert.InDelta(t, 3, f.Short[0], 1e-9)
	assert.InDelta(t, 0, f.Bend[0], 1e-6)
	hip := f.World[m.Rig.JointIndex("thigh.left")].Position()
	foot := f.World[m.Rig.JointIndex("ankle.left")].Position()
	assert.InDelta(t, 90, length(minus(foot, hip)), 1e-9)
}
