package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

const rulesHelp = `
motet rules [FOLDER]

Lists each rule with its level and its limit as they are in force for the sheets
of a folder, and where that was set: ` + "`default`" + `, or the row of a house as
FILE:LINE. Without a FOLDER, the current one counts. Given a sheet instead, its
own house counts too.

exit codes:
  0  done
  2  there is no such folder, or a house.motet could not be read
`

type rulesFlags struct {
	Folder string `arg:"" optional:"" default:"."`
}

func (f *rulesFlags) run(c *console) int {
	all, err := newProjects(f.Folder)
	if err != nil {
		c.complain("the current folder can't be found: %s", plainIO(err))
		return exitFailed
	}
	path, text, err := sheetIn(f.Folder)
	if err != nil {
		c.complain("%s: %s", f.Folder, plainIO(err))
		return exitFailed
	}
	p, name := all.of(path)
	if fault := p.unreadHouse(name); fault != "" {
		c.complain("%s", fault)
		return exitFailed
	}
	m := p.Resolve(grammar.Parse(name, text))
	c.print(settingsTable(lint.Settings(m), func(at grammar.Ref) string { return all.setAt(p, m, at) }))
	return exitClean
}

// sheetIn gives a path inside a folder for which its rules can be asked, and what stands there: nothing, or the sheet
// where one is named.
func sheetIn(folder string) (path, text string, err error) {
	info, err := os.Stat(folder)
	switch {
	case err != nil:
		return "", "", err
	case info.IsDir():
		return filepath.Join(folder, ".any"+sheetSuffix), "", nil
	case !strings.HasSuffix(folder, sheetSuffix):
		return "", "", errors.New("it is neither a folder nor a sheet; name a folder")
	}
	text, err = readFile(folder)
	return folder, text, err
}

// unreadHouse tells which house.motet that holds for a file is there but can't be read.
func (p *project) unreadHouse(name string) string {
	for folder := filepath.Dir(filepath.FromSlash(name)); ; folder = filepath.Dir(folder) {
		path := filepath.Join(folder, motion.HouseFile)
		if exists(filepath.Join(p.root, path)) {
			if _, err := p.tree(filepath.ToSlash(path)); err != nil {
				return fmt.Sprintf("%s: %s", filepath.ToSlash(path), err)
			}
		}
		if folder == "." || folder == filepath.Dir(folder) {
			return ""
		}
	}
}

// setAt is where a setting stands, as FILE:LINE.
func (all *projects) setAt(p *project, m *motion.Motion, at grammar.Ref) string {
	if at.IsZero() {
		return "default"
	}
	place, ok := all.place(p, m, at)
	if !ok {
		return "default"
	}
	return fmt.Sprintf("%s:%d", place.Path, place.File.LineAt(place.Span.Start)+1)
}

func settingsTable(settings []lint.Setting, setAt func(grammar.Ref) string) string {
	rows := [][4]string{{"rule", "level", "limit", "set by"}}
	for i := range settings {
		rule := settings[i].Rule
		limit := rule.LimitsText()
		if limit == "" {
			limit = "."
		}
		rows = append(rows, [4]string{rule.Name, rule.Level.String(), limit, setAt(settings[i].From)})
	}
	var width [3]int
	for _, row := range rows {
		for i := range width {
			width[i] = max(width[i], len(row[i]))
		}
	}
	var out strings.Builder
	for _, row := range rows {
		fmt.Fprintf(&out, "%-*s  %-*s  %-*s  %s\n", width[0], row[0], width[1], row[1], width[2], row[2], row[3])
	}
	return out.String()
}
