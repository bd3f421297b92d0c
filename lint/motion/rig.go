package motion

import (
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// Rig is the controls that sheets move: joints, and the channels that drive them.
type Rig struct {
	Name     string
	File     *grammar.File
	At       grammar.Ref
	Height   float64    // cm
	Breathes [2]float64 // breaths a minute at rest
	Model    string     // the character's file as a path from the project's folder, with slashes; empty for none
	Joints   []Joint    // parents before children
	Channels []Dial
	Chains   []Chain
	Morphs   []MorphTarget    // in the order in which the channels name them
	Poses    []*grammar.Block // written under the rig, for all its sheets
	Problems []Problem        // found in the rig's own file

	joints   map[string]int
	dials    map[string]int
	controls map[string][]int // channels of each control, in order
	pairs    map[string]string
	origin   *rigOrigin
	rest     []Transform // what RestWorld says, nil until all joints are known
	ends     []int       // what EndJoints says

	goals map[string]bool // that rows of chains have, also where no chain could be made of them
}

// Joint is one joint at rest. Its transform in its parent's frame is translate(Rest) · turn(RestTurn) · scale(1), and
// channels add to Rest and RestTurn and multiply the scale.
type Joint struct {
	Name     string
	Parent   int        // index into Rig.Joints, -1 for none
	Rest     [3]float64 // cm
	RestTurn [3]float64 // degrees about x, y, z
	Order    Order
	Part     string
	At       grammar.Ref

	astray bool // it names a joint that is not there to be on, and is on another one in its place
}

// Order is the order in which a joint's turns apply: xyz means R = Rx·Ry·Rz, so z turns first, in the joint's own frame.
type Order string

// Dial is one channel of a rig.
type Dial struct {
	Path     string // control/channel, as it is compared
	Control  string
	Name     string
	Unit     string // cm, deg or %
	HasRange bool
	part     string // of the body, as PartOf says
	Range    [2]float64
	Flips    bool   // its sign flips when its control is mirrored
	Positive string // which way is plus, in words
	Rest     float64
	Drives   []Drive      // none for a dial without a joint
	Morphs   []MorphDrive // none for a dial that blends no morph target in
	At       grammar.Ref
}

// Drive is one thing that a channel moves.
type Drive struct {
	Kind  DriveKind
	Axes  [3]bool
	Joint int // index into Rig.Joints; -1 for a goal
	Goal  string
	Gain  float64
}

// DriveKind says what a channel moves.
type DriveKind uint8

// The kinds of drives.
const (
	DrivesMove   DriveKind = iota // a joint's offset, cm
	DrivesTurn                    // a joint's turn, degrees
	DrivesScale                   // a joint's size, per cent of rest
	DrivesGoal                    // a chain's goal, cm
	DrivesSwivel                  // the turn of a chain's plane, degrees
)

// Chain is a limb that can be solved from where its end shall be.
type Chain struct {
	Goal              string
	Root, Middle, End int // indices into Rig.Joints
	Bends             [3]float64
	At                grammar.Ref
}

// The breaths a minute of a resting adult (StatPearls, Vital Sign Assessment; from memory).
var restingBreaths = [2]float64{12, 20}

// JointIndex finds a joint by name, -1 where there is none.
func (r *Rig) JointIndex(name string) int {
	if i, ok := r.joints[name]; ok {
		return i
	}
	return -1
}

// DialIndex finds a channel by its path, -1 where there is none.
func (r *Rig) DialIndex(path string) int {
	if i, ok := r.dials[path]; ok {
		return i
	}
	return -1
}

// ControlChannels gives the indices of a control's channels, none where the rig has no such control.
func (r *Rig) ControlChannels(control string) []int { return r.controls[control] }

// Controls lists the controls in the order in which the rig names their first channel.
func (r *Rig) Controls() []string {
	var out []string
	for i := range r.Channels {
		if c := r.Channels[i].Control; r.controls[c][0] == i {
			out = append(out, c)
		}
	}
	return out
}

// Mirrored is the control on the other side, or the control itself where it has none.
func (r *Rig) Mirrored(control string) string {
	if other, ok := r.pairs[control]; ok {
		return other
	}
	return control
}

func (r *Rig) channelNames(control string) []string {
	var out []string
	for _, i := range r.controls[control] {
		out = append(out, r.Channels[i].Name)
	}
	return out
}

// Rig builds the rig of a file, or nil where the file has none. What is wrong with it stands in its Problems.
func (p *Project) Rig(file *grammar.File) *Rig {
	if file == nil || file.First(grammar.RigBlock) == nil {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if rig, ok := p.rigs[file]; ok {
		return rig
	}
	rig := p.earlier.rig(file)
	if rig == nil {
		rig = buildRig(file)
	}
	p.rigs[file] = rig
	return rig
}

// Unread gives the lines about the rig that do not parse, so that something is lacking in it. They are not among its
// Problems.
func (r *Rig) Unread() (out []Problem) {
	about := true
	for _, b := range r.File.Blocks {
		switch b.Kind {
		case grammar.SheetBlock, grammar.FamilyBlock:
			about = false
		case grammar.RigBlock:
			about = true
		default:
		}
		if b.Plain {
			continue
		}
		for i := range b.Lines {
			if fault := b.Lines[i].Fault; about && fault != nil && !fault.Note {
				out = append(out, Problem{Rule: "syntax", At: b.Ref(i, fault.Span), Message: fault.Message})
			}
		}
	}
	return out
}

type rigBuilder struct {
	*Rig
	problems
}

func buildRig(file *grammar.File) *Rig {
	first := file.First(grammar.RigBlock)
	if first == nil {
		return nil
	}
	b := rigBuilder{Rig: &Rig{
		File: file, Breathes: restingBreaths, At: first.RefLine(first.Open),
		joints: map[string]int{}, dials: map[string]int{}, controls: map[string][]int{}, pairs: map[string]string{},
		origin: new(rigOrigin), goals: map[string]bool{},
	}}
	if opener, ok := first.Opener.(*grammar.RigLine); ok {
		b.Name = opener.Name.Key()
	}
	b.header(first)
	blocks := owned(file, grammar.RigBlock)
	for _, kind := range []grammar.BlockKind{grammar.JointsBlock, grammar.ChainsBlock, grammar.ChannelsBlock, grammar.PairsBlock} {
		for _, block := range blocks {
			if block.Kind == kind {
				b.table(block)
			}
		}
	}
	for _, block := range blocks {
		if block.Kind == grammar.PoseBlock {
			b.Poses = append(b.Poses, block)
		}
	}
	b.pairByName()
	b.finish()
	b.Rig.Problems = b.problems.list
	return b.Rig
}

// owned gives the blocks that belong to a file's sheet or rig: those behind its line, up to the other one's. Those of a second
// sheet or rig belong to neither: it has to move to another file, and what it says there is no fault here.
func owned(file *grammar.File, owner grammar.BlockKind) []*grammar.Block {
	var out []*grammar.Block
	mine := false
	first := file.First(owner)
	for _, b := range file.Blocks {
		switch b.Kind {
		case grammar.SheetBlock, grammar.RigBlock, grammar.FamilyBlock:
			mine = b == first
		case grammar.HouseBlock, grammar.Preamble, grammar.UnknownBlock:
		default:
			if mine {
				out = append(out, b)
			}
		}
	}
	return out
}

func (b *rigBuilder) header(block *grammar.Block) {
	seen := map[string]int{}
	for i, stmt := range block.Entries() {
		b.once(block, i, seen)
		switch line := stmt.(type) {
		case *grammar.HeightLine:
			b.Height = line.Height.Float()
		case *grammar.BreathesLine:
			from, to, _, _ := line.Rate.Numbers()
			b.Breathes = [2]float64{from, to}
		case *grammar.ModelLine:
			// A file that can't be meant is as good as none: nothing that a sheet says rests on it.
			if target, reason := linkedPath(b.File.Path, line.File.Text()); reason == "" {
				b.Model = target
			}
		}
	}
}

// once reports a header line that stands twice.
func (p *problems) once(block *grammar.Block, line int, seen map[string]int) {
	word := block.Lines[line].FirstWord()
	if before, twice := seen[word]; twice {
		problem := p.add(ruleRepeatedName, block.RefLine(line), "`%s` is already given above; leave one of the two out", word)
		problem.Related = []Related{{block.RefLine(before), "the first one"}}
		return
	}
	seen[word] = line
}

func (b *rigBuilder) table(block *grammar.Block) {
	t := tableOf(block)
	for i := range block.Rows() {
		row := t.row(i)
		switch block.Kind {
		case grammar.JointsBlock:
			b.joint(row)
		case grammar.ChainsBlock:
			b.chain(row)
		case grammar.ChannelsBlock:
			b.channel(row)
		case grammar.PairsBlock:
			b.pair(row)
		}
	}
}

func (b *rigBuilder) joint(row tableRow) {
	name := row.name("joint")
	if before, twice := b.joints[name]; twice {
		problem := b.add(ruleRepeatedName, row.ref("joint"), "the joint `%s` is already there; give this one another name", name)
		problem.Related = []Related{{b.Joints[before].At, "the first one"}}
		return
	}
	j := Joint{Name: name, Parent: -1, Order: "xyz", Part: row.text("part"), At: row.ref("joint")}
	for axis, column := range []string{"x", "y", "z"} {
		j.Rest[axis] = row.number(column, 0)
		j.RestTurn[axis] = row.number("r"+column, 0)
	}
	if order := row.text("order"); order != "" {
		j.Order = Order(order)
	}
	if on := row.name("on"); on != "" {
		parent, ok := b.joints[on]
		if !ok {
			parent, j.astray = b.inPlaceOf(on), true
			if !b.unreadJoint(on) {
				b.unknown(row.ref("on"), on, b.jointNames(), "there is no joint `%s` above this row; a joint stands below the one it is on", on)
			}
		}
		j.Parent = parent
	}
	b.joints[name] = len(b.Joints)
	b.Joints = append(b.Joints, j)
}

// inPlaceOf is the joint that another one hangs on for as long as the one that it names is not there: that of the nearest name,
// or the first one, so that all that hangs on it in turn is not lost as well. It is -1 where there is none yet.
func (b *rigBuilder) inPlaceOf(name string) int {
	if near := grammar.Nearest(name, b.jointNames()); near != "" {
		return b.joints[near]
	}
	return min(len(b.Joints), 1) - 1
}

// unreadJoint tells whether a joint that is not there may be one whose row does not parse.
func (b *rigBuilder) unreadJoint(name string) bool {
	return slices.Contains(b.unread(grammar.JointsBlock), name)
}

func (b *rigBuilder) jointNames() []string {
	names := make([]string, len(b.Joints))
	for i := range b.Joints {
		names[i] = b.Joints[i].Name
	}
	return names
}

func (b *rigBuilder) chain(row tableRow) {
	c := Chain{Goal: row.name("goal"), At: row.ref("goal"), Bends: axisVector(row.text("bends"))}
	b.goals[c.Goal] = true
	for _, part := range []struct {
		column string
		index  *int
	}{{"root", &c.Root}, {"middle", &c.Middle}, {"end", &c.End}} {
		name := row.name(part.column)
		i, ok := b.joints[name]
		if !ok {
			if !b.unreadJoint(name) {
				b.unknown(row.ref(part.column), name, b.jointNames(), "there is no joint `%s`", name)
			}
			return
		}
		*part.index = i
	}
	if b.Joints[c.Middle].Parent != c.Root || b.Joints[c.End].Parent != c.Middle {
		if b.Joints[c.Middle].astray || b.Joints[c.End].astray {
			return
		}
		b.add(ruleUnknownName, row.ref("middle"), "`%s`, `%s` and `%s` do not hang on one another; a chain is a joint, the one on it, and the one on that", b.Joints[c.Root].Name, b.Joints[c.Middle].Name, b.Joints[c.End].Name)
		return
	}
	b.Chains = append(b.Chains, c)
}

// axisVector is the unit vector of `+x` … `-z`.
func axisVector(text string) (v [3]float64) {
	if len(text) == 2 {
		v[text[1]-'x'] = 1
		if text[0] == '-' {
			v[text[1]-'x'] = -1
		}
	}
	return v
}

func (b *rigBuilder) pair(row tableRow) {
	left, right := row.name("left"), row.name("right")
	for _, side := range []string{"left", "right"} {
		name := row.name(side)
		if _, ok := b.controls[name]; !ok {
			if b.unreadChannels(func(control, _ string) bool { return control == name }) {
				return
			}
			b.unknown(row.ref(side), name, b.Controls(), "the rig has no control `%s`", name)
			return
		}
	}
	b.pairs[left], b.pairs[right] = right, left
}

// pairByName pairs the controls that end in .left and .right.
func (b *rigBuilder) pairByName() {
	for control := range b.controls {
		if stem, ok := strings.CutSuffix(control, ".left"); ok {
			if _, there := b.controls[stem+".right"]; there {
				b.pairs[control], b.pairs[stem+".right"] = stem+".right", control
			}
		}
	}
}

// finish works out what the rig does not say: the height from the joints, and each joint's part.
func (b *rigBuilder) finish() {
	if b.Height == 0 && len(b.Joints) > 0 {
		b.Height = jointHeight(b.Rig)
	}
	guessParts(b.Rig)
	b.rest, b.ends = b.RestWorld(), b.EndJoints()
	for i := range b.Channels {
		b.Channels[i].part = b.partOf(&b.Channels[i])
	}
}

// jointHeight is the distance from the lowest to the highest joint at rest.
func jointHeight(r *Rig) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, world := range r.RestWorld() {
		low, high = min(low, world.Position()[1]), max(high, world.Position()[1])
	}
	return high - low
}
