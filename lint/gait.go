package lint

import (
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// steps tells whether the figure walks, runs or jumps: a foot travels by more than a twentieth of the figure's height in
// some direction, in the world and as seen from the root. Then the feet make the body sway and the arms swing, and it is
// no idle.
func (p *Pass) steps(s *motion.Sampled) bool {
	if p.walks == nil {
		walks := walks(s)
		p.walks = &walks
	}
	return *p.walks
}

func walks(s *motion.Sampled) bool {
	m := s.Motion
	rig := m.Rig
	root := slices.IndexFunc(rig.Joints, func(j motion.Joint) bool { return j.Part == motion.PartRoot })
	if root < 0 {
		return len(m.Sheet.Advance) > 0
	}
	least := 0.05 * rig.Height
	see := []int{root}
	for joint := range rig.Joints {
		if rig.Joints[joint].Part == motion.PartFoot && s.MayStray(joint, root) > least {
			see = append(see, joint)
		}
	}
	s.See(see...)
	for _, joint := range see[1:] {
		for axis := range 3 {
			foot, body := s.Place(joint, axis), s.Place(root, axis)
			if span(foot.Range()) > least && span(foot.Less(body).Range()) > least {
				return true
			}
		}
	}
	return len(m.Sheet.Advance) > 0
}

func span(least, most float64) float64 { return most - least }
