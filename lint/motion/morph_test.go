package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

const morphRig = `rig keeper

joints
  joint  on    x  y   z  part
  hips   .     0  90  0  root
  jaw    hips  0  60  5  face

channels
  channel          joint  drives            gain  unit  range   mirror  positive  rest
  face/smile       .      morph.smile       1     %     0..100  keep    "wider"   30
  face/smile       .      morph.dimples     0.4
  face/grin        .      morph.smile       0.5                                           # target "Mouth Smile"
  jaw/open         .      turn.x            0.2   deg   0..50   keep    "down"    5
  jaw/open         .      morph.jawOpen     2
  brow.left/raise  .      morph.browUp_L    1
  brow.right/raise .      morph.browUp_R    1             # target "browUp" on node 5 "Right \ brow"
  lids/close       jaw    morph.blink       1
`

func TestMorphTargetsOfARig(t *testing.T) {
	rig := NewProject(nil).Rig(grammar.Parse("rig.motet", morphRig))
	require.Len(t, rig.Problems, 1)
	assert.Equal(t, "`lids/close` drives a morph target, which belongs to no joint; write . under `joint`", rig.Problems[0].Message)
	assert.Equal(t, "jaw", rig.Problems[0].At.Text())
	var words []string
	for i := range rig.Morphs {
		words = append(words, rig.Morphs[i].Word)
	}
	assert.Equal(t, []string{"smile", "dimples", "jawOpen", "browUp_L", "browUp_R", "blink"}, words)
	assert.Equal(t, ModelTarget{Name: "Mouth Smile", Node: -1}, rig.Morphs[0].Target, "any row of the target may say what it is")
	assert.Equal(t, ModelTarget{Name: "dimples", Node: -1}, rig.Morphs[1].Target)
	assert.Equal(t, ModelTarget{Name: "browUp", On: true, Node: 5, NodeName: `Right \ brow`}, rig.Morphs[4].Target)

	smile := rig.Channels[rig.DialIndex("face/smile")]
	assert.Empty(t, smile.Drives)
	assert.Equal(t, "%", smile.Unit)
	assert.Equal(t, []MorphDrive{{0, 1}, {1, 0.4}}, smile.Morphs)
	assert.Equal(t, "%", rig.Channels[rig.DialIndex("face/grin")].Unit)
	assert.InDelta(t, 30, smile.Rest, 0)
	assert.InDelta(t, 0, rig.Channels[rig.DialIndex("face/grin")].Rest, 0)
}

// The sum by hand: 30 % and half of 20 % of the smile, 0.4 of 30 % of the dimples; the jaw also turns, so that its
// departure of 25 from rest counts, twice, and at rest nothing.
func TestWeightsOfMorphTargets(t *testing.T) {
	rig := NewProject(nil).Rig(grammar.Parse("rig.motet", morphRig))
	assert.InDeltaSlice(t, []float64{0.3, 0.12, 0, 0, 0, 0}, rig.RestWeights(), 1e-15)
	values := []float64{30, 20, 30, 7, -3, 0}
	assert.InDeltaSlice(t, []float64{0.4, 0.12, 0.5, 0.07, -0.03, 0}, rig.Weights(values, make([]float64, 9)), 1e-15)
}

// A dial that blends targets in moves no joint, and left and right change sides with their controls.
func TestAMirrorSwapsMorphTargetsByTheirControls(t *testing.T) {
	rig := NewProject(nil).Rig(grammar.Parse("rig.motet", morphRig))
	assert.Equal(t, rig.RestPose(nil), rig.Pose([]float64{80, 10, 5, 40, 20, 10}, nil))
	trees := func(string) (*grammar.File, error) {
		return grammar.Parse("rig.motet", morphRig+`
sheet keeper-wait
  cycle     2b

track brow.left
  at      raise
  0b      10
  1b      60
`), nil
	}
	base, _ := trees("")
	mirrored := grammar.Parse("other.motet", "sheet keeper-other\n  from      keeper-wait in \"rig.motet\"\n\nchange\n  mirror\n")
	weights := func(f *grammar.File) []float64 {
		m := NewProject(trees).Resolve(f)
		require.True(t, m.Whole())
		return m.Rig.Weights(m.Values(24, nil), nil)
	}
	assert.InDeltaSlice(t, []float64{0.3, 0.12, 0, 0.6, 0, 0}, weights(base), 1e-12)
	assert.InDeltaSlice(t, []float64{0.3, 0.12, 0, 0, 0.6, 0}, weights(mirrored), 1e-12)
}

func TestTheTargetOfARow(t *testing.T) {
	for comment, want := range map[string]*ModelTarget{
		"":                                 nil,
		"# the smile":                      nil,
		"# target smile":                   nil,
		`# target ""`:                      nil,
		`# target "Mouth Smile`:            nil,
		`# target "Mouth Smile"`:           {Name: "Mouth Smile", Node: -1},
		`#target "0"`:                      {Name: "0", Node: -1},
		`# target "smile" on node 5 "T B"`: {Name: "smile", On: true, Node: 5, NodeName: "T B"},
		`# target "smile" on node 5`:       {Name: "smile", Node: -1},
		`# target "smile" and its friend`:  {Name: "smile", Node: -1},
	} {
		got, ok := readTarget(comment)
		assert.Equal(t, want != nil, ok, comment)
		if want != nil {
			assert.Equal(t, *want, got, comment)
		}
	}
	assert.Equal(t, "smile", TargetName([]string{"smile", ""}, 0))
	assert.Equal(t, "1", TargetName([]string{"smile", ""}, 1))
	assert.Equal(t, "2", TargetName([]string{"smile", ""}, 2))
}
