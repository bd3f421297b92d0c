package exchange

import (
	"math"
	"slices"
)

// A facing is the figure's own directions in the world, along axes: where its left, its
// up and its front are. glTF 2.0 says that the front of an asset faces +Z, so its left
// is +X; pairs of joints that say otherwise are believed.
type facing struct {
	left, up, ahead vec3
}

// nameJoints names all joints of a skeleton, finds the pairs among them and guesses
// which part of the body each is. It returns the figure's facing.
func (f *figure) nameJoints() facing {
	joints := f.skeleton.joints
	raw := make([]string, len(joints))
	for i := range joints {
		raw[i] = f.document.nodes[joints[i].node].name
	}
	spelled := spell(raw)
	place := f.restPlaces()
	front := facingOf(spelled, place)
	f.pairUp(spelled, place, front)
	taken := map[string]bool{}
	for i := range joints {
		j := &joints[i]
		j.part = partOf(spelled[i].words)
		if j.name != "" {
			continue
		}
		if j.mate < 0 {
			// A side that no mate confirms stays a word of the name.
			words := slices.Clone(spelled[i].words)
			if spelled[i].side != middle {
				words = append([]string{[...]string{"", "left", "right"}[spelled[i].side]}, words...)
			}
			j.name = unique(plainWord(spelling{words: words}.base(), "joint"), "", taken)
			continue
		}
		base := plainWord(spelled[i].base(), "joint")
		mate := &joints[j.mate]
		for n := 2; taken[base+".left"] || taken[base+".right"]; n++ {
			base = numbered(plainWord(spelled[i].base(), "joint"), n)
		}
		j.name, mate.name = base+j.side.suffix(), base+mate.side.suffix()
		taken[j.name], taken[mate.name] = true, true
	}
	f.fillParts()
	return front
}

// pairUp finds for each joint that its name puts on the left the one that its name puts on
// the right, and keeps the pair if the two lie as in a mirror: in the world at rest, or, for
// a figure that rests in a lopsided pose, as far from parents that are one or a pair.
func (f *figure) pairUp(spelled []spelling, place []vec3, front facing) {
	joints := f.skeleton.joints
	named := map[string][]int{}
	for i := range joints {
		joints[i].mate = -1
		if spelled[i].side != middle {
			key := spelled[i].base() + spelled[i].side.suffix()
			named[key] = append(named[key], i)
		}
	}
	height := heightOf(place)
	for i := range joints {
		if spelled[i].side == middle || joints[i].mate >= 0 {
			continue
		}
		for _, k := range named[spelled[i].base()+spelled[i].side.opposite().suffix()] {
			if joints[k].mate >= 0 || !f.mirrors(i, k, place, front, height) {
				continue
			}
			joints[i].mate, joints[k].mate = k, i
			joints[i].side, joints[k].side = spelled[i].side, spelled[k].side
			break
		}
	}
}

func (f *figure) mirrors(i, k int, place []vec3, front facing, height float64) bool {
	if mirrored(place[i], front).to(place[k]) <= 0.05*height {
		return true
	}
	joints := f.skeleton.joints
	a, b := joints[i].parent, joints[k].parent
	if a < 0 || b < 0 || a != b && joints[a].mate != b {
		return false
	}
	la, lb := place[i].to(place[a]), place[k].to(place[b])
	return math.Abs(la-lb) <= 0.02*math.Max(la, lb)+1e-3*height
}

// mirrored is a point on the other side of the figure's middle plane through the origin.
func mirrored(p vec3, front facing) vec3 {
	return p.minus(front.left.times(2 * p.dot(front.left)))
}

// facingOf looks from the joints named right to their namesakes named left: the axis
// along which they mostly lie is the figure's left.
func facingOf(spelled []spelling, place []vec3) facing {
	rights := map[string]int{}
	for i, s := range spelled {
		if s.side == right {
			rights[s.base()] = i
		}
	}
	var sum vec3
	for i, s := range spelled {
		if k, found := rights[s.base()]; found && s.side == left {
			sum = sum.plus(place[i].minus(place[k]))
		}
	}
	out := facing{left: vec3{1, 0, 0}, up: vec3{0, 1, 0}, ahead: vec3{0, 0, 1}}
	if math.Abs(sum[0]) >= math.Abs(sum[2]) {
		if sum[0] < 0 {
			out.left[0] = -1
		}
	} else {
		out.left = vec3{0, 0, math.Copysign(1, sum[2])}
	}
	out.ahead = out.left.cross(out.up)
	return out
}

func heightOf(place []vec3) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range place {
		low, high = math.Min(low, p[1]), math.Max(high, p[1])
	}
	return math.Max(high-low, 1e-6)
}

// fillParts gives joints whose names say nothing the part of what carries them, and the
// first joint whose own motion moves the figure through the world the part root.
func (f *figure) fillParts() {
	joints := f.skeleton.joints
	for i := range joints {
		j := &joints[i]
		if j.part != "" {
			continue
		}
		j.part = "other"
		if j.parent >= 0 && joints[j.parent].part != "root" {
			j.part = joints[j.parent].part
		}
	}
	if !slices.ContainsFunc(joints, func(j joint) bool { return j.part == "root" }) {
		for i := range joints {
			if !joints[i].stays[moves] && len(f.document.nodes[joints[i].node].children) > 0 {
				joints[i].part = "root"
				break
			}
		}
	}
	// One root: what is below another root only bears its name.
	seen := false
	for i := range joints {
		if joints[i].part == "root" {
			if seen {
				joints[i].part = "other"
			}
			seen = true
		}
	}
}
