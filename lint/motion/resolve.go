package motion

import (
	"fmt"
	"slices"
	"sync"

	"github.com/motet-sheet/motet/grammar"
)

// Resolve works out what a file means. It always answers: what the file says wrongly is left out and stands in the
// answer's Problems. The answer is not kept: a thousand sheets that are checked one after the other need not be in
// memory together.
func (p *Project) Resolve(file *grammar.File) *Motion { return p.resolve(nil, file) }

// shared resolves a file that others build on, once for all of them.
func (p *Project) shared(file *grammar.File) *Motion {
	p.mu.Lock()
	once, ok := p.motions[file]
	if !ok {
		earlier := p.earlier.motion(file.Path)
		once = sync.OnceValue(func() *Motion { return p.resolve(earlier, file) })
		p.motions[file] = once
	}
	p.mu.Unlock()
	return once()
}

func (p *Project) resolve(earlier *Motion, file *grammar.File) *Motion {
	r := &resolver{project: p, Motion: &Motion{File: file}, earlier: earlier}
	r.material = &material{}
	r.outline()
	r.families()
	r.findHouses()
	if block := file.First(grammar.SheetBlock); block != nil {
		r.header(block)
		r.rig()
	} else {
		r.Motion.Rig = p.Rig(file)
	}
	if own := p.Rig(file); own != nil {
		r.list = append(r.list, own.Problems...)
	}
	if r.Base != nil {
		r.inheritLayers(r.Base)
	}
	r.easeBlocks()
	r.layerBlocks()
	r.poses()
	if r.Sheet != nil {
		r.advance()
		r.gather()
		r.weave()
	}
	r.Motion.Problems = r.list
	return r.Motion
}

// gather puts the sheet's material together: what it inherits, changed line by line, and then its own blocks as they
// are written.
func (r *resolver) gather() {
	if r.Base != nil && r.Motion.Rig != nil {
		r.inherit(r.Base)
		r.replacePoses()
	}
	r.changes()
	r.blocking()
	r.tracks()
	r.amend()
	r.overlap()
	r.follows()
	r.quivers()
	r.breaths()
	r.plants()
	r.Plain = r.material.blocking.accents()
}

type resolver struct {
	project *Project
	*Motion
	problems
	blocks   []*grammar.Block // of the sheet, or of the rig where there is no sheet
	advances []placed[*grammar.AdvanceLine]
	poseOf   map[string]*Pose
	second   []*Pose // of a name that was there already, to be read for their own faults alone
	knots    []Knot  // lent to one curve after the other
	earlier  *Motion // of an earlier version of the file, nil for none
}

// outline checks how the file is laid out: one sheet, one rig, and each block under the one it belongs to.
func (r *resolver) outline() {
	firsts := map[grammar.BlockKind]*grammar.Block{}
	var owner grammar.BlockKind
	homeless := false
	for _, b := range r.File.Blocks {
		switch b.Kind {
		case grammar.SheetBlock, grammar.RigBlock:
			owner = b.Kind
			if first := firsts[b.Kind]; first != nil {
				problem := r.add(ruleRepeatedName, b.RefLine(b.Open), "the file already has a %s; move this one to a file of its own", b.Kind)
				problem.Related = []Related{{first.RefLine(first.Open), "the first one"}}
			}
			firsts[b.Kind] = b
		case grammar.FamilyBlock:
			owner = b.Kind
		case grammar.UnknownBlock:
			if slices.Contains([]grammar.BlockKind{grammar.SheetBlock, grammar.RigBlock, grammar.FamilyBlock}, b.Meant) {
				owner = b.Meant // one slip is one error
			}
		case grammar.HouseBlock, grammar.Preamble:
		default:
			before := len(r.list)
			if r.owned(b, owner); owner == 0 && homeless {
				r.list = r.list[:before] // the line that is missing above the first one is above this one too
			}
			homeless = homeless || owner == 0 && len(r.list) > before
		}
	}
	r.blocks = owned(r.File, grammar.SheetBlock)
	if r.File.First(grammar.SheetBlock) == nil {
		r.blocks = owned(r.File, grammar.RigBlock)
	}
}

// rigBlocks are the blocks that describe a rig; the rest describe motion. Poses may stand under either.
var rigBlocks = []grammar.BlockKind{grammar.JointsBlock, grammar.ChannelsBlock, grammar.ChainsBlock, grammar.PairsBlock}

func (r *resolver) owned(b *grammar.Block, owner grammar.BlockKind) {
	isRigBlock := slices.Contains(rigBlocks, b.Kind)
	switch {
	case b.Kind == grammar.PoseBlock && owner != 0:
	case isRigBlock && owner != grammar.RigBlock:
		r.add(ruleMisplaced, b.RefLine(b.Open), "`%s` belongs to a rig; write `rig NAME` above it", b.Kind)
	case !isRigBlock && owner != grammar.SheetBlock:
		r.add(ruleMisplaced, b.RefLine(b.Open), "`%s` belongs to a sheet; write `sheet NAME` above it", b.Kind)
	}
}

