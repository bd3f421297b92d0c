package draw

import (
	"math"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

// Body is how a rig is drawn: as a puppet cut from paper, its limbs between the rig's joints and a few points more that
// make heads, hands and feet of them. It depends on the rig alone; a motion moves its points.
type Body struct {
	Points []Spot
	Limbs  []Bone
	Feet   []Foot
	Height float64 // cm
}

// Spot is a point that a joint carries. The first spots of a body are the rig's joints, in the rig's order.
type Spot struct {
	Name  string
	Joint int
	Local [3]float64 // cm, in the joint's frame
}

// Bone is a limb between two spots of a body, as thick as circles about them.
type Bone struct {
	From, To int
	R0, R1   float64 // cm
	Side     Ink     // Left, Right or Skin
	Eye      bool    // it is drawn over everything, when the eye that it is looks at whoever looks
	Group    Group   // what it is drawn together with, without a rim between
	Over     float64 // cm by which it counts as nearer than it is
}

// Group names the limbs that are one piece of paper.
type Group uint8

// The groups.
const (
	Alone Group = iota
	Trunk
	Head
)

// Foot is the end of a leg that stands on the ground.
type Foot struct {
	Chain     int // index into the rig's chains, -1 for none
	Joint     int
	Heel, Toe int // spots
}

// The thickness of the parts of a body, as shares of its height. They are our own, by eye.
const (
	thickHips, thickSpine, thickChest, thickNeck = 0.060, 0.064, 0.064, 0.024
	thickUpperArm, thickLowerArm, thickWrist     = 0.025, 0.020, 0.014
	thickThigh, thickKnee, thickAnkle            = 0.040, 0.027, 0.017
	thickHand, thickFingers, thickToe            = 0.016, 0.010, 0.012
	thickElse                                    = 0.016
)

// builder makes a body.
type builder struct {
	*Body
	rig   *motion.Rig
	rest  []motion.Transform
	heads []int // joints of the part head that no other one of that part hangs on
}

// NewBody works out how a rig is drawn.
func NewBody(rig *motion.Rig) *Body {
	b := builder{&Body{Height: rig.Height}, rig, rig.RestWorld(), nil}
	b.Height = b.tall()
	for i := range rig.Joints {
		b.Points = append(b.Points, Spot{rig.Joints[i].Name, i, [3]float64{}})
	}
	for i := range rig.Joints {
		b.joint(i)
	}
	return b.Body
}

// tall is the rig's height, or how far its joints are apart at rest where that says nothing.
func (b *builder) tall() float64 {
	least, most := [3]float64{}, [3]float64{}
	for i := range b.rest {
		for axis, v := range b.rest[i].Position() {
			least[axis], most[axis] = min(least[axis], v), max(most[axis], v)
		}
	}
	size := max(most[0]-least[0], most[1]-least[1], most[2]-least[2], 1e-6)
	if h := b.rig.Height; h > 0.3*size && h < 3*size {
		return h
	}
	return 1.1 * size
}

// joint adds what is drawn for one joint: the limb from its parent, and what ends in it.
func (b *builder) joint(i int) {
	j := &b.rig.Joints[i]
	leaf := b.isLeaf(i)
	switch j.Part {
	case motion.PartEye:
		b.eye(i)
		return
	case motion.PartLid, motion.PartFace:
		return
	case motion.PartSpine:
		if leaf && j.Parent >= 0 {
			b.ribs(i)
			return
		}
	}
	if j.Parent >= 0 {
		r0, r1 := b.thickness(j.Parent, i)
		bone := Bone{From: j.Parent, To: i, R0: r0 * b.Height, R1: r1 * b.Height, Side: b.side(i)}
		if b.isTrunk(j.Parent) && j.Part != motion.PartHead || b.isShoulder(j.Parent, i) {
			bone.Group, bone.Side = Trunk, Skin
		}
		if j.Part == motion.PartFoot && b.part(j.Parent) == motion.PartFoot {
			bone.Over = 0.5
		}
		b.Limbs = append(b.Limbs, bone)
	}
	switch {
	case j.Part == motion.PartHead && !b.hasHeadAbove(i):
		b.head(i)
	case j.Part == motion.PartFoot && !leaf:
		b.foot(i)
	case leaf && j.Parent >= 0 && (j.Part == motion.PartHand || j.Part == motion.PartFinger || j.Part == motion.PartFoot):
		b.tip(i)
	}
}

// isTrunk tells whether a joint is one of the trunk: what hangs on it starts there.
func (b *builder) isTrunk(joint int) bool {
	return b.part(joint) == motion.PartRoot || b.part(joint) == motion.PartSpine
}

// isShoulder tells whether the limb between two joints is no arm yet: it starts at a joint that only lifts an arm.
func (b *builder) isShoulder(from, to int) bool {
	up := b.rig.Joints[from].Parent
	return b.part(from) == motion.PartArm && b.part(to) == motion.PartArm && up >= 0 && b.isTrunk(up) && b.armsBelow(to) > 1
}

// armsBelow counts the joints of an arm or a hand on the way down from a joint, at most two.
func (b *builder) armsBelow(joint int) int {
	for i := range b.rig.Joints {
		if b.rig.Joints[i].Parent == joint && (b.part(i) == motion.PartArm || b.part(i) == motion.PartHand) {
			return 1 + min(1, b.armsBelow(i))
		}
	}
	return 0
}

func (b *builder) part(joint int) string { return b.rig.Joints[joint].Part }

// isLeaf tells whether nothing that is drawn hangs on a joint.
func (b *builder) isLeaf(joint int) bool {
	for i := range b.rig.Joints {
		if b.rig.Joints[i].Parent == joint {
			return false
		}
	}
	return true
}

func (b *builder) hasHeadAbove(joint int) bool {
	for i := range b.rig.Joints {
		if b.rig.Joints[i].Parent == joint && b.part(i) == motion.PartHead {
			return true
		}
	}
	return false
}

// side is the side of the body on which a joint is: by its name or pair, and by where it rests, since +x is their left.
func (b *builder) side(joint int) Ink {
	name := b.rig.Joints[joint].Name
	switch {
	case strings.HasSuffix(name, ".left"):
		return Left
	case strings.HasSuffix(name, ".right"):
		return Right
	case b.rig.MirroredJoint(joint) == joint:
		return Skin
	}
	switch x := b.rest[joint].Position()[0]; {
	case x > 0:
		return Left
	case x < 0:
		return Right
	}
	return Skin
}

// thickness is that of the limb between two joints, at both ends.
func (b *builder) thickness(from, to int) (r0, r1 float64) {
	up, own := b.part(from), b.part(to)
	chainRoot := up != own
	switch own {
	case motion.PartRoot:
		return thickHips, thickHips
	case motion.PartSpine:
		if chainRoot {
			return thickHips, thickSpine
		}
		if b.hasHeadAbove(to) && !b.carriesArms(to) {
			return thickChest * 0.9, thickNeck // the neck counts as spine
		}
		return thickSpine, thickChest
	case motion.PartHead:
		return thickNeck, thickNeck
	case motion.PartArm:
		if up != motion.PartArm {
			return 0.042, 0.034 // from the chest to the shoulder
		}
		if b.part(b.rig.Joints[from].Parent) != motion.PartArm {
			return 0.034, 0.029
		}
		return thickUpperArm, thickLowerArm
	case motion.PartHand:
		return thickLowerArm, thickWrist
	case motion.PartFinger:
		return thickHand, thickFingers
	case motion.PartLeg:
		if up != motion.PartLeg {
			return 0.052, 0.046
		}
		return thickThigh, thickKnee
	case motion.PartFoot:
		if up == motion.PartFoot {
			return thickAnkle, thickToe
		}
		return thickKnee, thickAnkle
	}
	return thickElse, thickElse
}

func (b *builder) carriesArms(joint int) bool {
	for i := range b.rig.Joints {
		if b.rig.Joints[i].Parent == joint && b.part(i) == motion.PartArm {
			return true
		}
	}
	return false
}

// spot adds a point that lies so many cm from a joint at rest, along the world's axes, and gives its index.
func (b *builder) spot(name string, joint int, offset [3]float64) int {
	at := b.rest[joint].Position()
	for axis := range at {
		at[axis] += offset[axis]
	}
	b.Points = append(b.Points, Spot{name, joint, b.rest[joint].Undo(at)})
	return len(b.Points) - 1
}

// head adds an egg over the joint on which the head turns, and a nose, so that one sees where it looks.
func (b *builder) head(joint int) {
	h := b.Height
	tall := h - b.rest[joint].Position()[1]
	if tall < 0.07*h || tall > 0.2*h {
		tall = 0.12 * h
	}
	crown := b.spot("crown", joint, [3]float64{0, 0.62 * tall, 0.05 * tall})
	chin := b.spot("chin", joint, [3]float64{0, 0.17 * tall, 0.14 * tall})
	b.Limbs = append(b.Limbs, Bone{From: crown, To: chin, R0: 0.40 * tall, R1: 0.27 * tall, Side: Skin, Group: Head, Over: 2})
	bridge := b.spot("bridge", joint, [3]float64{0, 0.50 * tall, 0.42 * tall})
	nose := b.spot("nose", joint, [3]float64{0, 0.34 * tall, 0.56 * tall})
	b.Limbs = append(b.Limbs, Bone{From: bridge, To: nose, R0: 0.05 * tall, R1: 0.075 * tall, Side: Skin, Group: Head, Over: 2})
}

// eye adds an eye, which shows only when it looks toward whoever looks.
func (b *builder) eye(joint int) {
	h := b.Height
	back, front := b.spot("eye", joint, [3]float64{0, 0, -0.027 * h}), b.spot("eye", joint, [3]float64{0, 0, -0.015 * h})
	b.Limbs = append(b.Limbs, Bone{From: back, To: front, R0: 0.009 * h, R1: 0.009 * h, Side: Paper, Eye: true})
}

// ribs adds a rib cage for a joint that a breath swells.
func (b *builder) ribs(joint int) {
	side := 0.04 * b.Height
	left, right := b.spot("ribs", joint, [3]float64{side, 0, 0}), b.spot("ribs", joint, [3]float64{-side, 0, 0})
	b.Limbs = append(b.Limbs, Bone{From: left, To: right, R0: 0.058 * b.Height, R1: 0.058 * b.Height, Side: Skin, Group: Trunk})
}

// foot adds a heel on the ground below an ankle.
func (b *builder) foot(joint int) {
	h, toe := b.Height, -1
	for i := range b.rig.Joints {
		if b.rig.Joints[i].Parent == joint {
			toe = i
		}
	}
	drop := b.rest[joint].Position()[1] - thickToe*h
	if drop < 0 || drop > 0.12*h {
		drop = 0.03 * h
	}
	heel := b.spot("heel", joint, [3]float64{0, -drop, -0.018 * h})
	side := b.side(joint)
	b.Limbs = append(b.Limbs,
		Bone{From: joint, To: heel, R0: thickAnkle * h, R1: 0.014 * h, Side: side, Over: 0.5},
		Bone{From: heel, To: toe, R0: 0.014 * h, R1: thickToe * h, Side: side, Over: 0.5})
	foot := Foot{Chain: -1, Joint: joint, Heel: heel, Toe: toe}
	for i := range b.rig.Chains {
		if b.rig.Chains[i].End == joint {
			foot.Chain = i
		}
	}
	b.Feet = append(b.Feet, foot)
}

// tip goes on from a last joint, since fingers and toes end behind it.
func (b *builder) tip(joint int) {
	h, parent := b.Height, b.rig.Joints[joint].Parent
	from, to := b.rest[parent].Position(), b.rest[joint].Position()
	way := [3]float64{to[0] - from[0], to[1] - from[1], to[2] - from[2]}
	long := math.Sqrt(way[0]*way[0] + way[1]*way[1] + way[2]*way[2])
	if long == 0 {
		return
	}
	reach, r := 0.04*h, thickFingers*h
	switch b.part(joint) {
	case motion.PartFoot:
		reach, r = 0.02*h, thickToe*h
		way[1] = 0 // a sole is level
	case motion.PartHand:
		reach = 0.055 * h
	}
	for axis := range way {
		way[axis] *= reach / long
	}
	end := b.spot("tip", joint, way)
	b.Limbs = append(b.Limbs, Bone{From: joint, To: end, R0: r * 1.05, R1: r * 0.8, Side: b.side(joint), Over: 0.5})
}

// Places gives where a body's spots are in the world, in cm, for the joints' places, in dst where that is long enough.
func (b *Body) Places(world []motion.Transform, dst [][3]float64) [][3]float64 {
	dst = dst[:0]
	for i := range b.Points {
		spot := &b.Points[i]
		dst = append(dst, world[spot.Joint].Apply(spot.Local))
	}
	return dst
}
