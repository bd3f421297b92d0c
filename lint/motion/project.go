package motion

import (
	"errors"
	"fmt"
	"path"
	"strings"
	"sync"

	"github.com/motet-sheet/motet/grammar"
)

// Trees gives the tree of a file by its path from the project's root, with slashes. It is how this package sees other
// files: from disk, from an editor's unsaved buffers or from a test's map, as the caller decides. A file that is not
// there is an error whose text says so in a few words.
type Trees func(path string) (*grammar.File, error)

// Project resolves the sheets of one state of a folder. It remembers the rigs it has built, so that a cast that shares a
// rig builds it once. It is safe for use by several goroutines; when files change, make a new one.
type Project struct {
	trees   Trees
	mu      sync.Mutex
	rigs    map[*grammar.File]*Rig
	motions map[*grammar.File]func() *Motion
	list    Listing

	earlier *lineage // nil for none
}

// NewProject makes a project over a set of files.
func NewProject(trees Trees) *Project {
	return &Project{trees: trees, rigs: map[*grammar.File]*Rig{}, motions: map[*grammar.File]func() *Motion{}}
}

// Problem is something that a sheet says and that cannot be meant: a name that is not there, two keys at one moment. The
// rule of that name reports it.
type Problem struct {
	Rule    string
	At      grammar.Ref
	Message string
	Related []Related
	Mends   []Mend
}

// Related is a place that helps to understand a report.
type Related struct {
	At      grammar.Ref
	Message string
}

// Mend is a set of edits that together remove the cause of a report.
type Mend struct {
	Title string // a verb phrase
	Edits []Edit
	// Safe says that the mend may be applied unasked: it puts right what can only be a fault, or leaves the motion as it
	// is. A guess at what was meant, or a choice that is the animator's, is not safe.
	Safe bool
}

// Edit replaces what stands at a place; with an empty span it inserts.
type Edit struct {
	At   grammar.Ref
	Text string
}

// Write is the mend that writes text at a place.
func Write(at grammar.Ref, text string) Mend {
	return Mend{Title: "write `" + text + "`", Edits: []Edit{{at, text}}}
}

// The rules that report problems of linking and resolving.
const (
	ruleUnknownName  = "unknown-name"
	ruleRepeatedName = "repeated-name"
	ruleRing         = "ring"
	ruleSameTime     = "same-time"
	ruleOutside      = "outside-cycle"
	ruleMissingLine  = "missing-line"
	ruleMisplaced    = "misplaced-block"
	rulePartCycle    = "part-cycle"
	ruleLostChannel  = "lost-channel"
)

// problems gathers what is found on the way.
type problems struct{ list []Problem }

func (p *problems) add(rule string, at grammar.Ref, format string, args ...any) *Problem {
	p.list = append(p.list, Problem{Rule: rule, At: at, Message: fmt.Sprintf(format, args...)})
	return &p.list[len(p.list)-1]
}

// unknown reports a name that is not there, with the nearest of those that are.
func (p *problems) unknown(at grammar.Ref, name string, there []string, format string, args ...any) {
	problem := p.add(ruleUnknownName, at, format, args...)
	if near := grammar.Nearest(name, there); near != "" {
		problem.Message += "; did you mean `" + near + "`?"
		problem.Mends = []Mend{Write(at, near)}
	}
}

// linked finds the file that a line names; at is the file name's place. Paths are relative to the file that names them
// and stay inside the project.
func (p *Project) linked(from *grammar.File, name *grammar.FileName, at grammar.Ref, found *problems) *grammar.File {
	if name == nil {
		return from
	}
	text := name.Text()
	target, reason := linkedPath(from.Path, text)
	if reason != "" {
		found.add(ruleUnknownName, at, "the file name `%s` %s", text, reason)
		return nil
	}
	file, err := p.trees(target)
	if err == nil && file == nil {
		err = errors.New("there is no such file")
	}
	if err != nil {
		problem := found.add(ruleUnknownName, at, "the file `%s` cannot be read: %v; names of files count from the folder of the sheet that names them", text, err)
		if near := p.nearFile(target); near != "" {
			near = text[:len(text)-len(path.Base(text))] + near
			problem.Message = fmt.Sprintf("the file `%s` cannot be read: %v; did you mean `%s`?", text, err, near)
			problem.Mends = []Mend{Write(at, `"`+near+`"`)}
		}
		return nil
	}
	return file
}

// nearFile is the file beside one that cannot be read whose name is probably meant; empty where none is.
func (p *Project) nearFile(target string) string {
	if p.list == nil {
		return ""
	}
	var names []string
	for _, name := range p.list(path.Dir(target)) {
		if base := path.Base(name); base != path.Base(target) {
			names = append(names, strings.TrimSuffix(base, path.Ext(base)))
		}
	}
	base := path.Base(target)
	near := grammar.Nearest(strings.TrimSuffix(base, path.Ext(base)), names)
	if near == "" {
		return ""
	}
	return near + ".motet"
}

// notThere reports a sheet that a file does not hold. Its only one is the one that can be meant.
func (p *problems) notThere(at grammar.Ref, name string, sheet *grammar.Block) {
	problem := p.add(ruleUnknownName, at, "there is no sheet `%s` in that file", name)
	if opener, ok := openerOf(sheet); ok {
		only := opener.Name.Key()
		problem.Message += "; did you mean `" + only + "`?"
		problem.Mends = []Mend{Write(at, only)}
	}
}

// linkedPath gives the path from the project's root of a file that another one names, or why there is none.
func linkedPath(from, name string) (target, reason string) {
	switch {
	case name == "":
		return "", "is empty; name a file such as \"quayfolk.motet\""
	case strings.Contains(name, `\`):
		return "", "has a backslash; folders are separated by / on every system"
	case path.IsAbs(name) || (len(name) > 1 && name[1] == ':'):
		return "", "is absolute; name the file from the folder of this sheet, so that the project can be moved"
	}
	target = path.Join(path.Dir(from), name)
	if target == ".." || strings.HasPrefix(target, "../") {
		return "", "leads out of the project, which is the nearest folder above the sheet with a .git, or else the outermost with a house.motet; move the file inside, or let the project begin higher up, by a house.motet there, which may be empty"
	}
	return target, ""
}
