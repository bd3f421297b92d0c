package main

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/server/watch"
)

// earlier is the round that --since names: a page, or a revision.
func (f *reviewFlags) earlier() (*watch.Round, error) {
	within, err := f.within()
	if err != nil {
		return nil, err
	}
	if info, err := os.Stat(f.Since); err == nil && !info.IsDir() {
		text, err := readFile(f.Since)
		if err != nil {
			return nil, fmt.Errorf("%s: %s", f.Since, plainIO(err))
		}
		motions, err := watch.ReadReview(text)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Since, err)
		}
		return &watch.Round{Name: filepath.Base(f.Since), Motions: motions, Within: within}, nil
	}
	motions, err := f.atRevision()
	if err != nil {
		return nil, err
	}
	if len(motions) == 0 {
		return nil, fmt.Errorf("there was no sheet in %s at %s", f.Folder, f.Since)
	}
	return &watch.Round{Name: f.Since, Motions: motions, Within: within}, nil
}

// atRevision gives the folder's sheets as they were at a revision, with all that they named then, by their paths in the
// project: those that are there still, and those that are not.
func (f *reviewFlags) atRevision() (map[string]*motion.Motion, error) {
	all, err := newProjects()
	if err != nil {
		return nil, fmt.Errorf("the current folder can't be found: %w", err)
	}
	files, _ := findFiles([]string{f.Folder})
	motions, folders := map[string]*motion.Motion{}, map[string]bool{}
	then := map[string]*motion.Project{}
	for _, file := range files {
		p, name := all.of(file)
		v := revision{p.root, f.Since}
		if then[p.root] == nil {
			if err := v.known(); err != nil {
				return nil, err
			}
			then[p.root] = motion.NewProject(v.tree).WithListing(v.listing)
		}
		names := []string{name}
		if folder := path.Dir(name); !folders[p.root+folder] && isFolder(f.Folder) {
			folders[p.root+folder] = true
			names = append(names, v.listing(folder)...)
		}
		for _, name := range names {
			tree, err := v.tree(name)
			if err == nil && motions[name] == nil && tree.First(grammar.SheetBlock) != nil {
				motions[name] = then[p.root].Resolve(tree)
			}
		}
	}
	return motions, nil
}

// within tells which paths in the project are those of the sheet under review, or lie in the folder.
func (f *reviewFlags) within() (func(path string) bool, error) {
	all, err := newProjects()
	if err != nil {
		return nil, fmt.Errorf("the current folder can't be found: %w", err)
	}
	if !isFolder(f.Folder) {
		_, name := all.of(f.Folder)
		return func(path string) bool { return path == name }, nil
	}
	_, inside := all.of(filepath.Join(f.Folder, "any"+sheetSuffix))
	folder := path.Dir(inside)
	return func(name string) bool { return folder == "." || strings.HasPrefix(name, folder+"/") }, nil
}

func isFolder(name string) bool {
	info, err := os.Stat(name)
	return err == nil && info.IsDir()
}
