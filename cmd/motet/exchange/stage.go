package exchange

import (
	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// A stage places joints in the world, by the reels of a sheet or by tracks as a player would.
type stage struct {
	joints []motion.Joint
	rest   []transform
	still  []matrix // of the rest's turn
	reels  [][3]*reel
	heads  [][3]*head
	move   []vec3
	linear []matrix
}

func newStage(joints []motion.Joint) *stage {
	s := &stage{joints: joints, rest: make([]transform, len(joints)), still: make([]matrix, len(joints)), reels: make([][3]*reel, len(joints)), heads: make([][3]*head, len(joints)), move: make([]vec3, len(joints)), linear: make([]matrix, len(joints))}
	for i := range joints {
		s.rest[i] = restLocal(&joints[i])
		s.still[i] = s.rest[i].turn.matrix()
	}
	return s
}

// stand places everything at a moment of the grid, by reels, or at a time in seconds, by tracks.
func (s *stage) stand(moment int, seconds float64) {
	for i := range s.joints {
		own, turned := s.rest[i], false
		for p := moves; p <= scales; p++ {
			var v quat
			switch {
			case s.reels[i][p] != nil:
				v = s.reels[i][p].path[moment]
			case s.heads[i][p] != nil:
				v = s.heads[i][p].at(seconds)
			default:
				continue
			}
			own.set(p, v)
			turned = turned || p == turns
		}
		linear := s.still[i]
		if turned {
			linear = own.turn.matrix()
		}
		if own.scale != (vec3{1, 1, 1}) {
			linear = linear.columnsScaled(own.scale)
		}
		up := s.joints[i].Parent
		if up < 0 {
			s.move[i], s.linear[i] = own.move, linear
			continue
		}
		s.move[i], s.linear[i] = s.move[up].plus(s.linear[up].apply(own.move)), s.linear[up].times(linear)
	}
}

// set gives a transform one property.
func (t *transform) set(p property, v quat) {
	switch p {
	case moves:
		t.move = vec3{v[0], v[1], v[2]}
	case turns:
		t.turn = v
	default:
		t.scale = vec3{v[0], v[1], v[2]}
	}
}

// A head reads a track at rising times.
type head struct {
	track *track
	key   int // the last one that is not later
}

func (h *head) at(seconds float64) quat {
	times := h.track.times
	for h.key+1 < len(times) && times[h.key+1] <= seconds {
		h.key++
	}
	if seconds <= times[h.key] || h.key+1 == len(times) || h.track.kind == gltf.InterpolationStep {
		return h.track.key(h.key)
	}
	return h.track.between(h.key, h.key+1, seconds)
}
