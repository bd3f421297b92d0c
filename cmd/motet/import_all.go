package main

import (
	"fmt"
	"path/filepath"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/grammar"
)

// importAll makes sheets over one rig of all clips. What can't be done of one of them costs the others nothing.
func (f *importFlags) importAll(c *console) int {
	options, err := f.options()
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	all := exchange.AllOptions{Paths: f.Clips, Options: options, Name: f.rigName()}
	var rig *fileVersion
	if f.Rig != "" {
		if rig, all.Over, err = f.overRig(); err != nil {
			c.complain("%v", err)
			return exitFailed
		}
	}
	made, err := exchange.ImportAll(all)
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	var written []string
	if err = f.allFree(made.Files); err == nil && rig != nil && made.Rig.Text != "" && made.Rig.Text != rig.text {
		// Before the sheets that need its new dials: the others do without.
		if err = rig.replace(made.Rig.Text); err != nil {
			err = fmt.Errorf("%s: %s", f.Rig, plainIO(err))
		} else {
			written = append(written, f.Rig)
		}
	}
	if err == nil {
		var sheets []string
		sheets, err = f.writeTexts(made.Files)
		written = append(written, sheets...)
	}
	if err != nil {
		for _, path := range written {
			c.print("wrote " + path + "\n")
		}
		c.complain("%v", err)
		return exitFailed
	}
	code := exitClean
	for _, clip := range made.Clips {
		if clip.Err != nil || clip.Outside {
			code = exitFound
		}
		if clip.Err != nil {
			continue
		}
		for n, line := range clip.Report {
			if n > 0 {
				line = "  " + line
			}
			c.print(line + "\n")
		}
	}
	for _, line := range made.Report {
		c.print(line + "\n")
	}
	for _, path := range written {
		c.print("wrote " + path + "\n")
	}
	for _, clip := range made.Clips {
		if clip.Err != nil {
			c.complain("%s; it is left out", clip.Trouble())
		}
	}
	return code
}

// overRig reads the rig that --rig names, and its name as a sheet in the folder of --out writes it.
func (f *importFlags) overRig() (*fileVersion, *exchange.OverRig, error) {
	old, err := readVersion(f.Rig)
	if err != nil {
		return nil, nil, fmt.Errorf("--rig: %s: %s", f.Rig, plainIO(err))
	}
	all, err := newProjects(f.Rig)
	if err != nil {
		return nil, nil, fmt.Errorf("the current folder can't be found: %s", plainIO(err))
	}
	p, name := all.of(f.Rig)
	tree := grammar.Parse(name, old.text)
	if tree.First(grammar.RigBlock) == nil {
		return nil, nil, fmt.Errorf("--rig: %s has no rig; name a file with one", f.Rig)
	}
	m := p.Resolve(tree)
	if err := sound(m, all.naming(p)); err != nil {
		return nil, nil, fmt.Errorf("--rig: %w", err)
	}
	if m.Rig == nil || len(m.Rig.Joints) == 0 {
		return nil, nil, fmt.Errorf("--rig: the rig in %s has no joints to bring a clip onto", f.Rig)
	}
	out, err := filepath.Rel(p.root, all.absolute(f.Out))
	if err != nil || !filepath.IsLocal(out) {
		return nil, nil, fmt.Errorf("--out: %s is not in the project of the rig, which is %s; a sheet names files of its project only", f.Out, p.root)
	}
	file, err := filepath.Rel(out, filepath.FromSlash(name))
	if err != nil {
		return nil, nil, fmt.Errorf("--rig: %s can't be named from %s", f.Rig, f.Out)
	}
	return old, &exchange.OverRig{Rig: m.Rig, Text: old.text, File: filepath.ToSlash(file)}, nil
}

// rigName is the name of a rig for several files: that of the folder that they are in. One file gives its own.
func (f *importFlags) rigName() string {
	if len(f.Clips) == 1 {
		return ""
	}
	folder := ""
	for _, path := range f.Clips {
		absolute, err := filepath.Abs(path)
		if err != nil {
			return ""
		}
		if in := filepath.Base(filepath.Dir(absolute)); folder != "" && in != folder {
			return ""
		} else {
			folder = in
		}
	}
	return folder
}
