package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhatOthersRestOnIsMendedFirst(t *testing.T) {
	folder := t.TempDir()
	texts := map[string]string{
		"house.motet": "house\n",
		"a.motet":     "sheet a\n  from b in \"b.motet\"\n",
		"b.motet":     "sheet b\n  from c in \"c.motet\"\n  rig r in \"r.motet\"\n",
		"c.motet":     "sheet c\n  rig r in \"r.motet\"\n",
		"r.motet":     "rig r\n",
		"x.motet":     "sheet x\n  from y in \"y.motet\"\n",
		"y.motet":     "sheet y\n  from x in \"x.motet\"\n",
		"z.motet":     "sheet z\n  from n in \"nowhere.motet\"\n",
	}
	var files []string
	for _, name := range []string{"a", "b", "c", "house", "r", "x", "y", "z"} {
		path := filepath.Join(folder, name+".motet")
		require.NoError(t, os.WriteFile(path, []byte(texts[name+".motet"]), 0o666))
		files = append(files, path)
	}
	all, err := newProjects()
	require.NoError(t, err)
	var got [][]string
	for _, group := range restingOrder(all, files) {
		var names []string
		for _, path := range group {
			names = append(names, filepath.Base(path))
		}
		got = append(got, names)
	}
	assert.Equal(t, [][]string{{"house.motet", "r.motet", "y.motet", "z.motet"}, {"c.motet", "x.motet"}, {"b.motet"}, {"a.motet"}}, got)
}
