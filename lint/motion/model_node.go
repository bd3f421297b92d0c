package motion

import (
	"math"
	"strconv"
	"strings"
)

// ModelNode is what the character's own file knows of a joint.
type ModelNode struct {
	Number int        // the node's index in the file
	Name   string     // the node's name there
	Scale  [3]float64 // the node's own scale at rest, which the rig folds into its centimetres
}

// Node reads the comment that an import leaves beside a joint (`# node 61 "Name" scale 0.01`). It is false where there is
// none; what somebody wrote by hand, and means something else, is no such comment.
func (j *Joint) Node() (ModelNode, bool) {
	if j.At.IsZero() {
		return ModelNode{}, false
	}
	line := &j.At.Block.Lines[j.At.Line]
	return readNode(line.Text[line.Comment.Start:line.Comment.End])
}

func readNode(comment string) (ModelNode, bool) {
	comment = strings.TrimSpace(strings.TrimPrefix(comment, "#"))
	rest, isNode := strings.CutPrefix(comment, "node ")
	number, rest, quotes := strings.Cut(rest, ` "`)
	index, err := strconv.Atoi(number)
	name, rest, closed := strings.Cut(rest, `"`)
	if !isNode || !quotes || !closed || err != nil || index < 0 {
		return ModelNode{}, false
	}
	node := ModelNode{Number: index, Name: name, Scale: [3]float64{1, 1, 1}}
	numbers, scaled := strings.CutPrefix(strings.TrimSpace(rest), "scale ")
	if !scaled {
		return node, true
	}
	var scale []float64
	for _, field := range strings.Fields(numbers) {
		x, err := strconv.ParseFloat(field, 64)
		if err != nil || x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
			return node, true
		}
		scale = append(scale, x)
	}
	switch len(scale) {
	case 1:
		node.Scale = [3]float64{scale[0], scale[0], scale[0]}
	case 3:
		node.Scale = [3]float64(scale)
	}
	return node, true
}
