package exchange

// RigTakes are takes over one rig, which one file can hold.
type RigTakes struct {
	// Name is the rig's, and a number behind it where another has that name, as file systems compare names.
	Name  string
	Takes []*Take
}

// ByRig puts takes together that have one rig, in the order in which the rigs come first. A file holds one skeleton: with
// several, players that find joints by their names, and imports, could not tell one figure's hips from another's.
func ByRig(takes []*Take) (out []RigTakes) {
	taken := map[string]string{}
next:
	for _, t := range takes {
		for i := range out {
			if sameRig(out[i].Takes[0].Motion.Rig, t.Motion.Rig) {
				out[i].Takes = append(out[i].Takes, t)
				continue next
			}
		}
		out = append(out, RigTakes{freeName(t.Motion.Rig.Name, taken), []*Take{t}})
	}
	return out
}
