package colours

import (
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// vimSyntax is a syntax file for Vim: a region for each block, and inside it a match for each kind of line.
func vimSyntax(blocks []blockWords) string {
	v := vimFile{}
	v.add("%s", `" Vim syntax file for motion sheets.`)
	v.add("%s", `" `+madeBy)
	v.add("if exists('b:current_syntax')\n  finish\nendif\nlet s:cpo = &cpo\nset cpo&vim\nsyn case match\nsyn spell notoplevel\nsyn sync minlines=400\n")
	v.atoms()
	for _, b := range blocks {
		v.block(&b)
	}
	v.add("")
	for _, r := range append(vimRoles(), markRole) {
		v.add("hi def link %s %s", r.vimGroup(), r.vim)
	}
	v.add("\nlet b:current_syntax = 'motet'\nlet &cpo = s:cpo\nunlet s:cpo")
	return v.String()
}

type vimFile struct{ strings.Builder }

func (v *vimFile) add(format string, args ...any) { fmt.Fprintf(v, format+"\n", args...) }

func vimRoles() []role {
	return []role{blockRole, entryRole, clauseRole, choiceRole, columnRole, titleRole, pathRole, patternRole, numberRole, timeRole, textRole, emptyRole, wrongRole, commentRole, allowRole}
}

// vimGroup is the name of the role's own group, such as motetBlockWord.
func (r role) vimGroup() string {
	if r.name == "" {
		return "motetMark"
	}
	var out strings.Builder
	out.WriteString("motet")
	for part := range strings.SplitSeq(r.name, "_") {
		out.WriteString(strings.ToUpper(part[:1]) + part[1:])
	}
	return out.String()
}

const (
	vimAtomStarts = `%(^|[ \t"])@<=`
	vimAtomEnds   = `%([ \t#"]|$)@=`
)

// atoms writes the rules for what any line may have. Of several that fit at one place Vim takes the last.
func (v *vimFile) atoms() {
	v.add(`syn match %s /\v[^ \t#"]+/ contained`, wrongRole.vimGroup())
	list := atomRoles()
	for i := len(list) - 1; i >= 0; i-- {
		a := list[i]
		expression := vimAtomStarts + `%(` + vim().rewrite(a.Expression) + `)` + vimAtomEnds
		switch {
		case a.Class == grammar.Marked:
			v.add(`syn match motetMarked /\v%s/ contained contains=motetMark`, expression)
			v.add(`syn match motetMark /\v[~^>\=@][-+0-9.,]*/ contained`)
		case a.role == nameRole:
			v.add(`syn match motetName /\v%s/ contained`, expression)
		default:
			v.add(`syn match %s /\v%s/ contained`, a.vimGroup(), expression)
		}
	}
	v.add(`syn match %s /"[^"]*"/ contained`, textRole.vimGroup())
	v.add(`syn match %s /"[^"]*$/ contained`, wrongRole.vimGroup())
	v.add(`syn match %s /#.*/ contains=%s,@Spell`, commentRole.vimGroup(), allowRole.vimGroup())
	v.add(`syn match %s /\v#[ \t]*\zsallow[ \t]+[^ \t:]+:/ contained`, allowRole.vimGroup())
	v.add("hi def link motetMarked %s", numberRole.vim)
	v.add("syn cluster motetAtom contains=motetName,motetMarked,%s,%s,%s,%s,%s,%s,%s,%s\n", pathRole.vimGroup(), patternRole.vimGroup(),
		numberRole.vimGroup(), timeRole.vimGroup(), textRole.vimGroup(), emptyRole.vimGroup(), wrongRole.vimGroup(), commentRole.vimGroup())
}

// block writes the region of a block and its lines.
func (v *vimFile) block(b *blockWords) {
	name := strings.ToUpper(b.Word[:1]) + b.Word[1:]
	v.add(`" %s`, b.Word)
	lines := []string{"motetOpener" + name, "motetLine" + name}
	v.add(`syn match motetLine%s /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom%s`, name, v.words("Plain"+name, b.Plain))
	for _, line := range b.Lines {
		kind := name + strings.ToUpper(line.Word[:1]) + line.Word[1:]
		v.add(`syn match motetEntry%s /\v^[ \t]+\zs%s%s/ contained`, kind, vim().literal(line.Word), vimAtomEnds)
		v.add(`hi def link motetEntry%s %s`, kind, entryRole.vimGroup())
		v.add(`syn match motetLine%s /\v^[ \t]+%s%s.*$/ contained contains=motetEntry%s,@motetAtom%s`, kind, vim().literal(line.Word), vimAtomEnds, kind, v.words(kind, line))
		lines = append(lines, "motetLine"+kind)
	}
	if b.Table {
		lines = append(lines, v.table(name, b)...)
	}
	opener := v.words("Opener"+name, b.Opener)
	title := ""
	if b.Titled {
		v.add(`syn match motetTitle%s /\v%%(^%s[ \t]+)@<=[^ \t#"]+/ contained`, name, b.Word)
		v.add(`hi def link motetTitle%s %s`, name, titleRole.vimGroup())
		title = ",motetTitle" + name
	}
	v.add(`syn match motetWord%s /\v^%s%s/ contained`, name, b.Word, vimAtomEnds)
	v.add(`hi def link motetWord%s %s`, name, blockRole.vimGroup())
	v.add(`syn match motetOpener%s /\v^%s%s.*$/ contained contains=motetWord%s,@motetAtom%s%s`, name, b.Word, vimAtomEnds, name, opener, title)
	v.add(`syn region motetBlock%s start=/\v^%s%s/rs=s end=/\v^[^ \t#]@=/ keepend contains=%s,%s`+"\n", name, b.Word, vimAtomEnds, strings.Join(lines, ","), commentRole.vimGroup())
}

// words writes the rules for a line's words behind its first, and gives their names with a comma before each.
func (v *vimFile) words(kind string, line lineWords) string {
	names := ""
	for _, w := range []struct {
		words []string
		role
	}{{line.Clauses, clauseRole}, {line.Choices, choiceRole}} {
		if len(w.words) == 0 {
			continue
		}
		group := w.vimGroup() + kind
		v.add(`syn match %s /\v%s%s%s/ contained`, group, vimAtomStarts, vim().anyOf(w.words), vimAtomEnds)
		v.add(`hi def link %s %s`, group, w.vimGroup())
		names += "," + group
	}
	return names
}

// table writes the rules for the names of columns, which begin with the first column's, and for rows.
func (v *vimFile) table(name string, b *blockWords) []string {
	named := vim().anyOf(b.Columns)
	if b.Channels {
		named = `[^ \t#"]+`
	}
	front := ""
	if len(b.Choices) > 0 {
		front = fmt.Sprintf(",motetChoiceCell%s", name)
		v.add(`syn match motetChoiceCell%s /\v%%(^%s.*[ \t])@<=%s%s/ contained`, name, strings.Repeat(`[ \t]+[^ \t#"]+`, b.Names), vim().anyOf(b.Choices), vimAtomEnds)
		v.add(`hi def link motetChoiceCell%s %s`, name, choiceRole.vimGroup())
	}
	v.add(`syn match motetRow%s /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom%s`, name, front)
	v.add(`syn match motetColumn%s /\v%s%s%s/ contained`, name, vimAtomStarts, named, vimAtomEnds)
	v.add(`hi def link motetColumn%s %s`, name, columnRole.vimGroup())
	v.add(`syn match motetColumns%s /\v^[ \t]+%s%s.*$/ contained contains=motetColumn%s,@motetAtom`, name, vim().literal(b.Columns[0]), vimAtomEnds, name)
	return []string{"motetRow" + name, "motetColumns" + name}
}
