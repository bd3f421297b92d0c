package server

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// kin are the files of a project in which a name can mean the same thing: a sheet, what it is made from, what is made
// from it, and the rigs that these name.
type kin struct {
	files []*grammar.File // of the whole project, the asking document's first
	links []kinLink
}

// kinLink is a line of one file that names another.
type kinLink struct {
	from, to *grammar.File
	rig      bool // it names the rig; otherwise the sheet that it is made from
}

// kin reads the project's files. It takes as long as reading them, so it is for what is asked for rarely.
func (snap snapshot) kin() *kin {
	look := newLookout(snap.document, snap.world)
	k := &kin{files: []*grammar.File{snap.tree()}}
	for _, path := range snap.project() {
		if path == snap.name {
			continue
		}
		if tree, err := look.tree(path); err == nil {
			k.files = append(k.files, tree)
		}
	}
	k.connect()
	return k
}

// connect finds which files name which.
func (k *kin) connect() {
	for _, f := range k.files {
		for _, stmt := range headerOf(f) {
			switch line := stmt.(type) {
			case *grammar.RigEntryLine:
				k.link(f, line.File, true)
			case *grammar.FromLine:
				k.link(f, line.File, false)
			}
		}
	}
}

func (k *kin) link(f *grammar.File, name *grammar.FileName, rig bool) {
	if to := k.target(f, name); to != nil && to != f {
		k.links = append(k.links, kinLink{f, to, rig})
	}
}

// target is the file that a line of f names, f itself where it names none, and nil where it is not in the project.
func (k *kin) target(f *grammar.File, name *grammar.FileName) *grammar.File {
	if name == nil {
		return f
	}
	path, ok := linkedFile(f.Path, name.Text())
	if !ok {
		return nil
	}
	i := slices.IndexFunc(k.files, func(f *grammar.File) bool { return f.Path == path })
	if i < 0 {
		return nil
	}
	return k.files[i]
}

// of are the files in which a name of a kind that stands in f can mean the same. Controls and channels are the rig's, so
// all sheets on it share them, and all sheets made from those, on whatever rig; the same holds for a rig's poses. Other
// names are shared by the sheets that are made from each other.
func (k *kin) of(f *grammar.File, kind nameKind, key string) []*grammar.File {
	switch kind {
	case bodyName, channelName:
		return k.reach(f, true)
	case familyName, morphName: // a morph target's word is the rig's own
		return []*grammar.File{f}
	}
	near := k.reach(f, false)
	if kind != poseName {
		return near
	}
	for _, link := range k.links {
		if link.rig && (slices.Contains(near, link.from) || slices.Contains(near, link.to)) && declares(link.to, kind, key) {
			return k.reach(f, true)
		}
	}
	return near
}

// reach are the files that lines lead to from f, in either direction, f first.
func (k *kin) reach(f *grammar.File, rigs bool) []*grammar.File {
	out := []*grammar.File{f}
	for i := 0; i < len(out); i++ {
		for _, link := range k.links {
			if link.rig && !rigs {
				continue
			}
			if link.from == out[i] && !slices.Contains(out, link.to) {
				out = append(out, link.to)
			}
			if link.to == out[i] && !slices.Contains(out, link.from) {
				out = append(out, link.from)
			}
		}
	}
	return out
}

func declares(f *grammar.File, kind nameKind, key string) bool {
	return slices.ContainsFunc(mentions(f), func(m mention) bool { return m.declares && m.kind == kind && m.key == key })
}

// placed is a mention and the file that it stands in.
type placed struct {
	mention
	in *grammar.File
}

// same are all mentions of what a mention in f is about, in the order of the files and their texts. A mention that covers
// several names is about each of them.
func (k *kin) same(f *grammar.File, about mention) []placed {
	if about.kind == sheetName || about.kind == rigName {
		return k.sameFile(f, about)
	}
	var out []placed
	for _, other := range k.of(f, about.kind, about.key) {
		for _, m := range mentions(other) {
			if m.kind == about.kind && (m.means(about.key) || about.covers && (about.means(m.key) || m.key == about.key)) {
				out = append(out, placed{m, other})
			}
		}
	}
	return out
}

// sameFile are the mentions of a sheet or a rig, which belongs to one file.
func (k *kin) sameFile(f *grammar.File, about mention) []placed {
	home := k.target(f, about.file)
	if home == nil {
		return []placed{{about, f}}
	}
	var out []placed
	for _, other := range k.files {
		for _, m := range mentions(other) {
			if m.kind == about.kind && m.key == about.key && k.target(other, m.file) == home {
				out = append(out, placed{m, other})
			}
		}
	}
	return out
}
