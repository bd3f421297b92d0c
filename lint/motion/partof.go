package motion

// PartOf returns the part of the body that a channel moves: the root where any joint that it drives is the root, or else
// the part of the first joint. A goal counts as the end of its chain. It is empty for a dial that moves no joint.
func (r *Rig) PartOf(d *Dial) string { return d.part }

func (r *Rig) partOf(d *Dial) string {
	part := ""
	for _, drive := range d.Drives {
		joint := drive.Joint
		if joint < 0 {
			chain := r.ChainIndex(drive.Goal)
			if chain < 0 {
				continue
			}
			joint = r.Chains[chain].End
		}
		if p := r.Joints[joint].Part; part == "" || p == PartRoot {
			part = p
		}
	}
	return part
}
