package motion

import (
	"path"

	"github.com/motet-sheet/motet/grammar"
)

// Needs gives what a file's motion rests on besides its own text, by paths from the project's root: the rigs, bases and
// idles that it names, and the sheets of its family as a pattern for [path.Match]. They are named whether they are there
// or not, and in turn rest on others.
func Needs(file *grammar.File) []string {
	var out []string
	add := func(name *grammar.FileName) {
		if name == nil {
			return
		}
		if target, reason := linkedPath(file.Path, name.Text()); reason == "" {
			out = append(out, target)
		}
	}
	for _, b := range file.Blocks {
		for _, stmt := range b.Entries() {
			switch line := stmt.(type) {
			case *grammar.RigEntryLine:
				add(line.File)
			case *grammar.FromLine:
				add(line.File)
			case *grammar.LeavesLine:
				add(line.File)
			case *grammar.RejoinsLine:
				add(line.File)
			case *grammar.MembersLine:
				add(&line.Files)
			}
		}
	}
	return out
}

// HouseFiles gives the paths at which a house file would hold for a file, from the project's root, the nearest first.
func HouseFiles(file string) (out []string) {
	for folder := path.Dir(file); ; folder = path.Dir(folder) {
		out = append(out, path.Join(folder, HouseFile))
		if folder == "." || folder == "/" {
			return out
		}
	}
}
