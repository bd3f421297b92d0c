package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/motet-sheet/motet/grammar"
)

func TestPartOfAChannel(t *testing.T) {
	rig := NewProject(nil).Rig(grammar.Parse("rig.motet", `rig diver

joints
  joint  on     x  y    z  part
  hips   .      0  90   0  root
  chest  hips   0  30   0  spine
  thigh  hips   9  -5   0  leg
  shin   thigh  0  -40  0  leg
  ankle  shin   0  -40  0  foot

channels
  channel     joint  drives       gain  unit
  hips/side   .      move.x       1     cm
  body/lean   chest  turn.x       1     deg
  body/bow    chest  turn.x       1     deg
  body/bow    hips   turn.x       0.5
  foot/ahead  .      goal.z       1     cm
  foot/knee   .      goal.swivel  1     deg
  face/smile  .      .            1     %

chains
  goal  root   middle  end    bends
  foot  thigh  shin    ankle  +z
`))
	assert.Empty(t, rig.Problems)
	for path, part := range map[string]string{
		"hips/side": PartRoot, "body/lean": PartSpine, "body/bow": PartRoot,
		"foot/ahead": PartFoot, "foot/knee": PartFoot, "face/smile": "",
	} {
		assert.Equal(t, part, rig.PartOf(&rig.Channels[rig.DialIndex(path)]), path)
	}
}
