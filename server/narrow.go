package server

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// A hover asks about one control. Where the whole motion is not made yet, as right after a keystroke, a motion of the
// blocks that can move that control says the same, and is made in a fraction of the time in a large sheet.

// motionAbout is a motion that tells the truth about what stands on a line; about other lines it may know less.
func (snap snapshot) motionAbout(b *grammar.Block, line int) *motion.Motion {
	control, narrow := subjectOf(b, line)
	if snap.made.Load() || !narrow {
		return snap.motion()
	}
	tree, ok := narrowed(snap.tree(), control)
	if !ok {
		return snap.motion()
	}
	return newLookout(snap.document, snap.world).project().ResolveAgain(snap.past.Load().motion, tree)
}

// subjectOf is the one control whose motion a line is about, empty for none; narrow is false where it may be about
// several.
func subjectOf(b *grammar.Block, line int) (control string, narrow bool) {
	switch b.Kind {
	case grammar.TrackBlock, grammar.AmendBlock:
		control, _, ok := trackOf(b)
		return control, ok
	case grammar.PoseBlock:
		if entry, ok := b.Lines[line].Stmt.(*grammar.PoseEntry); ok {
			return entry.Channel.Control(), true
		}
		return "", true
	case grammar.BlockingBlock:
		return "", true
	case grammar.SheetBlock:
		switch b.Lines[line].Stmt.(type) {
		case *grammar.AdvanceLine, *grammar.SheetLine: // of a channel that any track may move, and of all of them
			return "", false
		}
		return "", true
	}
	return "", false
}

// narrowed leaves out the tracks that cannot move a control: those of other controls, unless some other control follows
// theirs, or they are in a layer, whose place among the layers depends on them. It is false for a variant, which may
// follow what its own tracks replace. The answer shares its blocks with the whole tree, so that places in it are places
// in that; it knows no lines of its own.
func narrowed(f *grammar.File, control string) (*grammar.File, bool) {
	keep := []string{control}
	for _, b := range f.Blocks {
		if follow, ok := b.Opener.(*grammar.FollowLine); ok {
			keep = append(keep, follow.Leader.Key())
		}
		for _, stmt := range b.Entries() {
			if _, variant := stmt.(*grammar.FromLine); variant {
				return nil, false
			}
		}
	}
	out := &grammar.File{Path: f.Path, Text: f.Text}
	for _, b := range f.Blocks {
		track, isTrack := b.Opener.(*grammar.TrackLine)
		if !isTrack || track.Layer != nil || slices.Contains(keep, track.Control.Key()) {
			out.Blocks = append(out.Blocks, b)
		}
	}
	return out, true
}
