package motion

import "strings"

// Parts of the body, as the `part` column of a rig names them.
const (
	PartRoot   = "root"
	PartSpine  = "spine"
	PartHead   = "head"
	PartArm    = "arm"
	PartHand   = "hand"
	PartFinger = "finger"
	PartLeg    = "leg"
	PartFoot   = "foot"
	PartFace   = "face"
	PartEye    = "eye"
	PartLid    = "lid"
	PartOther  = "other"
)

// partWords are plain English words in joints' names that tell their part; the first that fits counts.
var partWords = []struct{ word, part string }{
	{"lid", PartLid},
	{"eye", PartEye},
	{"brow", PartFace},
	{"jaw", PartFace},
	{"lip", PartFace},
	{"cheek", PartFace},
	{"thumb", PartFinger},
	{"finger", PartFinger},
	{"index", PartFinger},
	{"pinky", PartFinger},
	{"toe", PartFoot},
	{"foot", PartFoot},
	{"ankle", PartFoot},
	{"thigh", PartLeg},
	{"shin", PartLeg},
	{"knee", PartLeg},
	{"leg", PartLeg},
	{"hand", PartHand},
	{"wrist", PartHand},
	{"forearm", PartArm},
	{"shoulder", PartArm},
	{"elbow", PartArm},
	{"arm", PartArm},
	{"head", PartHead},
	{"neck", PartHead},
	{"chest", PartSpine},
	{"spine", PartSpine},
	{"hips", PartRoot},
	{"pelvis", PartRoot},
}

// guessParts fills in the parts that the rig does not give: from words in the joints' names, from the chains, and from
// the place in the tree.
func guessParts(r *Rig) {
	for i := range r.Joints {
		j := &r.Joints[i]
		if j.Part != "" {
			continue
		}
		switch {
		case j.Parent < 0:
			j.Part = PartRoot
		case partByName(j.Name) != "":
			j.Part = partByName(j.Name)
		case partByChain(r, i) != "":
			j.Part = partByChain(r, i)
		default:
			j.Part = partByPlace(r, i)
		}
	}
}

func partByName(name string) string {
	lower := strings.ToLower(name)
	for _, w := range partWords {
		if strings.Contains(lower, w.word) {
			return w.part
		}
	}
	return ""
}

// partByChain takes a chain whose end rests below the root joint for a leg, and any other for an arm.
func partByChain(r *Rig, joint int) string {
	world := r.RestWorld()
	for i := range r.Chains {
		c := &r.Chains[i]
		limb, end := PartArm, PartHand
		if world[c.End].Position()[1] < world[0].Position()[1] {
			limb, end = PartLeg, PartFoot
		}
		switch joint {
		case c.Root, c.Middle:
			return limb
		case c.End:
			return end
		}
	}
	return ""
}

// partByPlace goes by the joint above: what hangs on a hand is a finger, what hangs on a head is a face.
func partByPlace(r *Rig, joint int) string {
	switch r.Joints[r.Joints[joint].Parent].Part {
	case PartHand, PartFinger:
		return PartFinger
	case PartFoot:
		return PartFoot
	case PartHead, PartFace:
		return PartFace
	case PartRoot, PartSpine:
		return PartSpine
	}
	return PartOther
}
