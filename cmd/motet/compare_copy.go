package main

import (
	"path/filepath"
	"slices"
	"strings"
)

// placeOfCopy is the path of the file that another one is a copy of; empty where that can't be told. As a textconv git hands
// over copies of what it has stored, in a folder for temporary files, under the file's own name or with something and `_`
// before it: such a one counts as the file of that name below the current folder. Of several, as where each member of a
// cast has a folder with a sheet called `wait`, it is the first that git knows to have had this text.
func placeOfCopy(all *projects, file string) string {
	found, _ := walk(all.current)
	var places []string
	for _, path := range found {
		if own := filepath.Base(path); filepath.Base(file) == own || strings.HasSuffix(file, "_"+own) {
			places = append(places, path)
		}
	}
	if len(places) < 2 {
		return strings.Join(places, "")
	}
	holders := holdersOf(all.current, file, places)
	for _, place := range places {
		if name, err := filepath.Rel(all.current, place); err == nil && slices.Contains(holders, filepath.ToSlash(name)) {
			return place
		}
	}
	return ""
}

// holdersOf asks git which of several files have the text of another one in the index or had it in a commit, by their paths
// from a folder: all that are staged so, or else those of the newest commit that brought the text or took it away. There
// are none where git can't tell.
func holdersOf(root, file string, among []string) (names []string) {
	path, err := filepath.Abs(file)
	if err != nil {
		return nil
	}
	object, err := git(root, "hash-object", "--no-filters", "--", path)
	if err != nil {
		return nil
	}
	blob := strings.TrimSpace(string(object))
	if staged, err := git(root, append([]string{"ls-files", "--stage", "-z", "--"}, among...)...); err == nil {
		for entry := range strings.SplitSeq(string(staged), "\x00") {
			if facts, name, ok := strings.Cut(entry, "\t"); ok && strings.Contains(facts, blob) {
				names = append(names, name)
			}
		}
	}
	if names == nil {
		log := []string{"log", "--all", "--max-count=1", "--format=", "--name-only", "--relative", "-z", "--find-object=" + blob, "--"}
		if changed, err := git(root, append(log, among...)...); err == nil {
			names = strings.Split(string(changed), "\x00")
		}
	}
	return names
}
