package motion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// Where a channel is said to be cubic between its corners, its fourth difference vanishes there; where it is not, the
// sheet has something in it that is no cubic.
func TestCornersBoundCubics(t *testing.T) {
	files := map[string]string{
		"rig.motet": "rig r\n\njoints\n  joint on x y z\n  a . 0 0 0\n  b a 0 1 0\n\nchannels\n  channel joint drives gain unit\n  a/x . move.x 1 cm\n  b/x . move.x 1 cm\n  b/y . move.y 1 cm\n  b/z . move.z 1 cm\n",
		"sheet.motet": `sheet s
  rig r in "rig.motet"
  tempo 60 bpm
  cycle 48f

track a
  at      x
  5f      1
  20f     4=
  30f     -2

track b
  at      x       ease
  0f      0       0.3,0,0.1,1
  24f     3       .

track b in over
  at      y
  0f      0
  12f     1

overlap
  a         3f

follow b after a
  lag 2f
  y 0.5 of x

follow b after a
  z 0.5 of x

breath calm
  count 2
  b/z 1
`,
	}
	trees := func(path string) (*grammar.File, error) { return grammar.Parse(path, files[path]), nil }
	file, _ := trees("sheet.motet")
	m := NewProject(trees).Resolve(file)
	require.True(t, m.Whole())
	want := map[string]struct{ cubic, steps bool }{
		"a/x": {true, true}, "b/x": {false, false}, "b/y": {true, true}, "b/z": {false, false},
	}
	for i := range m.Channels {
		c := &m.Channels[i]
		corners := m.Corners(i)
		assert.Equal(t, want[c.Dial.Path].cubic, corners.Cubic, c.Dial.Path)
		if want[c.Dial.Path].steps {
			assert.True(t, corners.Steps, c.Dial.Path)
		}
		assert.Zero(t, corners.Times[0])
		assert.Equal(t, 48.0, corners.Times[len(corners.Times)-1])
		if !corners.Cubic {
			continue
		}
		for k := 1; k < len(corners.Times); k++ {
			from, to := corners.Times[k-1], corners.Times[k]
			h := (to - from) / 6
			difference := 0.0
			for j, weight := range []float64{1, -4, 6, -4, 1} {
				difference += weight * c.At(from+h*float64(j+1))
			}
			assert.Less(t, math.Abs(difference), 1e-9, "%s from %g to %g", c.Dial.Path, from, to)
		}
	}
	assert.Subset(t, m.Corners(m.Channel("a/x").Index).Times, []float64{8, 23, 33}, "late by the overlap")
}