// rig links the sheet's rig.
func (r *resolver) rig() {
	block := r.Sheet.Block
	for i, stmt := range block.Entries() {
		line, ok := stmt.(*grammar.RigEntryLine)
		if !ok {
			continue
		}
		r.Motion.Rig = r.linkRig(block, i, line)
		return
	}
	switch own := r.project.Rig(r.File); {
	case own != nil:
		r.Motion.Rig = own
	case r.Base != nil:
		r.Motion.Rig = r.Base.Rig
		r.link(r.Base.Rig.File)
	}
}

func (r *resolver) linkRig(block *grammar.Block, line int, entry *grammar.RigEntryLine) *Rig {
	var at grammar.Ref
	if entry.File != nil {
		at = block.Ref(line, entry.File.Where())
	}
	file := r.project.linked(r.File, entry.File, at, &r.problems)
	if file == nil {
		return nil
	}
	r.link(file)
	rig := r.project.Rig(file)
	name := block.Ref(line, entry.Name.Where())
	switch {
	case rig == nil && entry.File == nil:
		problem := r.add(ruleUnknownName, name, "this file has no rig `%s`; name the file that has it: `rig %s in \"FILE\"`", entry.Name.Key(), entry.Name.Key())
		for _, beside := range r.rigsBeside() {
			if grammar.NameKey(beside.name) == entry.Name.Key() {
				text := beside.name + " in \"" + beside.file + "\""
				problem.Message = fmt.Sprintf("this file has no rig `%s`; name the file that has it: `rig %s`", entry.Name.Key(), text)
				problem.Mends = []Mend{Write(name, text)}
			}
		}
	case rig == nil:
		r.add(ruleUnknownName, at, "there is no rig in the file `%s`", entry.File.Text())
	case rig.Name != entry.Name.Key():
		r.unknown(name, entry.Name.Key(), []string{rig.Name}, "the rig in that file is `%s`, not `%s`", rig.Name, entry.Name.Key())
	}
	if rig == nil {
		return nil
	}
	if file == r.File {
		return rig
	}
	switch wrong := slices.Concat(rig.Unread(), rig.Problems); len(wrong) {
	case 0:
	case 1:
		problem := r.add(ruleUnknownName, name, "the rig `%s` has a problem of its own; mend it first", rig.Name)
		problem.Related = []Related{{wrong[0].At, wrong[0].Message}}
	default:
		problem := r.add(ruleUnknownName, name, "the rig `%s` has %d problems of its own; mend them first", rig.Name, len(wrong))
		problem.Related = []Related{{wrong[0].At, wrong[0].Message}}
	}
	return rig
}

func (r *resolver) link(file *grammar.File) {
	if file != r.File && !slices.Contains(r.Linked, file) {
		r.Linked = append(r.Linked, file)
	}
}

// chainOfSheets follows `from` from sheet to sheet; it is false, and says why, where it leads back or where the first
// one is not there.
func (r *resolver) chainOfSheets() bool {
	at := r.Sheet.Lines["from"]
	path, file, from := []string{r.Sheet.Name}, r.File, r.Sheet.From
	seen := map[string]bool{r.File.Path: true}
	for from != nil {
		var found problems
		next := r.project.linked(file, from.File, at, &found)
		first := len(path) == 1
		if first {
			r.list = append(r.list, found.list...)
		}
		if next == nil {
			return !first
		}
		sheet := next.First(grammar.SheetBlock)
		if sheet == nil || !sameSheet(sheet, from.Name.Key()) {
			if first {
				r.baseMissing(sheet, at, from)
			}
			return !first
		}
		r.link(next)
		path = append(path, from.Name.Key())
		if seen[next.Path] {
			r.add(ruleRing, at, "the sheet is made from itself: %s; let one of them stand alone", arrows(path))
			return false
		}
		seen[next.Path] = true
		file, from = next, fromLine(sheet)
	}
	return true
}

func (r *resolver) baseMissing(sheet *grammar.Block, at grammar.Ref, from *grammar.FromLine) {
	r.notThere(at.Block.Ref(at.Line, from.Name.Where()), from.Name.Key(), sheet)
}

func openerOf(sheet *grammar.Block) (*grammar.SheetLine, bool) {
	if sheet == nil {
		return nil, false
	}
	opener, ok := sheet.Opener.(*grammar.SheetLine)
	return opener, ok
}

func sameSheet(sheet *grammar.Block, name string) bool {
	opener, ok := openerOf(sheet)
	return ok && opener.Name.Key() == name
}

func fromLine(sheet *grammar.Block) *grammar.FromLine {
	for _, stmt := range sheet.Entries() {
		if from, ok := stmt.(*grammar.FromLine); ok {
			return from
		}
	}
	return nil
}

func arrows(path []string) string {
	out := path[0]
	for _, name := range path[1:] {
		out += " → " + name
	}
	return out
}

