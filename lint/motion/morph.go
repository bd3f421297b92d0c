package motion

import (
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// MorphTarget is a shape of the character's meshes that dials blend in: a morph target of glTF 2.0 (ISO/IEC 12113), whose
// weight is 0 where nothing of it shows and 1 where all of it does.
type MorphTarget struct {
	Word   string      // as the rig's `drives` names it behind `morph.`
	Target ModelTarget // what it is called in the character's file
	At     grammar.Ref // the first row that names it
}

// ModelTarget is what the character's own file calls a morph target.
type ModelTarget struct {
	// Name is the target's name, by a mesh's `extras.targetNames` (glTF 2.0, an implementation note on morph targets). A
	// target without one is called by its place among its mesh's, from 0 on.
	Name string
	// On says that only the targets of one node's mesh are meant; otherwise those of all meshes that have one so called.
	On       bool
	Node     int // the node's index in the file
	NodeName string
}

// MorphDrive is a morph target that a channel blends in.
type MorphDrive struct {
	Target int // index into Rig.Morphs
	Gain   float64
}

// MorphIndex finds a morph target by its word, -1 where no channel drives one so called.
func (r *Rig) MorphIndex(word string) int {
	for i := range r.Morphs {
		if r.Morphs[i].Word == word {
			return i
		}
	}
	return -1
}

// Weights gives the weight of every morph target that the rig knows, for the channels' values, one a channel in the rig's
// order, in dst where that is long enough. A weight is the sum of gain × value / 100 of the channels that drive it. A
// channel that moves a joint too counts by its departure from rest, as it does there.
func (r *Rig) Weights(values, dst []float64) []float64 {
	dst = append(dst[:0], make([]float64, len(r.Morphs))...)
	for i := range r.Channels {
		dial := &r.Channels[i]
		for _, m := range dial.Morphs {
			dst[m.Target] += m.Gain * (values[i] - dial.morphZero()) / 100
		}
	}
	return dst
}

// RestWeights are the weights with every channel at rest.
func (r *Rig) RestWeights() []float64 {
	rest := make([]float64, len(r.Channels))
	for i := range r.Channels {
		rest[i] = r.Channels[i].Rest
	}
	return r.Weights(rest, nil)
}

// morphZero is the value at which the dial blends nothing in.
func (d *Dial) morphZero() float64 {
	if len(d.Drives) == 0 {
		return 0
	}
	return d.Rest
}

// WeightOf is what the channel gives to the weight of each target that it drives, for a value and a gain of 1.
func (d *Dial) WeightOf(value float64) float64 { return (value - d.morphZero()) / 100 }

// morph reads a row whose channel drives a morph target; it is false for any other row.
func (b *rigBuilder) morph(row tableRow) (MorphDrive, bool) {
	word, ok := grammar.MorphOf(row.text("drives"))
	if !ok {
		return MorphDrive{}, false
	}
	if row.name("joint") != "" {
		b.add(ruleUnknownName, row.ref("joint"), "`%s` drives a morph target, which belongs to no joint; write . under `joint`", row.name("channel"))
	}
	target, told := row.target()
	at := b.MorphIndex(word)
	if at < 0 {
		at = len(b.Morphs)
		b.Morphs = append(b.Morphs, MorphTarget{Word: word, Target: ModelTarget{Name: word, Node: -1}, At: row.ref("drives")})
	}
	if told && b.Morphs[at].Target.Name == word && !b.Morphs[at].Target.On {
		b.Morphs[at].Target = target
	}
	return MorphDrive{Target: at, Gain: row.number("gain", 1)}, true
}

// target reads the comment that an import leaves behind a row (`# target "Mouth Smile"`, `# target "smile" on node 5
// "Teeth"`). It is false where there is none.
func (r tableRow) target() (ModelTarget, bool) {
	line := &r.block.Lines[r.line]
	return readTarget(line.Text[line.Comment.Start:line.Comment.End])
}

func readTarget(comment string) (ModelTarget, bool) {
	comment = strings.TrimSpace(strings.TrimPrefix(comment, "#"))
	rest, is := strings.CutPrefix(comment, `target "`)
	name, rest, closed := strings.Cut(rest, `"`)
	if !is || !closed || name == "" {
		return ModelTarget{}, false
	}
	t := ModelTarget{Name: name, Node: -1}
	rest, on := strings.CutPrefix(rest, " on ")
	if node, ok := readNode(rest); on && ok {
		t.On, t.Node, t.NodeName = true, node.Number, node.Name
	}
	return t, true
}

// TargetName is what a mesh's target is called: by its name, or without one by its place.
func TargetName(names []string, index int) string {
	if index < len(names) && names[index] != "" {
		return names[index]
	}
	return strconv.Itoa(index)
}
