package motion

// Moved tells of every joint whether its place, its turn and its size in its parent's frame change from sample to sample,
// by [DrivesMove], [DrivesTurn] and [DrivesScale]. The joints of a chain that is solved at any time count as turning.
func (s *Sampled) Moved() [][3]bool {
	m := s.Motion
	moved := make([][3]bool, len(m.Rig.Joints))
	for i := range m.Rig.Channels {
		least, most := s.Range(i)
		if most-least <= 1e-9*max(1, most, -least) {
			continue
		}
		for _, d := range m.Rig.Channels[i].Drives {
			if d.Joint >= 0 && d.Kind <= DrivesScale && d.Gain != 0 {
				moved[d.Joint][d.Kind] = true
			}
		}
	}
	solved := append([]bool(nil), m.solved...)
	for i := range m.Plants {
		if chain := m.Plants[i].Chain; chain >= 0 {
			solved[chain] = true
		}
	}
	for i, is := range solved {
		if is {
			c := &m.Rig.Chains[i]
			for _, joint := range [3]int{c.Root, c.Middle, c.End} {
				moved[joint][DrivesTurn] = true
			}
		}
	}
	return moved
}
