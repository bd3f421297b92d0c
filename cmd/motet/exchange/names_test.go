package exchange

import (
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
)

func TestSpelling(t *testing.T) {
	for name, want := range map[string]string{
		"LeftUpLeg": "up-leg.left", "L_Arm": "arm.left", "arm_l": "arm.left", "Arm.L": "arm.left", "hand_L_01": "hand-01.left",
		"upperarm_r": "upperarm.right", "b_R_hand": "b-hand.right", "RightHandThumb1": "hand-thumb1.right", "hand.right": "hand.right",
		"lefthand": "hand.left", "footRight": "foot.right", "eyeleft": "eye.left", "Arm R": "arm.right", "HandLFT": "hand.left",
		"Spine1": "spine1", "mixer:Hips": "hips", "Rig|Hips": "hips", "root": "root", "LOD": "lod", "Roll": "roll",
		"leftovers": "overs.left", "L": "l", "Left": "left", "IKHandle": "ik-handle", "Кисть_L": "кисть.left",
	} {
		got := sideOf(tokensOf(name))
		assert.Equal(t, want, got.base()+got.side.suffix(), name)
	}
}

func TestCommonPrefixes(t *testing.T) {
	got := spell([]string{"Avatar_Hips", "Avatar_LeftLeg", "Avatar_RightLeg", "Avatar_Spine", "Stand", "Avatar"})
	var words []string
	for _, s := range got {
		words = append(words, s.base()+s.side.suffix())
	}
	assert.Equal(t, []string{"hips", "leg.left", "leg.right", "spine", "stand", "avatar"}, words)
	// Four joints that begin alike are a family and no prefix when there are more others.
	got = spell([]string{"finger_a", "finger_b", "finger_c", "finger_d", "hips", "spine", "head", "neck", "arm"})
	assert.Equal(t, "finger-a", got[0].base())
}

func TestPlainWords(t *testing.T) {
	for text, want := range map[string]string{
		"Up Leg": "up-leg", "007": "joint-007", "": "joint", "__": "joint", "a--b": "a-b", "x.": "x", "..": "joint",
		"in": "in-joint", "every": "every-joint", "tür": "tür", "足首": "足首", "a/b#c\"d": "a-b-c-d", "-x-": "x", "1st": "joint-1st",
	} {
		assert.Equal(t, want, plainWord(text, "joint"), text)
	}
	taken := map[string]bool{}
	assert.Equal(t, []string{"a", "a-2", "a-3", "b.left"}, []string{unique("a", "", taken), unique("a", "", taken), unique("a", "", taken), unique("b", ".left", taken)})
}

func TestClipWords(t *testing.T) {
	for name, want := range map[string]string{
		"Idle_Male": "idle-male", "Armature|tik-tok-dance_v02|BaseLayer": "tik-tok-dance-v02", "Stand|Wait": "wait", "M_FistPump": "m-fist-pump", "": "clip", "Take 001": "take-001",
	} {
		assert.Equal(t, want, clipWord(name, "clip"), name)
	}
}

func TestParts(t *testing.T) {
	for name, want := range map[string]part{
		"LeftHandThumb1": "finger", "LeftHand": "hand", "LeftForeArm": "arm", "LeftShoulder": "arm", "RightUpLeg": "leg", "RightToeBase": "foot", "RightFoot": "foot",
		"Hips": "root", "Spine2": "spine", "Neck": "spine", "Head": "head", "eyelid_l": "lid", "eye_l": "eye", "Jaw": "face", "Armature": "", "HandProp": "hand", "thigh_r": "leg", "lowerarm_l": "arm",
	} {
		assert.Equal(t, want, partOf(sideOf(tokensOf(name)).words), name)
	}
}

// folk is a figure of these joints, each a metre and some above the one before, and moved
// so that every joint counts.
func folk(t *testing.T, nodes ...*gltf.Node) *figure {
	t.Helper()
	p := puppet{nodes: nodes, clips: []clipSpec{{name: "c"}}}
	for i := range nodes {
		if nodes[i].Rotation == [4]float64{} {
			nodes[i].Rotation = gltf.DefaultRotation
		}
		nodes[i].Scale = gltf.DefaultScale
		p.clips[0].tracks = append(p.clips[0].tracks, baked(i, gltf.TRSRotation, 24, 0, 24, func(f float64) []float64 {
			return aboutAxis(2, wave(f, 24, 1, 5))
		}))
	}
	d := readPuppet(t, p)
	f, err := figureOf(d, &d.Clips[0], Options{Within: DefaultWithin()})
	assert.NoError(t, err)
	return f
}

func TestPairsAreConfirmedByPlace(t *testing.T) {
	f := folk(t,
		&gltf.Node{Name: "hips", Translation: [3]float64{0, 1, 0}, Children: []int{1, 2, 3, 4, 5}},
		&gltf.Node{Name: "arm_l", Translation: [3]float64{0.3, 0.4, 0}},
		&gltf.Node{Name: "arm_r", Translation: [3]float64{-0.3, 0.4, 0}},
		&gltf.Node{Name: "lamp_l", Translation: [3]float64{0.3, 0.6, 0}},
		&gltf.Node{Name: "lamp_r", Translation: [3]float64{0.1, 0.1, 0.4}},
		&gltf.Node{Name: "sash_l", Translation: [3]float64{0.2, 0, 0}},
	)
	var names []string
	for _, j := range f.skeleton.joints {
		names = append(names, j.name)
	}
	// The lamps lie as in no mirror, and the sash has no other side.
	assert.Equal(t, []string{"hips", "arm.left", "arm.right", "left-lamp", "right-lamp", "left-sash"}, names)
}

// A figure in a lopsided rest pose, as when the nodes hold the clip's first frame, keeps its
// pairs by the lengths of its bones.
func TestPairsOfALopsidedPose(t *testing.T) {
	up := aboutAxis(2, 80)
	f := folk(t,
		&gltf.Node{Name: "spine", Translation: [3]float64{0, 1.2, 0}, Children: []int{1, 3}},
		&gltf.Node{Name: "LeftArm", Translation: [3]float64{0.2, 0.2, 0}, Rotation: [4]float64(up), Children: []int{2}},
		&gltf.Node{Name: "LeftHand", Translation: [3]float64{0.5, 0, 0}},
		&gltf.Node{Name: "RightArm", Translation: [3]float64{-0.2, 0.2, 0}, Children: []int{4}},
		&gltf.Node{Name: "RightHand", Translation: [3]float64{-0.5, 0, 0}},
	)
	assert.Equal(t, "hand.left", f.skeleton.joints[2].name)
	assert.Equal(t, 4, f.skeleton.joints[2].mate)
}

func TestFacing(t *testing.T) {
	for name, c := range map[string]struct {
		left, ahead vec3
	}{
		"front":    {vec3{1, 0, 0}, vec3{0, 0, 1}},
		"back":     {vec3{-1, 0, 0}, vec3{0, 0, -1}},
		"sideways": {vec3{0, 0, 1}, vec3{-1, 0, 0}},
	} {
		arm := c.left.times(0.3)
		f := folk(t,
			&gltf.Node{Name: "hips", Translation: [3]float64{0, 1, 0}, Children: []int{1, 2}},
			&gltf.Node{Name: "arm.L", Translation: arm},
			&gltf.Node{Name: "arm.R", Translation: arm.times(-1)},
		)
		assert.Equal(t, c.left, f.front.left, name)
		assert.Equal(t, c.ahead, f.front.ahead, name)
	}
}
