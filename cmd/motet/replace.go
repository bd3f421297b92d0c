package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// fileVersion is a file as it stood at one moment.
type fileVersion struct {
	path string // links followed
	text string
	info fs.FileInfo
}

// readVersion reads a file that is to be replaced.
func readVersion(path string) (*fileVersion, error) {
	target, err := filepath.EvalSymlinks(path)
	if err != nil {
		return nil, err
	}
	// What changes while it is read is newer than this, and so is not replaced.
	info, err := os.Stat(target)
	if err != nil {
		return nil, err
	}
	text, err := readFile(target)
	if err != nil {
		return nil, err
	}
	return &fileVersion{target, text, info}, nil
}

var (
	errNoText   = errors.New("it is no UTF-8 text but UTF-16, a picture or the like, so it is left as it is; save it as UTF-8, or give it its own ending")
	errReadOnly = errors.New("it is marked read-only, so it is left as it is")
	errChanged  = errors.New("somebody else has changed it in the meantime, so it is left as it is")
)

func (v *fileVersion) readOnly() bool { return v.info.Mode().Perm()&0o200 == 0 }

// replace gives a file another text: as a whole or not at all, since the text is written beside it and then takes its
// name. The permissions stay. A file that is marked read-only, as some version control does with what is not checked
// out, or that has changed since it was read, is left alone.
func (v *fileVersion) replace(text string) error {
	if v.readOnly() {
		return errReadOnly
	}
	return writeAtomically(v.path, text, v.info.Mode().Perm(), func() error {
		now, err := os.Stat(v.path)
		if err != nil {
			return err
		}
		if !now.ModTime().Equal(v.info.ModTime()) || now.Size() != v.info.Size() {
			return errChanged
		}
		// Somebody may have been so quick that the clock of the disk has not moved on.
		if v.text != "" {
			if text, err := readFile(v.path); err != nil || text != v.text {
				return errChanged
			}
		}
		return nil
	})
}

// writeAtomically writes a text beside a path and then gives it that name, unless ready says why not. A mode of 0 stands
// for that of the file whose place it takes, or of any new one. What is no file but a pipe or a device, such as /dev/stdout,
// takes the text as it comes: another thing of its name would be none of it. A link goes on to lead where it does.
func writeAtomically(path, text string, mode fs.FileMode, ready func() error) (err error) {
	if info, err := os.Stat(path); err == nil {
		switch {
		case info.Mode().IsRegular() && mode == 0:
			mode = info.Mode().Perm()
		case !info.Mode().IsRegular() && !info.IsDir():
			return writeInto(path, text, ready)
		}
		if path, err = filepath.EvalSymlinks(path); err != nil {
			return err
		}
	} else if to, err := os.Readlink(path); err == nil { // to nothing yet
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	temporary, err := createBeside(path)
	if err != nil {
		return folderError(err)
	}
	defer func() {
		if err != nil {
			_ = temporary.Close()
			_ = unfinished.settle(temporary.Name(), nil)
		}
	}()
	if _, err = temporary.WriteString(text); err != nil {
		return err
	}
	if mode != 0 {
		if err = temporary.Chmod(mode); err != nil {
			return err
		}
	}
	// The name must not come to stand for a text that the disk does not have yet.
	if err = temporary.Sync(); err != nil {
		return err
	}
	if err = temporary.Close(); err != nil {
		return err
	}
	if err = ready(); err != nil {
		return err
	}
	return unfinished.settle(temporary.Name(), func() error { return os.Rename(temporary.Name(), path) })
}

// writeInto writes a text into what already has a name, and is no file.
func writeInto(path, text string, ready func() error) error {
	if err := ready(); err != nil {
		return err
	}
	to, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = to.WriteString(text)
	return errors.Join(err, to.Close())
}

// errInTheWay is why a file that motet did not make keeps its place.
var errInTheWay = errors.New("it is there already, and motet did not make it")

// free tells whether what is written for others may take the place of what is there: nothing, a file with nothing in it, or
// what motet made, as ours tells. With force it may take that of any file.
func free(path string, force bool, ours func(path string) bool) func() error {
	return func() error {
		info, err := os.Stat(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return err
		case info.IsDir():
			return errors.New("a folder of that name is in the way")
		case force, !info.Mode().IsRegular():
			return nil
		case info.Mode().Perm()&0o200 == 0:
			return errors.New("it is there already and marked read-only; --force replaces it")
		case info.Size() == 0, ours(path):
			return nil
		}
		return fmt.Errorf("%w; --force replaces it", errInTheWay)
	}
}

// createBeside makes a new file in the folder of path, under a name that no search for sheets finds. It is unfinished until
// it is settled.
func createBeside(path string) (file *os.File, err error) {
	err = unfinished.begin(func() (string, error) {
		for {
			name := temporaryBeside(path)
			if file, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666); !errors.Is(err, fs.ErrExist) {
				return name, err
			}
		}
	})
	return file, err
}

func temporaryBeside(path string) string {
	return filepath.Join(filepath.Dir(path), fmt.Sprintf(".motet-%08x.tmp", rand.Uint32()))
}

// folderError says that it is the folder that can't be written to.
func folderError(err error) error {
	if errors.Is(err, fs.ErrPermission) {
		return errors.New("this user may not write into its folder, so nothing is changed")
	}
	return err
}
