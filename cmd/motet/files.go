package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// sheetSuffix is how the names of sheets and rigs end.
const sheetSuffix = ".motet"

// largestFile is the most bytes that are read of a file. What a person writes by hand is a hundredth of it.
const largestFile = 16 << 20

var errNoFile = errors.New("it is no ordinary file")

// problem is a path that could not be dealt with, and why.
type problem struct {
	path string
	err  error
}

// findFiles gives the sheets and rigs among paths and in the folders among them, each once, in the order of their names.
// Folders are searched with all below them, but for hidden ones; a link to a folder is followed only when it is named
// itself, so that no ring of links is walked. Paths that give nothing are problems.
func findFiles(paths []string) (files []string, problems []problem) {
	if len(paths) == 0 {
		paths = []string{"."}
	}
	seen := map[string]bool{}
	add := func(path string) {
		full, err := filepath.Abs(path)
		if err != nil {
			full = path
		}
		if !seen[full] {
			seen[full] = true
			files = append(files, filepath.Clean(path))
		}
	}
	for _, path := range paths {
		info, err := os.Stat(path)
		switch {
		case err != nil:
			problems = append(problems, problem{path, err})
		case info.IsDir():
			found, unread := walk(path)
			problems = append(problems, unread...)
			for _, file := range found {
				add(file)
			}
			if len(found) == 0 && len(unread) == 0 {
				problems = append(problems, problem{path, errors.New("no file in this folder or below it ends in " + sheetSuffix)})
			}
		case !strings.HasSuffix(path, sheetSuffix):
			problems = append(problems, problem{path, errors.New("its name does not end in " + sheetSuffix + hint(path))})
		case !info.Mode().IsRegular():
			problems = append(problems, problem{path, errNoFile})
		default:
			add(path)
		}
	}
	slices.Sort(files)
	return files, problems
}

// hint helps with the other files that a user of motet has at hand.
func hint(path string) string {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".glb", ".gltf":
		return "; `motet import` makes a sheet of a clip"
	}
	return ""
}

// walk finds the files of a folder. A folder that can't be read is a problem and costs only itself.
func walk(root string) (files []string, problems []problem) {
	// The error of the walk itself is always nil: each one is taken as a problem where it happens.
	_ = filepath.WalkDir(withinLink(root), func(path string, entry fs.DirEntry, err error) error {
		hidden := entry != nil && strings.HasPrefix(entry.Name(), ".") && path != withinLink(root)
		switch {
		case err != nil:
			problems = append(problems, problem{path, err})
			return nil
		case entry.IsDir() && hidden:
			return filepath.SkipDir
		case entry.IsDir() || hidden || !strings.HasSuffix(entry.Name(), sheetSuffix):
			return nil
		}
		// A link counts as what it leads to; one that leads nowhere is told, since its name promises a sheet.
		switch info, err := os.Stat(path); {
		case err != nil:
			problems = append(problems, problem{path, err})
		case info.Mode().IsRegular():
			files = append(files, path)
		}
		return nil
	})
	return files, problems
}

// withinLink makes WalkDir enter a folder that is itself a link.
func withinLink(root string) string {
	if info, err := os.Lstat(root); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		return root + string(filepath.Separator)
	}
	return root
}

// readFile reads a sheet as it is, up to a size that no sheet has.
func readFile(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { _ = file.Close() }()
	return readAll(file)
}

// readAll reads an open file.
func readAll(file *os.File) (string, error) {
	info, err := file.Stat()
	switch {
	case err != nil:
		return "", err
	case info.IsDir():
		return "", errors.New("it is a folder; name a file")
	case !info.Mode().IsRegular():
		return "", errNoFile
	case info.Size() > largestFile:
		return "", fmt.Errorf("it has %d bytes; a sheet has at most %d", info.Size(), largestFile)
	}
	text := make([]byte, info.Size()+1) // with room to see that it has grown
	n, err := io.ReadFull(file, text)
	switch {
	case err == nil:
		return "", errors.New("it grows while it is read")
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		return string(text[:n]), nil
	}
	return "", err
}

// meant proposes the file beside one that is not there whose name is a slip of the hand away, or has the ending that was
// left out; it is empty where there is none.
func meant(err error) string {
	var missing *fs.PathError
	if !errors.As(err, &missing) {
		return ""
	}
	folder, name := filepath.Split(missing.Path)
	entries, _ := os.ReadDir(filepath.Clean(folder))
	var names []string
	for _, entry := range entries {
		if entry.Name() == name {
			return "" // a link that leads nowhere
		}
		if entry.Name() == name+sheetSuffix {
			return fmt.Sprintf("; did you mean `%s`?", missing.Path+sheetSuffix)
		}
		if filepath.Ext(entry.Name()) == filepath.Ext(name) {
			names = append(names, entry.Name())
		}
	}
	if near := grammar.Nearest(name, names); near != "" && filepath.Ext(name) != "" {
		return fmt.Sprintf("; did you mean `%s`?", folder+near)
	}
	return ""
}

// plainIO says what the system complains about, without the path, which stands before it.
func plainIO(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "there is no such file or folder" + meant(err)
	case errors.Is(err, fs.ErrPermission):
		return "this user may not read or write it"
	}
	var withPath *fs.PathError
	if errors.As(err, &withPath) {
		return withPath.Err.Error()
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err.Error()
	}
	return err.Error()
}
