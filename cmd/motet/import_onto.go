package main

import (
	"errors"
	"fmt"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/grammar"
)

// agree tells which flags do not go together.
func (f *importFlags) agree() error {
	switch {
	case f.Diff && f.Onto == "":
		return errors.New("--diff shows what --onto would change; add, say, --onto wait.motet")
	case f.Onto == "":
		return nil
	case f.List:
		return errors.New("--list only lists the clips; leave --onto out")
	case f.Out != ".":
		return errors.New("--onto writes into the sheet that it names; leave --out out")
	case f.Cycle || f.Anew || f.Force || f.Rate != "" || f.Tempo != "":
		return errors.New("--onto takes rate, tempo and length from the sheet; leave --cycle, --anew, --force, --rate and --tempo out")
	}
	return nil
}

// onto brings a clip back into a sheet.
func (f *importFlags) onto(c *console) int {
	if err := f.takeOver(c); err != nil {
		var short *leftOver
		if errors.As(err, &short) {
			return exitFound
		}
		c.complain("%v", err)
		return exitFailed
	}
	return exitClean
}

// A leftOver says that a sheet is written, but that its channels could not all be brought within the limits.
type leftOver struct{ channels int }

func (e *leftOver) Error() string {
	return fmt.Sprintf("%d channels are left outside the limits", e.channels)
}

func (f *importFlags) takeOver(c *console) error {
	options := exchange.OntoOptions{Path: f.Clip, ReadFile: readClip, Clip: f.ClipName}
	var err error
	if f.Within != "" {
		if options.Within, err = exchange.ParseWithin(f.Within); err != nil {
			return fmt.Errorf("--within: %w", err)
		}
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
