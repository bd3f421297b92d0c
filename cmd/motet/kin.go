package main

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
)

// mostKin is how many files a folder may have for its families to be looked for: reading more would take longer than the
// check of the one file that was asked for.
const mostKin = 200

// kin are the families beside some checked sheets that count one of them as a member and were not checked themselves: what
// the members have in common is reported in their files. It looks into the sheets' own folders alone, and only where all
// paths that were asked for are files.
func kin(all *projects, asked, checked, sheets []string) (families []string, member string) {
	if len(asked) == 0 || slices.ContainsFunc(asked, isFolder) {
		return nil, ""
	}
	byFolder := map[string][]string{}
	for _, sheet := range sheets {
		byFolder[filepath.Dir(sheet)] = append(byFolder[filepath.Dir(sheet)], sheet)
	}
	for folder, own := range byFolder {
		entries, err := os.ReadDir(folder)
		if err != nil || len(entries) > mostKin {
			continue
		}
		for _, entry := range entries {
			file := filepath.Join(folder, entry.Name())
			if !entry.Type().IsRegular() || !strings.HasSuffix(file, sheetSuffix) || slices.Contains(checked, file) {
				continue
			}
			pattern := membersOf(all, file)
			for _, sheet := range own {
				if _, name := all.of(sheet); pattern != "" && matches(pattern, name) {
					families, member = append(families, file), sheet
					break
				}
			}
		}
	}
	slices.Sort(families)
	return families, member
}

func matches(pattern, name string) bool {
	ok, err := path.Match(pattern, name)
	return ok && err == nil
}

// membersOf is the pattern of a family's members from the project's root; empty where the file has no family, or cannot be
// read, which is told where it is asked for.
func membersOf(all *projects, file string) string {
	text, err := readFile(file)
	if err != nil || !strings.Contains(text, grammar.FamilyBlock.Word()) {
		return ""
	}
	_, name := all.of(file)
	family := grammar.Parse(name, text).First(grammar.FamilyBlock)
	if family == nil {
		return ""
	}
	for _, stmt := range family.Entries() {
		if line, ok := stmt.(*grammar.MembersLine); ok {
			return path.Join(path.Dir(name), line.Files.Text())
		}
	}
	return ""
}

// tellKin says below a report for people that a family would have more to say.
func (f *checkFlags) tellKin(c *console, all *projects, checked, sheets []string) {
	if f.Format != "text" || len(f.Rule) > 0 || f.Since != "" {
		return
	}
	families, member := kin(all, f.Paths, checked, sheets)
	for i := range families {
		families[i] = report.Printable(filepath.ToSlash(families[i]))
	}
	switch len(families) {
	case 0:
	case 1:
		c.print(fmt.Sprintf("`motet check %s` checks what %s has in common with its family\n", families[0], report.Printable(filepath.ToSlash(member))))
	default:
		c.print(fmt.Sprintf("`motet check %s` checks what these have in common with their families\n", strings.Join(families, " ")))
	}
}
