package main

import (
	"path/filepath"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
)

// importAll makes sheets over one rig of all clips. What can't be done of one of them costs the others nothing.
func (f *importFlags) importAll(c *console) int {
	options, err := f.options()
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	made, err := exchange.ImportAll(exchange.AllOptions{Paths: f.Clips, Options: options, Name: f.rigName()})
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	written, err := f.writeTexts(made.Files)
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
