package exchange

import (
	"fmt"

	"github.com/motet-sheet/motet/lint/motion"
)

// A model is what the character's own file knows of each joint of a rig: the node's name, its number, and the scale that
// the rig folds into its centimetres.
type model []modelNode

type modelNode struct {
	// number is the node's index in the file that the rig was read from, -1 where the rig does not say.
	number int
	name   string
	scale  vec3
	// fold is how many centimetres of the rig one unit of the node's translation is, axis by axis: a metre, and the
	// scales that its ancestors have at rest.
	fold vec3
}

// modelOf reads the comments that an import leaves beside a rig's joints (`# node 61 "Name" scale 0.01`). A joint
// without one is a node of its own name without a scale.
func modelOf(rig *motion.Rig) model {
	out := make(model, len(rig.Joints))
	for i := range rig.Joints {
		j, n := &rig.Joints[i], &out[i]
		*n = modelNode{number: -1, name: j.Name, scale: vec3{1, 1, 1}, fold: vec3{100, 100, 100}}
		if node, ok := j.Node(); ok {
			n.number, n.name, n.scale = node.Number, node.Name, node.Scale
		}
		if j.Parent >= 0 {
			up := &out[j.Parent]
			n.fold = up.fold.scaled(up.scale)
		}
	}
	return out
}

// orderOf is a joint's order of turns.
func orderOf(j *motion.Joint) order {
	var o order
	for i := range o {
		o[i] = int(j.Order[i] - 'x')
	}
	return o
}

// restLocal is a joint's own transform at rest, in centimetres.
func restLocal(j *motion.Joint) transform {
	return transform{move: vec3(j.Rest), turn: orderOf(j).quat(vec3(j.RestTurn)), scale: vec3{1, 1, 1}}
}

// levers are how far below each joint, along the bones, the farthest joint hangs that it carries, in centimetres.
func levers(rig *motion.Rig) []float64 {
	out := make([]float64, len(rig.Joints))
	for i := len(rig.Joints) - 1; i >= 0; i-- {
		if up := rig.Joints[i].Parent; up >= 0 {
			out[up] = max(out[up], out[i]+vec3(rig.Joints[i].Rest).length())
		}
	}
	return out
}

// checkExportable tells why a sheet has no motion to write out.
func checkExportable(m *motion.Motion) error {
	switch {
	case m.Sheet == nil:
		return fmt.Errorf("%s has no sheet; name a file with one", m.File.Path)
	case !m.Whole():
		return fmt.Errorf("%s: the sheet has no rig or no length; `motet check` says what is missing", m.File.Path)
	case len(m.Rig.Joints) == 0:
		return fmt.Errorf("%s: the rig `%s` has no joints, so there are no nodes to move; add a `joints` table", m.File.Path, m.Rig.Name)
	}
	return nil
}
