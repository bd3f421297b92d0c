package motion

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// ResolveAgain is [Project.Resolve] for a file that was resolved before, as its text then was: it takes over what rests on
// nothing that has changed. The answer is the same as Resolve's. Earlier may be nil, and of any file.
//
// What is taken over, for the sheets that it is made from too: a rig whose blocks are the same; what a track's block says, where
// the block, the rig and the sheet's header are the same; and a curve whose keys are the same. So a [Strand] that is found in both motions, by its address,
// stands for the same keys at the same places and the same curve, and so does whatever was worked out from it alone. And two
// strands with one [Curve] have the same keys but for their places and what they say of where they come from: see
// [Strand.Curve].
func (p *Project) ResolveAgain(earlier *Motion, file *grammar.File) *Motion {
	defer p.after(earlier)()
	return p.resolve(earlier, file)
}

// after lets files be resolved after what earlier motions, some of which may be nil, rest on, until the answer is called. It is
// not kept any longer, since a motion holds on to its project, and so would hold on to all versions before it.
func (p *Project) after(earlier ...*Motion) (end func()) {
	l := &lineage{map[string]*Motion{}, map[string]*Rig{}}
	for _, m := range earlier {
		l.add(m)
	}
	set := func(l *lineage) {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.earlier = l
	}
	set(l)
	return func() { set(nil) }
}

// lineage is what earlier versions of a project's files were, by their paths: of files that are resolved again and of those that
// they are made from.
type lineage struct {
	motions map[string]*Motion
	rigs    map[string]*Rig
}

func (l *lineage) add(m *Motion) {
	for ; m != nil && l.motions[m.File.Path] == nil; m = m.Base {
		l.motions[m.File.Path] = m
		if m.Rig != nil {
			l.rigs[m.Rig.File.Path] = m.Rig
		}
	}
}

// motion is the earlier version of a file, nil for none.
func (l *lineage) motion(path string) *Motion {
	if l == nil {
		return nil
	}
	return l.motions[path]
}

// rig is the earlier version of a file's rig for its newer tree, nil where there is none or one of its blocks has changed.
func (l *lineage) rig(file *grammar.File) *Rig {
	if l == nil || l.rigs[file.Path] == nil {
		return nil
	}
	return l.rigs[file.Path].in(file)
}

// rigOrigin tells rigs that were built from the same blocks from all others. It holds a byte, since addresses of things
// without a size may be alike.
type rigOrigin struct{ _ byte }

// in is the rig for a newer tree of its file, or nil where one of its blocks has changed.
func (r *Rig) in(file *grammar.File) *Rig {
	switch {
	case r.File == file:
		return r
	case r.File.Path != file.Path, r.At.Block != file.First(grammar.RigBlock),
		!slices.Equal(aboutRig(r.File), aboutRig(file)):
		return nil
	}
	moved := *r
	moved.File = file
	return &moved
}

// trackRead is what reading one track's block gave.
type trackRead struct {
	part     *trackPart
	problems []Problem
}

// trackReads are the tracks that a sheet has read, and all that they rest on beside their blocks.
type trackReads struct {
	rig                *rigOrigin
	rate, beat, length grammar.Rat
	closed             bool
	byBlock            map[*grammar.Block]trackRead
}

func (r *resolver) newReads() *trackReads {
	reads := &trackReads{
		rate: r.Sheet.Rate, beat: r.Sheet.Beat, length: r.Sheet.Length, closed: r.Sheet.Closed,
		byBlock: map[*grammar.Block]trackRead{},
	}
	if r.Motion.Rig != nil {
		reads.rig = r.Motion.Rig.origin
	}
	return reads
}

// readBefore gives what a block was read as for the earlier motion. Only the tracks of a sheet that is no variant are kept,
// since a variant writes into what it has read; and of them those whose rows name no easing, which would be another input.
func (r *resolver) readBefore(b *grammar.Block) (trackRead, bool) {
	if r.earlier == nil || r.earlier.reads == nil {
		return trackRead{}, false
	}
	have, now := r.earlier.reads, r.reads
	if have.rig != now.rig || have.rate != now.rate || have.beat != now.beat || have.length != now.length || have.closed != now.closed {
		return trackRead{}, false
	}
	read, ok := have.byBlock[b]
	return read, ok
}

