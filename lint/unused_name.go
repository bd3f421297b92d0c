package lint

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func unusedName() *Rule {
	return &Rule{
		Name: "unused-name", Group: TextGroup, Level: Note,
		Doc: Doc{
			Reports: "A pose, a layer or an easing that nothing uses, and an allowance that silences nothing.",
			Why:     "What does nothing is read for nothing, and whoever edits it waits for a change that never comes.",
			Decides: "A pose is used by a row of the blocking, inherited ones included, by a `swap`, or by a pose that is made from it; a pose of the rig is there for all its sheets, and never reported. A layer is used by a track, a quiver or a breath in it, an easing by a cell under `ease`. A name that stands in a line that does not parse counts as used.",
			Allow:   "For a pose that is kept for later, or for variants.",
			Mends:   "Removes the block or the line with its comments. It may be work that is kept for later, so --fix removes none but allowances.",
			Bad:     "pose low\n  hips/drop         -2\n\ntrack hips\n  at      side\n  0b      2\n",
			Good:    "pose low\n  hips/drop         -2\n\nblocking\n  at      pose\n  0b      low\n",
		},
		Check: checkUnusedName,
	}
}

func checkUnusedName(p *Pass) {
	m := p.Motion
	if m.Sheet == nil {
		return
	}
	own := func(at grammar.Ref) bool { return at.Path() == m.File.Path }
	written := namesInBrokenLines(m.File)
	for _, pose := range m.Poses {
		if !pose.Used && !pose.OfRig && own(pose.At) && !written[pose.Name] {
			p.unused(pose.At, "no row of the blocking and no other pose uses the pose `"+pose.Name+"`", "the pose", dropBlock(m.File, pose.Block))
		}
	}
	for _, layer := range m.Layers {
		if !layer.Used && own(layer.At) && !written[layer.Name] {
			p.unused(layer.At, "nothing moves in the layer `"+layer.Name+"`", "the layer", dropBlock(m.File, layer.At.Block))
		}
	}
	for i := range m.Eases {
		if ease := &m.Eases[i]; !ease.Used && own(ease.At) && !written[ease.Name] {
			p.unused(ease.At, "no row runs by the easing `"+ease.Name+"`", "the easing", dropEntry(m.File, ease.At))
		}
	}
}

func (p *Pass) unused(at grammar.Ref, what, name string, edits []motion.Edit) {
	finding := p.Report(at, "%s; use it or remove it", what)
	finding.Unused = true
	finding.Mends = []motion.Mend{{Title: "remove " + name, Edits: edits}}
}

// dropEntry takes out an entry of a list, and the whole list with its only one.
func dropEntry(f *grammar.File, at grammar.Ref) []motion.Edit {
	entries := 0
	for range at.Block.Entries() {
		entries++
	}
	if entries == 1 && !slices.ContainsFunc(at.Block.Lines, func(l grammar.Line) bool { return l.Kind == grammar.BadLine }) {
		return dropBlock(f, at.Block)
	}
	return []motion.Edit{dropLine(f, at.Block, at.Line)}
}

// namesInBrokenLines are the words of the lines that do not parse or were not judged: what they name may be used there.
func namesInBrokenLines(f *grammar.File) map[string]bool {
	names := map[string]bool{}
	for _, b := range f.Blocks {
		for i := range b.Lines {
			l := &b.Lines[i]
			if l.Kind != grammar.BadLine && l.Kind != grammar.MutedLine {
				continue
			}
			for _, token := range grammar.Tokens(l.Text) {
				names[grammar.NameKey(l.Text[token.Span.Start:token.Span.End])] = true
			}
		}
	}
	return names
}
