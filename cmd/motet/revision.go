package main

import (
	"errors"
	"fmt"
	"path"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// resolveRevision works out what a sheet meant at a revision of its repository: with the rig, the base and all else that
// it names as they were then. Files of that time are called for people as shown does.
func resolveRevision(at, sheet string) (m *motion.Motion, shown func(name string) string, err error) {
	all, err := newProjects()
	if err != nil {
		return nil, nil, fmt.Errorf("the current folder can't be found: %w", err)
	}
	p, name := all.of(sheet)
	v := revision{p.root, at}
	if err := v.known(); err != nil {
		return nil, nil, err
	}
	file, err := v.tree(name)
	if err != nil {
		return nil, nil, fmt.Errorf("%s at %s: %w", sheet, at, err)
	}
	shown = func(name string) string { return all.shown(p, name) + " at " + at }
	return motion.NewProject(v.tree).WithListing(v.listing).Resolve(file), shown, nil
}

// revision is a project's folder as it was at a revision.
type revision struct{ root, name string }

func (v revision) known() error {
	_, err := git(v.root, "rev-parse", "--verify", "--quiet", "--end-of-options", v.name+"^{commit}")
	if isExit(err, 1) {
		return fmt.Errorf("there is neither a file nor a revision `%s`", v.name)
	}
	return err
}

func (v revision) tree(name string) (*grammar.File, error) {
	if size, err := git(v.root, "cat-file", "-s", v.name+":./"+name); err != nil {
		return nil, errors.New("there was no such file")
	} else if len(strings.TrimSpace(string(size))) > len("16777216") {
		return nil, errors.New("it is larger than any sheet")
	}
	text, err := git(v.root, "cat-file", "blob", v.name+":./"+name)
	if err != nil {
		return nil, err
	}
	return grammar.Parse(name, string(text)), nil
}

func (v revision) listing(folder string) []string {
	out, err := git(v.root, "ls-tree", "--name-only", "-z", v.name+":./"+folder)
	if err != nil {
		return nil
	}
	var names []string
	for name := range strings.SplitSeq(string(out), "\x00") {
		if strings.HasSuffix(name, sheetSuffix) {
			names = append(names, path.Join(folder, name))
		}
	}
	return names
}
