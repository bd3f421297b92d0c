package server

import (
	"regexp"

	"github.com/motet-sheet/motet/grammar"
)

// A morph target has its name from the character's file, and a rig's word for it is that name unless a comment says
// otherwise. So whoever renames the word gets such a comment where there is none, and the same shape goes on being blended in.

// targetComment begins a comment that says what the character's file calls a morph target.
var targetComment = regexp.MustCompile(`^#\s*target "[^"]+"`)

// renamingMorph are the places that change when a morph target gets another word in its rig.
func renamingMorph(f *grammar.File, about mention, to string) ([]renamed, error) {
	if word, ok := grammar.MorphOf(grammar.MorphPrefix + to); !ok {
		return nil, refused("`%s%s` moves a joint or a goal along an axis; choose another name for the morph target", grammar.MorphPrefix, to)
	} else if word == about.key {
		return nil, nil
	}
	var out []renamed
	told := false
	var free, spoken *placed // rows whose comment can say the target's name: without one, and with one about something else
	for _, m := range mentions(f) {
		switch {
		case m.kind != morphName:
			continue
		case m.key == grammar.NameKey(to):
			return nil, refused("there is a %s `%s` already; choose another name", morphName, m.key)
		case m.key != about.key:
			continue
		}
		row := placed{m, f}
		out = append(out, renamed{row, to})
		line := &m.at.Block.Lines[m.at.Line]
		comment := line.Text[line.Comment.Start:line.Comment.End]
		switch {
		case targetComment.MatchString(comment):
			told = true
		case comment == "" && free == nil:
			free = &row
		case comment != "" && line.Allow == nil && spoken == nil:
			spoken = &row
		}
	}
	switch {
	case told:
		return out, nil
	case free != nil:
		end := len(free.at.Block.Lines[free.at.Line].Text)
		return append(out, insertion(*free, end, `  # target "`+about.key+`"`)), nil
	case spoken != nil:
		behind := spoken.at.Block.Lines[spoken.at.Line].Comment.Start + len("#")
		return append(out, insertion(*spoken, behind, ` target "`+about.key+`":`)), nil
	}
	return nil, refused("`%s` is the name in the character's file, and no row has room for a comment that says so; write `# target \"%s\"` behind one of them first", about.key, about.key)
}

// insertion writes text at a byte of a row's line.
func insertion(row placed, at int, text string) renamed {
	row.at.Span = grammar.Span{Start: at, End: at}
	return renamed{row, text}
}