// readOnce reads a track's block, or takes over how it was read before.
func (r *resolver) readOnce(b *grammar.Block, read func()) {
	if r.Sheet.From != nil || b.ColumnIndex("ease") >= 0 {
		read()
		return
	}
	if r.reads == nil {
		r.reads = r.newReads()
	}
	if before, ok := r.readBefore(b); ok && saidIn(b, before.problems) {
		r.list = append(r.list, before.problems...)
		r.material.tracks = append(r.material.tracks, before.part)
		r.reads.byBlock[b] = before
		return
	}
	first := len(r.list)
	read()
	r.reads.byBlock[b] = trackRead{
		part: r.material.tracks[len(r.material.tracks)-1], problems: slices.Clone(r.list[first:]),
	}
}

// saidIn tells whether problems speak of one block alone. One that speaks of another, or whose mend would write into it, is
// found anew, since that block may have moved or changed.
func saidIn(b *grammar.Block, problems []Problem) bool {
	for i := range problems {
		p := &problems[i]
		if p.At.Block != b || slices.ContainsFunc(p.Related, func(r Related) bool { return r.At.Block != b }) {
			return false
		}
		for _, m := range p.Mends {
			if slices.ContainsFunc(m.Edits, func(e Edit) bool { return e.At.Block != b }) {
				return false
			}
		}
	}
	return true
}

// before is the earlier motion's curve of a channel in a layer, nil where it had none.
func (r *resolver) before(path, layer string) *Strand {
	if r.earlier == nil {
		return nil
	}
	c := r.earlier.Channel(path)
	if c == nil {
		return nil
	}
	for name, strand := range c.Strands() {
		if name == layer {
			return strand
		}
	}
	return nil
}

// same tells whether s, whose curve is not made yet, is an earlier strand over again.
func (s *Strand) same(old *Strand, extent Extent) bool {
	return old != nil && s.Period == old.Period && s.closed == old.closed && old.Curve.Extent() == extent && sameKeys(s.Keys, old.Keys)
}

// alike tells whether s, whose curve is not made yet, plays as an earlier strand does: its keys stand in one block's rows, as
// those do, and say the same, wherever the rows have come to stand.
func (s *Strand) alike(old *Strand, extent Extent) bool {
	if old == nil || s.Period != old.Period || s.closed != old.closed || len(s.Keys) != len(old.Keys) || len(s.Keys) == 0 ||
		old.Curve.Extent() != extent || !s.RowsRise() || !old.RowsRise() {
		return false
	}
	if now, before := s.Keys[0].At, old.Keys[0].At; now.Block.Kind != before.Block.Kind || now.Path() != before.Path() {
		return false
	}
	for i := range s.Keys {
		if !s.Keys[i].saysAs(&old.Keys[i]) {
			return false
		}
	}
	return true
}

// RowsRise tells whether a curve's keys are those of one block's rows, in their order and each once.
func (s *Strand) RowsRise() bool {
	for i := 1; i < len(s.Keys); i++ {
		if before, at := &s.Keys[i-1].At, &s.Keys[i].At; at.Block != before.Block || at.Line <= before.Line {
			return false
		}
	}
	return true
}

func sameKeys(a, b []Key) bool {
	if len(a) != len(b) {
		return false
	}
	if len(a) == 0 || &a[0] == &b[0] { // the same memory, as of a track that was taken over
		return true
	}
	for i := range a {
		if !a[i].same(&b[i]) {
			return false
		}
	}
	return true
}

// same compares all that a key says. Pointers count by what they point at; blocks by themselves, since a key's place is
// part of what it says.
func (k *Key) same(o *Key) bool {
	return k.saysAs(o) && k.First == o.First && k.At == o.At && k.Pose == o.Pose && k.Row == o.Row &&
		samePointed(k.Written, o.Written) && slices.Equal(k.Changes, o.Changes)
}

// saysAs compares what a key is for the motion, wherever it stands.
func (k *Key) saysAs(o *Key) bool {
	return k.Time == o.Time && k.Value == o.Value && k.Shape == o.Shape && k.Marked == o.Marked && k.In == o.In && k.Out == o.Out &&
		k.From == o.From && k.Over == o.Over && samePointed(k.Ease, o.Ease)
}

func samePointed[T comparable](a, b *T) bool {
	return a == b || a != nil && b != nil && *a == *b
}
