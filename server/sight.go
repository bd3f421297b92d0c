package server

import (
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// mostFiles is how many sheets of a project are looked through for a name. A production has hundreds.
const mostFiles = 4000

// project lists the sheets and rigs of the document's project, by their paths from its root, in order; open documents
// that are not on disk are among them. Folders whose name begins with a point, and those of other tools' packages, are
// left out.
func (snap snapshot) project() []string {
	if snap.root == "" {
		return []string{snap.name}
	}
	return snap.world.sheetsOf(snap.root)
}

// sheetsOf lists the sheets and rigs below a folder.
func (w *world) sheetsOf(folder string) []string {
	names := []string{}
	if root, err := os.OpenRoot(folder); err == nil {
		names = sheetsBelow(root.FS())
		_ = root.Close()
	}
	for _, d := range w.documents {
		if d.path == "" || !within(folder, d.path) {
			continue
		}
		if name := nameIn(folder, d.path); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

func sheetsBelow(root fs.FS) []string {
	return filesBelow(root, func(name string) bool { return strings.HasSuffix(name, sheetSuffix) })
}

// filesBelow lists the files in a folder and below it that are wanted, but for those in hidden folders and in those of
// other tools' packages.
func filesBelow(root fs.FS, wanted func(name string) bool) []string {
	var names []string
	_ = fs.WalkDir(root, ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return nil // a folder that can't be read has no sheets for us
		case mostFiles <= len(names):
			return fs.SkipAll
		case entry.IsDir() && name != "." && (strings.HasPrefix(entry.Name(), ".") || entry.Name() == "node_modules"):
			return fs.SkipDir
		case !entry.IsDir() && wanted(name):
			names = append(names, name)
		}
		return nil
	})
	return names
}

// sight is what a document can see: its own tree, the sheets that it is made from, and the rigs that these name.
type sight struct {
	own   *grammar.File
	bases []*grammar.File // the nearest first
	rigs  []*grammar.File // the one that counts first

	rows []dialRow // what dials gave, since one answer asks for it many times
}

// sight follows the names of files, and resolves nothing: it is as quick as reading the files, and stands on whatever
// can be read of a text with errors in it.
func (snap snapshot) sight() *sight {
	return sightOf(snap.tree(), newLookout(snap.document, snap.world))
}

func sightOf(own *grammar.File, look *lookout) *sight {
	s := &sight{own: own}
	for f := own; f != nil && !slices.Contains(s.bases, f); {
		if f != own {
			s.bases = append(s.bases, f)
		}
		if f.First(grammar.RigBlock) != nil {
			s.rigs = append(s.rigs, f)
		}
		var next *grammar.File
		for _, stmt := range headerOf(f) {
			switch line := stmt.(type) {
			case *grammar.RigEntryLine:
				if rig := look.linked(f, line.File); rig != nil && rig != f {
					s.rigs = append(s.rigs, rig)
				}
			case *grammar.FromLine:
				next = look.linked(f, line.File)
			}
		}
		if f = next; f == own {
			break
		}
	}
	return s
}

// headerOf are the statements of a file's sheet block.
func headerOf(f *grammar.File) []grammar.Statement {
	b := f.First(grammar.SheetBlock)
	if b == nil {
		return nil
	}
	var out []grammar.Statement
	for _, stmt := range b.Entries() {
		out = append(out, stmt)
	}
	return out
}

// linked is the tree of a file that a line names; f itself where the line names none, nil where it can't be read.
func (l *lookout) linked(f *grammar.File, name *grammar.FileName) *grammar.File {
	if name == nil {
		return f
	}
	target, ok := linkedFile(f.Path, name.Text())
	if !ok {
		return nil
	}
	tree, err := l.tree(target)
	if err != nil {
		return nil
	}
	return tree
}

// linkedFile is the path from the project's root of a file that another one names; false where the name is absolute or
// leads out of the project.
func linkedFile(from, name string) (string, bool) {
	if name == "" || strings.Contains(name, `\`) || path.IsAbs(name) {
		return "", false
	}
	target := path.Join(path.Dir(from), name)
	return target, target != ".." && !strings.HasPrefix(target, "../")
}

// files are all that is in sight, the own tree first.
func (s *sight) files() []*grammar.File {
	out := []*grammar.File{s.own}
	for _, f := range slices.Concat(s.bases, s.rigs) {
		if !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	return out
}

// declared are the names of a kind in sight, those of the own file first. Layers and channels count where they are first
// used, since no block need declare them.
func (s *sight) declared(kind nameKind) []string {
	var out []string
	seen := map[string]bool{}
	for _, f := range s.files() {
		for _, m := range mentions(f) {
			if m.kind == kind && !m.covers && (m.declares || kind == layerName) && !seen[m.key] {
				seen[m.key] = true
				out = append(out, m.key)
			}
		}
	}
	return out
}

// dialRow is what the row of a `channels` table says of a channel.
type dialRow struct {
	path, unit, limits, positive string
	at                           grammar.Ref
}

// dials are the channels of the rig in sight, in its order; only the first row of each says what it is.
func (s *sight) dials() []dialRow {
	if len(s.rigs) == 0 || s.rows != nil {
		return s.rows
	}
	s.rows = readDials(s.rigs[0])
	return s.rows
}

func readDials(rig *grammar.File) []dialRow {
	out := []dialRow{}
	seen := map[string]bool{}
	for _, b := range rig.Blocks {
		if b.Kind != grammar.ChannelsBlock {
			continue
		}
		for line := range b.Rows() {
			l := &b.Lines[line]
			cell := func(column string) string {
				i := b.ColumnIndex(column)
				if i < 0 || len(l.Cells) <= i || l.Cells[i].Class == grammar.Dot {
					return ""
				}
				return l.CellText(i)
			}
			row := dialRow{
				path: grammar.NameKey(cell("channel")), unit: cell("unit"), limits: cell("range"),
				positive: strings.Trim(cell("positive"), `"`), at: b.RefLine(line),
			}
			if row.path != "" && !seen[row.path] {
				seen[row.path] = true
				out = append(out, row)
			}
		}
	}
	return out
}

// controls are the controls of the rig in sight, in its order.
func (s *sight) controls() []string {
	var out []string
	seen := map[string]bool{}
	for _, d := range s.dials() {
		if control, _, _ := strings.Cut(d.path, "/"); !seen[control] {
			seen[control] = true
			out = append(out, control)
		}
	}
	return out
}
