package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/server"
	"github.com/motet-sheet/motet/server/watch"
)

// project is a folder inside which sheets may name other files. All sheets of a project share what they name: a rig is
// read and built once.
type project struct {
	root string // absolute
	*motion.Project

	folder func() (*os.Root, error)
	mu     sync.Mutex
	trees  map[string]func() (*grammar.File, error) // by path from the root, with slashes
}

// projects keeps the projects of one run. It is safe for use by several goroutines.
type projects struct {
	current string   // the current folder, absolute
	asked   []string // the folders that were named on the command line, absolute
	mu      sync.Mutex
	byRoot  map[string]*project
	roots   map[string]string // by folder, since a folder may have many sheets
}

// newProjects begins a run that was given some paths; those that are folders may be projects.
func newProjects(paths ...string) (*projects, error) {
	current, err := os.Getwd()
	if err != nil {
		return nil, err
	}
	all := &projects{current: current, byRoot: map[string]*project{}, roots: map[string]string{}}
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			all.asked = append(all.asked, all.absolute(path))
		}
	}
	return all, nil
}

// of gives a file's project, and the file's name in it.
func (all *projects) of(path string) (*project, string) {
	full := all.absolute(path)
	all.mu.Lock()
	defer all.mu.Unlock()
	root, known := all.roots[filepath.Dir(full)]
	if !known {
		root = all.root(full)
		all.roots[filepath.Dir(full)] = root
	}
	p := all.byRoot[root]
	if p == nil {
		p = newProject(root)
		all.byRoot[root] = p
	}
	name, err := filepath.Rel(root, full)
	if err != nil {
		name = filepath.Base(full)
	}
	return p, filepath.ToSlash(name)
}

// forget makes the next question about a file read it from disk.
func (all *projects) forget() {
	all.mu.Lock()
	defer all.mu.Unlock()
	all.byRoot = map[string]*project{}
}

func (all *projects) absolute(path string) string {
	if filepath.IsAbs(path) {
		return filepath.Clean(path)
	}
	return filepath.Join(all.current, path)
}

// root is the folder of a file's project: the one that the server takes too, or else the current folder when the file lies
// below it, or else the outermost folder around it that the command line names, as the server takes its client's folders,
// or else the file's own folder.
func (all *projects) root(full string) string {
	if root, found := server.ProjectRoot(full); found {
		return root
	}
	if name, err := filepath.Rel(all.current, full); err == nil && filepath.IsLocal(name) {
		return all.current
	}
	root := filepath.Dir(full)
	for _, folder := range all.asked {
		if name, err := filepath.Rel(folder, full); err == nil && filepath.IsLocal(name) && len(folder) < len(root) {
			root = folder
		}
	}
	return root
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// shown is how a file of a project is called in reports: from the current folder when it lies below it, or else in full.
func (all *projects) shown(p *project, name string) string {
	full := filepath.Join(p.root, filepath.FromSlash(name))
	if short, err := filepath.Rel(all.current, full); err == nil && filepath.IsLocal(short) {
		full = short
	}
	return filepath.ToSlash(full)
}

// naming is shown for the files of one project.
func (all *projects) naming(p *project) func(name string) string {
	return func(name string) string { return all.shown(p, name) }
}

func newProject(root string) *project {
	p := &project{
		root:   root,
		trees:  map[string]func() (*grammar.File, error){},
		folder: sync.OnceValues(func() (*os.Root, error) { return os.OpenRoot(root) }),
	}
	p.Project = motion.NewProject(p.tree).WithListing(p.listing)
	return p
}

// listing gives the sheets in a folder of the project, where a family looks for its members.
func (p *project) listing(folder string) []string {
	root, err := p.folder()
	if err != nil {
		return nil
	}
	return watch.SheetsIn(root.FS(), folder)
}

// tree gives the tree of a file that a sheet of the project names. Each is read and parsed once, whoever asks first.
// Those of the checked sheets themselves are not kept, since a thousand of them need not be in memory together.
func (p *project) tree(name string) (*grammar.File, error) {
	p.mu.Lock()
	make, ok := p.trees[name]
	if !ok {
		make = sync.OnceValues(func() (*grammar.File, error) { return p.read(name) })
		p.trees[name] = make
	}
	p.mu.Unlock()
	return make()
}

// read parses a file below the root. Links that lead out of the root are not followed.
func (p *project) read(name string) (*grammar.File, error) {
	folder, err := p.folder()
	if err != nil {
		return nil, errors.New("its folder can't be opened")
	}
	// Opening a pipe would wait for somebody to write into it.
	info, err := folder.Stat(filepath.FromSlash(name))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, errors.New("there is no such file")
	case err != nil && strings.Contains(err.Error(), "escapes"):
		return nil, errors.New("it is a link that leads out of the project")
	case err != nil:
		return nil, errors.New(plainIO(err))
	case info.IsDir():
		return nil, errors.New("it is a folder")
	case !info.Mode().IsRegular():
		return nil, errNoFile
	}
	file, err := folder.Open(filepath.FromSlash(name))
	if err != nil {
		return nil, errors.New(plainIO(err))
	}
	defer func() { _ = file.Close() }()
	text, err := readAll(file)
	if err != nil {
		return nil, errors.New(plainIO(err))
	}
	return grammar.Parse(name, text), nil
}
