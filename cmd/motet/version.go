package main

import (
	"runtime"
	"runtime/debug"
)

const versionHelp = `
motet version

Prints the version of motet, the Go version that it was built with, and the
kind of machine that it was built for.

exit code:
  0  always
`

type versionFlags struct{}

func (*versionFlags) run(c *console) int {
	c.print("motet " + version() + " (" + runtime.Version() + ", " + runtime.GOOS + "/" + runtime.GOARCH + ")\n")
	return exitClean
}

// version is the module's version, or for a build from a work tree the commit that it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	text := info.Main.Version
	if text != "" && text != "(devel)" {
		return text
	}
	text = "unreleased"
	modified := ""
	for _, setting := range info.Settings {
		switch setting.Key {
		case "vcs.revision":
			text += " " + setting.Value[:min(12, len(setting.Value))]
		case "vcs.modified":
			if setting.Value == "true" {
				modified = " with changes"
			}
		}
	}
	return text + modified
}
