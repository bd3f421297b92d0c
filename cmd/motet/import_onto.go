package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/grammar"
)

// agree tells which flags do not go together.
func (f *importFlags) agree() error {
	switch {
	case f.All && (f.Onto != "" || f.Base != ""):
		return errors.New("--all makes sheets over one new rig; --onto and --base are for one clip: leave one out")
	case len(f.Clips) > 1 && !f.All && !f.List:
		return fmt.Errorf("%d files are named; add --all for their clips as sheets over one rig, or name one", len(f.Clips))
	case f.Diff && f.Onto == "":
		return errors.New("--diff shows what --onto would change; add, say, --onto wait.motet")
	case f.Rig != "" && f.Base == "" && !f.All:
		return errors.New("--rig is the rig of a variant, or one for --all; add its base, say, --base wait.motet, or --all")
	case f.Still != "" && (f.Onto != "" || f.Base != "" || f.NoPlants || f.List):
		return errors.New("--still plants the ends of clips that become sheets of their own; leave --onto, --base, --list and --no-plants out")
	case f.Onto == "" && f.Base == "":
		return nil
	case f.Onto != "" && f.Base != "":
		return errors.New("--onto changes a sheet and --base makes a new one; leave one out")
	}
	flag := "--onto"
	if f.Base != "" {
		flag = "--base"
	}
	switch {
	case f.List:
		return fmt.Errorf("--list only lists the clips; leave %s out", flag)
	case f.Onto != "" && (f.Out != "." || f.Force):
		return errors.New("--onto writes into the sheet that it names; leave --out and --force out")
	case f.NoPlants:
		return fmt.Errorf("%s takes chains and plants from the sheet; leave --no-plants out", flag)
	case f.Cycle || f.Anew || f.Rate != "" || f.Tempo != "":
		return fmt.Errorf("%s takes rate, tempo and length from the sheet; leave --cycle, --anew, --rate and --tempo out", flag)
	}
	return nil
}

// report turns what came of an import into its exit code.
func (f *importFlags) report(c *console, err error) int {
	var short *leftOver
	switch {
	case err == nil:
		return exitClean
	case errors.As(err, &short):
		return exitFound
	}
	c.complain("%v", err)
	return exitFailed
}

// A leftOver says that a sheet is written, but that its channels could not all be brought within the limits.
type leftOver struct{ channels int }

func (e *leftOver) Error() string {
	return fmt.Sprintf("%d channels are left outside the limits", e.channels)
}

func (f *importFlags) takeOver(c *console) error {
	options := exchange.OntoOptions{Path: f.Clips[0], ReadFile: readClip, Clip: f.ClipName}
	var err error
	if options.Within, err = f.within(); err != nil {
		return err
	}
	old, err := readVersion(f.Onto)
	if err != nil {
		return fmt.Errorf("%s: %s", f.Onto, plainIO(err))
	}
	all, err := newProjects(f.Onto)
	if err != nil {
		return fmt.Errorf("the current folder can't be found: %s", plainIO(err))
	}
	p, name := all.of(f.Onto)
	options.Sheet, options.Trees = grammar.Parse(name, old.text), p.tree
	if err := sound(p.Resolve(options.Sheet), all.naming(p)); err != nil {
		return fmt.Errorf("--onto: %w", err)
	}
	made, err := exchange.Onto(options)
	if err != nil {
		return err
	}
	if f.Diff {
		_, _ = c.out.Write(unified(all.shown(p, name), old.text, made.Text))
		return nil
	}
	if made.Text != old.text {
		if err := old.replace(made.Text); err != nil {
			return fmt.Errorf("%s: %s", f.Onto, plainIO(err))
		}
	}
	for _, line := range made.Report {
		c.print(line + "\n")
	}
	if made.Text != old.text {
		c.print("wrote " + f.Onto + "\n")
	} else {
		c.print(f.Onto + " stays as it is\n")
	}
	if made.Short > 0 {
		return &leftOver{made.Short}
	}
	return nil
}

// asVariant imports a clip as a variant of a sheet.
func (f *importFlags) asVariant(c *console) error {
	options := exchange.BaseOptions{Path: f.Clips[0], ReadFile: readClip, Clip: f.ClipName}
	var err error
	if options.Within, err = f.within(); err != nil {
		return err
	}
	all, err := newProjects(f.Base)
	if err != nil {
		return fmt.Errorf("the current folder can't be found: %s", plainIO(err))
	}
	p, name := all.of(f.Base)
	options.Trees = p.tree
	if options.Base, err = treeAt(f.Base, name); err != nil {
		return err
	}
	if err := sound(p.Resolve(options.Base), all.naming(p)); err != nil {
		return fmt.Errorf("--base: %w", err)
	}
	if f.Rig != "" {
		other, rig := all.of(f.Rig)
		if other.root != p.root {
			return fmt.Errorf("--rig: %s is not in the project of the base, which is %s", f.Rig, p.root)
		}
		if options.Rig, err = treeAt(f.Rig, rig); err != nil {
			return err
		}
		if options.Rig.First(grammar.RigBlock) == nil {
			return fmt.Errorf("--rig: %s has no rig; name a file with one", f.Rig)
		}
	}
	folder, err := filepath.Rel(p.root, all.absolute(f.Out))
	if err != nil || !filepath.IsLocal(folder) {
		return fmt.Errorf("--out: %s is not in the project of the base, which is %s; a sheet names files of its project only", f.Out, p.root)
	}
	options.Folder = filepath.ToSlash(folder)
	made, err := exchange.ImportBase(options)
	if err != nil {
		return err
	}
	written, err := f.write(&exchange.Result{SheetFile: made.SheetFile, SheetText: made.Text})
	if err != nil {
		return err
	}
	for _, line := range made.Report {
		c.print(line + "\n")
	}
	for _, path := range written {
		c.print("wrote " + path + "\n")
	}
	if made.Short > 0 {
		return &leftOver{made.Short}
	}
	return nil
}

// treeAt reads and parses a file by its name in its project.
func treeAt(path, name string) (*grammar.File, error) {
	text, err := readFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %s", path, plainIO(err))
	}
	return grammar.Parse(name, text), nil
}
