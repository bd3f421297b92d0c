package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// diver is a body that turns about its hip, with a head 100 cm above it.
func diver(body string) map[string]string {
	return map[string]string{
		"rig.motet": `rig diver

joints
  joint  on    x  y    z  part
  hips   .     0  0    0  root
  head   hips  0  100  0  head
  eye    head  0  0    5  eye

channels
  channel    joint  drives  gain  unit
  hips/side  .      move.x  1     cm
  hips/tilt  .      turn.z  1     deg
`,
		"sheet.motet": "sheet s\n  rig diver in \"rig.motet\"\n" + body,
	}
}

func TestJointSpeeds(t *testing.T) {
	m := resolved(t, diver("  cycle 2s\n"))
	require.Empty(t, m.Problems)
	speeds := m.JointSpeeds(0, []float64{0.5, 3})
	// A turn of 3° a frame about a pivot 100 cm below moves the head by 100 cm times 3 degrees in radians, to -x.
	assert.InDelta(t, 0.5, speeds[0][0], 1e-9)
	assert.InDelta(t, 0.5-100*3*math.Pi/180, speeds[1][0], 1e-6)
	assert.InDelta(t, 0, speeds[1][1], 1e-6)
}

func TestPeakJointSpeeds(t *testing.T) {
	m := resolved(t, diver("  span 48f\n\ntrack hips\n  at side tilt\n  0f 0> .\n  12f 6 .\n  48f 6 .\n"))
	peaks := m.PeakJointSpeeds()
	assert.InDelta(t, 0.5, peaks[0], 1e-9, "6 cm in 12 frames")
	assert.InDelta(t, 0.5, peaks[1], 1e-9)
}

func TestALimbEndsInAHandAndAHeadInItself(t *testing.T) {
	m := resolved(t, diver("  cycle 2s\n"))
	assert.Equal(t, []int{m.Rig.JointIndex("head")}, m.Rig.EndJoints())
}