// easeBlocks reads the named easings.
func (r *resolver) easeBlocks() {
	for _, b := range r.blocks {
		if b.Kind != grammar.EasesBlock {
			continue
		}
		for i, stmt := range b.Entries() {
			entry := stmt.(*grammar.EaseEntry)
			if before := r.ease(entry.Name.Key()); before != nil {
				problem := r.add(ruleRepeatedName, b.Ref(i, entry.Name.Where()), "the easing `%s` is already there; give this one another name", entry.Name.Key())
				problem.Related = []Related{{before.At, "the first one"}}
				continue
			}
			p := entry.Curve.Points()
			r.Eases = append(r.Eases, NamedEase{Name: entry.Name.Key(), Ease: Ease{p[0], p[1], p[2], p[3]}, At: b.Ref(i, entry.Name.Where())})
		}
	}
}

func (r *resolver) ease(name string) *NamedEase {
	for i := range r.Eases {
		if r.Eases[i].Name == name {
			return &r.Eases[i]
		}
	}
	return nil
}

// easeCell gives the easing of a row, nil for none.
func (r *resolver) easeCell(row tableRow) *Ease {
	cell := row.cell("ease")
	if cell == nil {
		return nil
	}
	if cell.Class == grammar.Easing {
		p, _ := grammar.ParseEasing(row.text("ease"))
		return &Ease{p[0], p[1], p[2], p[3]}
	}
	name := row.name("ease")
	named := r.ease(name)
	if named == nil && r.unread(grammar.EasesBlock, name) {
		return nil
	}
	if named == nil {
		var names []string
		for i := range r.Eases {
			names = append(names, r.Eases[i].Name)
		}
		r.unknown(row.ref("ease"), name, names, "there is no easing `%s`; name it in a block `eases`, or write one out such as 0.3,0,0.1,1", name)
		return nil
	}
	named.Used = true
	return &named.Ease
}

// layerBlocks reads the layers in the order in which they are declared or first used, which is the order in which they
// apply.
func (r *resolver) layerBlocks() {
	for _, b := range r.blocks {
		switch opener := b.Opener.(type) {
		case *grammar.LayerLine:
			r.declareLayer(b, opener)
		case *grammar.TrackLine:
			r.useLayer(opener.Layer)
		case *grammar.QuiverLine:
			r.useLayer(opener.Layer)
		case *grammar.BreathLine:
			r.useLayer(opener.Layer)
		case *grammar.AmendLine:
			r.useLayer(opener.Layer)
		}
	}
}

func (r *resolver) layer(name string) *Layer {
	for _, l := range r.Layers {
		if l.Name == name {
			return l
		}
	}
	return nil
}

func (r *resolver) declareLayer(b *grammar.Block, opener *grammar.LayerLine) {
	at := b.Ref(b.Open, opener.Name.Where())
	l := r.layer(opener.Name.Key())
	switch {
	case l == nil:
		l = &Layer{Name: opener.Name.Key(), Strength: 1}
		r.Layers = append(r.Layers, l)
	case !l.At.IsZero():
		problem := r.add(ruleRepeatedName, at, "the layer `%s` is declared already; say all about it in one block", l.Name)
		problem.Related = []Related{{l.At, "the first one"}}
		return
	}
	l.At = at
	seen := map[string]int{}
	for i, stmt := range b.Entries() {
		entry := stmt.(*grammar.LayerEntry)
		if entry.Strength != nil {
			r.once(b, i, seen)
			l.Strength = entry.Strength.Decimal.Value / 100
			continue
		}
		l.Replaces = entry.Mode == "replaces"
	}
}

func (r *resolver) useLayer(name *grammar.Name) {
	if name == nil {
		return
	}
	l := r.layer(name.Key())
	if l == nil {
		l = &Layer{Name: name.Key(), Strength: 1}
		r.Layers = append(r.Layers, l)
	}
	l.Used = true
}

// advance checks the channels that gain in each cycle.
func (r *resolver) advance() {
	for _, a := range r.advances {
		key := a.stmt.Channel.Key()
		r.channelIndex(key, a.ref(a.stmt.Channel.At))
		r.Sheet.Advance[key] = a.stmt.Gain.Decimal.Value
		if !r.Sheet.Closed && r.Sheet.Length.Sign() > 0 {
			r.add(ruleOutside, a.block.RefLine(a.line), "a span has no next round for `advance` to gain in; write it into the track, or make the sheet a cycle")
		}
	}
}

// channelIndex finds a channel of the rig, or reports that it is not there. Without a rig nothing can be said: -1.
func (r *resolver) channelIndex(path string, at grammar.Ref) int {
	if r.Motion.Rig == nil {
		return -1
	}
	if i := r.Motion.Rig.DialIndex(path); i >= 0 {
		return i
	}
	if slices.Contains(r.Motion.Rig.unread(grammar.ChannelsBlock), path) {
		return -1
	}
	names := make([]string, len(r.Motion.Rig.Channels))
	for i := range r.Motion.Rig.Channels {
		names[i] = r.Motion.Rig.Channels[i].Path
	}
	r.unknown(at, path, names, "the rig `%s` has no channel `%s`", r.Motion.Rig.Name, path)
	return -1
}
