package motion

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// unreadNames gives the names of things of a kind that stand in lines which do not parse, or which were not judged since the
// line above them does not. Whoever uses such a name is not at fault: one mistake is one error. A misspelt block counts as the
// one that was meant.
func unreadNames(blocks []*grammar.Block, kind grammar.BlockKind) (names []string) {
	for _, b := range blocks {
		if b.Plain || b.Kind != kind && (b.Kind != grammar.UnknownBlock || b.Meant != kind) {
			continue
		}
		for i := range b.Lines {
			l := &b.Lines[i]
			if l.Kind != grammar.BadLine && l.Kind != grammar.MutedLine {
				continue
			}
			switch {
			case i != b.Open:
				names = append(names, wordOf(l, 0))
			case kind == grammar.PoseBlock:
				names = append(names, wordOf(l, 1))
			}
			if l.Fault != nil { // a name that is written in two words, say
				for _, e := range l.Fault.Edits {
					names = append(names, grammar.NameKey(e.Text))
				}
			}
		}
	}
	return names
}

// wordOf is the n-th atom of a line as a name, without quotes and the like round it; empty where there are fewer.
func wordOf(l *grammar.Line, n int) string {
	for _, t := range grammar.Tokens(l.Text) {
		switch {
		case t.Class == grammar.Space:
		case n == 0:
			return grammar.NameKey(strings.Trim(l.Text[t.Span.Start:t.Span.End], "\"'“”‘’`,;:"))
		default:
			n--
		}
	}
	return ""
}

// withUnknown adds a file's misspelt blocks to others: what they hold may be what these lack.
func withUnknown(file *grammar.File, blocks []*grammar.Block) []*grammar.Block {
	out := slices.Clone(blocks)
	for _, b := range file.Blocks {
		if b.Kind == grammar.UnknownBlock {
			out = append(out, b)
		}
	}
	return out
}

// aboutRig are the blocks of a file that say something about its rig, or may be meant to.
func aboutRig(file *grammar.File) []*grammar.Block {
	return withUnknown(file, owned(file, grammar.RigBlock))
}

// unread gives the names of things of a kind in lines of the rig that do not parse.
func (r *Rig) unread(kind grammar.BlockKind) []string { return unreadNames(aboutRig(r.File), kind) }

// unreadChannels are the rig's channels in lines that do not parse, by path.
func (r *Rig) unreadChannels(fits func(control, path string) bool) bool {
	return slices.ContainsFunc(r.unread(grammar.ChannelsBlock), func(path string) bool {
		control, _, _ := strings.Cut(path, "/")
		return fits(control, path)
	})
}

// unread tells whether a name may be one of those that a line of the sheet or of its rig gives which does not parse.
func (r *resolver) unread(kind grammar.BlockKind, name string) bool {
	return slices.Contains(unreadNames(withUnknown(r.File, r.blocks), kind), name) ||
		r.Motion.Rig != nil && slices.Contains(r.Motion.Rig.unread(kind), name)
}
