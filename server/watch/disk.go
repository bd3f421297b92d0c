package watch

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/motet-sheet/motet/grammar"
)

// largestFile is the most bytes that are read of a file that a sheet names. What a person writes by hand is a hundredth
// of it.
const largestFile = 16 << 20

// sheetSuffix ends the names of sheets and rigs.
const sheetSuffix = ".motet"

// Disk keeps the trees of files, so that one is read again only when it changed; and a tree is the same one for as long as
// the text is. Its zero value is ready, and it is safe for use by several goroutines.
type Disk struct {
	mu    sync.Mutex
	trees map[string]diskTree // by full path
}

type diskTree struct {
	changed time.Time
	size    int64
	stale   bool // its time and size say nothing: somebody says that it has changed, or it was just being written
	tree    *grammar.File
}

// coarsest is the coarsest clock that puts times on files: FAT counts in two seconds. What is written anew within it may keep
// its time, and its size, so a file is read again until it has rested for that long.
const coarsest = 2 * time.Second

// Tree gives the tree of a file below root, named by its path from there with slashes. Links that lead out of root are
// not followed.
func (d *Disk) Tree(root, name string) (*grammar.File, error) {
	folder, err := os.OpenRoot(root)
	if err != nil {
		return nil, errors.New("its folder can't be opened")
	}
	defer func() { _ = folder.Close() }()
	file, err := folder.Open(filepath.FromSlash(name))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		d.drop(filepath.Join(root, filepath.FromSlash(name)))
		return nil, errors.New("there is no such file")
	case err != nil:
		return nil, fmt.Errorf("it can't be opened (%w)", plain(err))
	}
	defer func() { _ = file.Close() }()
	info, err := file.Stat()
	switch {
	case err != nil:
		return nil, fmt.Errorf("it can't be read (%w)", plain(err))
	case !info.Mode().IsRegular():
		return nil, errors.New("it is no file")
	case largestFile < info.Size():
		return nil, fmt.Errorf("it has %d bytes, which is more than any sheet", info.Size())
	}
	full, now := filepath.Join(root, filepath.FromSlash(name)), time.Now()
	if tree := d.kept(full, name, info); tree != nil {
		return tree, nil
	}
	text, err := io.ReadAll(io.LimitReader(file, largestFile))
	if err != nil {
		return nil, fmt.Errorf("it can't be read (%w)", plain(err))
	}
	return d.keep(full, name, info, now, string(text)), nil
}

// kept is the tree of a file that has not changed since it was made. Its path must be the same too, since a tree knows
// its path.
func (d *Disk) kept(full, name string, info fs.FileInfo) *grammar.File {
	d.mu.Lock()
	defer d.mu.Unlock()
	have, ok := d.trees[full]
	if !ok || have.stale || have.size != info.Size() || !have.changed.Equal(info.ModTime()) || have.tree.Path != name {
		return nil
	}
	return have.tree
}

// keep keeps what was read of a file at a time.
func (d *Disk) keep(full, name string, info fs.FileInfo, at time.Time, text string) *grammar.File {
	d.mu.Lock()
	defer d.mu.Unlock()
	tree := d.trees[full].tree
	if tree == nil || tree.Path != name || tree.Text != text {
		tree = grammar.Reparse(tree, name, text)
	}
	if d.trees == nil {
		d.trees = map[string]diskTree{}
	}
	d.trees[full] = diskTree{changed: info.ModTime(), size: info.Size(), stale: at.Sub(info.ModTime()) < coarsest, tree: tree}
	return tree
}

// List gives the sheets and rigs in a folder below root, both named from there with slashes. A folder that is not there
// has none.
func (d *Disk) List(root, folder string) []string {
	project, err := os.OpenRoot(root)
	if err != nil {
		return nil
	}
	defer func() { _ = project.Close() }()
	return SheetsIn(project.FS(), folder)
}

// SheetsIn gives the sheets and rigs in a folder of a project, both named from the project's root with slashes; none where
// the folder can't be read.
func SheetsIn(project fs.FS, folder string) []string {
	entries, err := fs.ReadDir(project, folder)
	if err != nil {
		return nil
	}
	var names []string
	for _, entry := range entries {
		if strings.HasSuffix(entry.Name(), sheetSuffix) {
			names = append(names, path.Join(folder, entry.Name()))
		}
	}
	return names
}

// Forget makes the next question about a file read it, whatever its time says.
func (d *Disk) Forget(path string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if have, ok := d.trees[path]; ok {
		have.stale = true
		d.trees[path] = have
	}
}

// plain is an error without the path that the system adds, which the reader of a message knows.
func plain(err error) error {
	var withPath *fs.PathError
	if errors.As(err, &withPath) {
		return withPath.Err
	}
	return err
}

// drop lets go of a file's tree, for one that is no more.
func (d *Disk) drop(path string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.trees, path)
}
