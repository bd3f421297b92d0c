package exchange

import (
	"github.com/motet-sheet/motet/lint/motion"
)

// holdEnds looks for ends of the rig's chains which the base leaves free and the clip holds all the time, in the world or on
// a joint, and plants them: no change of a limb's turns could say that.
func (b *basing) holdEnds(m *motion.Motion) {
	reach := stillShare * b.options.Within.WorldCM
	length := number(m.Sheet.Length.Float(), 6) + "f"
	if beats := m.Sheet.Beats(m.Sheet.Length); beats.IsWhole() {
		length = beats.String() + "b"
	}
	for i := range m.Rig.Chains {
		c := &m.Rig.Chains[i]
		if solvesChain(m, i) {
			continue
		}
		own := map[int]bool{c.Root: true}
		for j := c.Root + 1; j < len(m.Rig.Joints); j++ {
			own[j] = own[m.Rig.Joints[j].Parent]
		}
		best, on := reach*2, -2
		for j := -1; j < len(m.Rig.Joints); j++ {
			if own[j] {
				continue
			}
			stood, moved := b.footage.spreadOf(c.End, j), b.footage.spreadOf(c.Root, j)
			// As in an import of the clip alone: a joint is no better than one that carries it stiffly.
			if moved >= leastCarriedCM && moved >= carriedTimes*stood && (on == -2 && stood <= best || stood+1e-4 < 0.8*best) {
				best, on = stood, j
			}
		}
		switch {
		case on >= 0:
			b.plants = append(b.plants, c.Goal+" 0"+length[len(length)-1:]+".."+length+" on "+m.Rig.Joints[on].Name)
		case on == -1:
			b.plants = append(b.plants, c.Goal+" 0"+length[len(length)-1:]+".."+length)
		}
	}
}

// spreadOf is the diagonal of the box of a joint's places over all moments, in the world or in the frame of another.
func (f *footage) spreadOf(joint, on int) float64 {
	places := make([]vec3, len(f.at))
	for k := range places {
		places[k] = f.place[k][joint]
		if on >= 0 {
			at := stand{f.place[k][on], f.linear[k][on]}
			places[k] = at.undo(places[k])
		}
	}
	return sizeOf(places)
}
