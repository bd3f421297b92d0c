package exchange

import (
	"fmt"
	"math"

	"github.com/qmuntal/gltf"
)

// readNodes checks the node tree: children exist, each has one parent, nothing leads
// back to itself, and every transform is finite and can be taken apart.
func readNodes(file *gltf.Document) ([]node, error) {
	if len(file.Nodes) > mostNodes {
		return nil, fmt.Errorf("the file has %d nodes, more than the %d that are read; export the character alone", len(file.Nodes), mostNodes)
	}
	nodes := make([]node, len(file.Nodes))
	for i := range nodes {
		nodes[i].parent = -1
	}
	for i, from := range file.Nodes {
		own, err := ownTransform(from)
		if err != nil {
			return nil, fmt.Errorf("node %d %q: %w", i, from.Name, err)
		}
		n := &nodes[i]
		n.name, n.own, n.children = from.Name, own, from.Children
		n.drawn = from.Mesh != nil || from.Camera != nil
		for _, child := range from.Children {
			if child < 0 || child >= len(nodes) {
				return nil, fmt.Errorf("node %d %q has child %d, but the file has %d nodes; export it again", i, from.Name, child, len(nodes))
			}
			if nodes[child].parent >= 0 {
				return nil, fmt.Errorf("node %d %q is a child of both node %d and node %d; export the file again with each node under one parent", child, file.Nodes[child].Name, nodes[child].parent, i)
			}
			nodes[child].parent = i
		}
	}
	return nodes, refuseRings(nodes)
}

// refuseRings follows every node up to a root; each has one parent, so a walk longer than
// the number of nodes can only be going round.
func refuseRings(nodes []node) error {
	safe := make([]bool, len(nodes))
	for i := range nodes {
		walked := 0
		at := i
		for at >= 0 && !safe[at] {
			if walked++; walked > len(nodes) {
				return fmt.Errorf("node %d %q is its own ancestor; export the file again with a tree of nodes", i, nodes[i].name)
			}
			at = nodes[at].parent
		}
		for at = i; at >= 0 && !safe[at]; at = nodes[at].parent {
			safe[at] = true
		}
	}
	return nil
}

// label is a node's name for a report, or its number when it has none.
func (d *Document) label(n int) string {
	if name := d.nodes[n].name; name != "" {
		return name
	}
	return fmt.Sprintf("node %d", n)
}

func ownTransform(from *gltf.Node) (transform, error) {
	if m := from.MatrixOrDefault(); m != gltf.DefaultMatrix {
		return takeApart(m)
	}
	own := transform{
		move:  from.TranslationOrDefault(),
		turn:  from.RotationOrDefault(),
		scale: from.ScaleOrDefault(),
	}
	for _, numbers := range [][]float64{own.move[:], own.turn[:], own.scale[:]} {
		for _, x := range numbers {
			if !finite(x) || math.Abs(x) > largestCoordinate {
				return own, fmt.Errorf("its transform holds %g, which is beyond anything; export the file again", x)
			}
		}
	}
	length := math.Sqrt(own.turn.dot(own.turn))
	if length < 1e-6 {
		return own, fmt.Errorf("its rotation %v has no length; export the file again", own.turn)
	}
	own.turn = own.turn.times(1 / length)
	return own, nil
}

// takeApart splits a column-major 4 by 4 matrix into move, turn and scale. A matrix that
// shears has no such parts and is refused: glTF 2.0 requires that it can be decomposed.
func takeApart(m [16]float64) (transform, error) {
	for _, x := range m {
		if !finite(x) || math.Abs(x) > largestCoordinate {
			return transform{}, fmt.Errorf("its matrix holds %g, which is beyond anything; export the file again", x)
		}
	}
	var linear matrix
	for row := range 3 {
		for column := range 3 {
			linear[row][column] = m[column*4+row]
		}
	}
	scale := vec3{linear.column(0).length(), linear.column(1).length(), linear.column(2).length()}
	if scale[0] < 1e-12 || scale[1] < 1e-12 || scale[2] < 1e-12 {
		return transform{}, fmt.Errorf("its matrix flattens an axis to nothing; export the node as translation, rotation and scale")
	}
	if linear.determinant() < 0 {
		scale[0] = -scale[0]
	}
	pure := linear.columnsScaled(vec3{1 / scale[0], 1 / scale[1], 1 / scale[2]})
	for i := range 3 {
		if math.Abs(pure.column(i).dot(pure.column((i+1)%3))) > 1e-3 {
			return transform{}, fmt.Errorf("its matrix shears; export the node as translation, rotation and scale")
		}
	}
	return transform{move: vec3{m[12], m[13], m[14]}, turn: pure.quat(), scale: scale}, nil
}
