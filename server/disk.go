package server

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/motet-sheet/motet/grammar"
)

// largestFile is the most bytes that are read of a file that a sheet names. What a person writes by hand is a hundredth
// of it.
const largestFile = 16 << 20

// disk keeps the trees of files that are not open in the editor, so that a rig is read again only when it changed. It
// is safe for use by several goroutines.
type disk struct {
	mu    sync.Mutex
	trees map[string]diskTree
}

type diskTree struct {
	changed time.Time
	size    int64
	tree    *grammar.File
}

// tree gives the tree of a file below root, named by its path from there with slashes. Links that lead out of root are
// not followed.
func (d *disk) tree(root, path string) (*grammar.File, error) {
	folder, err := os.OpenRoot(root)
	if err != nil {
		return nil, errors.New("its folder can't be opened")
	}
	defer func() { _ = folder.Close() }()
	file, err := folder.Open(filepath.FromSlash(path))
	switch {
	case errors.Is(err, fs.ErrNotExist):
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
	name := filepath.Join(root, filepath.FromSlash(path))
	if tree := d.kept(name, path, info); tree != nil {
		return tree, nil
	}
	text, err := io.ReadAll(io.LimitReader(file, largestFile))
	if err != nil {
		return nil, fmt.Errorf("it can't be read (%w)", plain(err))
	}
	return d.keep(name, path, info, string(text)), nil
}

// kept is the tree of a file that has not changed since it was made. Its path must be the same too, since a tree knows
// its path.
func (d *disk) kept(name, path string, info fs.FileInfo) *grammar.File {
	d.mu.Lock()
	defer d.mu.Unlock()
	have, ok := d.trees[name]
	if !ok || have.size != info.Size() || !have.changed.Equal(info.ModTime()) || have.tree.Path != path {
		return nil
	}
	return have.tree
}

func (d *disk) keep(name, path string, info fs.FileInfo, text string) *grammar.File {
	d.mu.Lock()
	defer d.mu.Unlock()
	tree := grammar.Reparse(d.trees[name].tree, path, text)
	d.trees[name] = diskTree{info.ModTime(), info.Size(), tree}
	return tree
}

// forget makes the next question about a file read it.
func (d *disk) forget(path string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.trees, path)
}

// plain is an error without the path that the system adds, which the reader of a message knows.
func plain(err error) error {
	var withPath *fs.PathError
	if errors.As(err, &withPath) {
		return withPath.Err
	}
	return err
}
