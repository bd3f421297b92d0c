package motion

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"weak"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// castFiles are a base, three variants and their family, on a rig.
func castFiles() map[string]*grammar.File {
	texts := limbSheet(sway + "\nplant\n  foot.left 1b..2b\n")
	texts["sheet.motet"] = strings.Replace(texts["sheet.motet"], "sheet s", "sheet base-wait", 1)
	for i, who := range []string{"ann", "bea", "cyd"} {
		texts[who+".motet"] = fmt.Sprintf("sheet %s-wait\n  from base-wait in \"sheet.motet\"\n\ntrack spine\n  at   lean\n  0b   %d\n  2b   -%d\n", who, i+2, 3*i+1)
	}
	texts["family.motet"] = "family folk\n  members \"*.motet\"\n  distinct 40%\n"
	files := map[string]*grammar.File{}
	for name, text := range texts {
		files[name] = grammar.Parse(name, text)
	}
	return files
}

func castProject(files map[string]*grammar.File) *Project {
	read := func(name string) (*grammar.File, error) { return files[name], nil }
	return NewProject(read).WithListing(func(string) []string {
		return []string{"ann.motet", "bea.motet", "cyd.motet", "family.motet", "rig.motet", "sheet.motet"}
	})
}

// TestAFamilyComparesAgainOnlyWhoHasChanged edits a member and then the base: the members are apart as those of a family that is
// read anew, bit for bit, and those that play as before are not looked at again.
func TestAFamilyComparesAgainOnlyWhoHasChanged(t *testing.T) {
	files := castFiles()
	m := castProject(files).Resolve(files["family.motet"])
	m.Family().Resemblance()
	for _, edit := range []struct {
		file, old, new string
		kept           int // members that play as before
	}{
		{"bea.motet", "0b   3", "0b   4", 3},
		{"bea.motet", "0b   4", "0b   4  # a hand's breadth", 4},
		{"sheet.motet", "1b   3", "1b   2", 0},
		{"sheet.motet", "1b..2b", "1b..3b", 0},
		{"family.motet", "40%", "50%", 4},
		{"cyd.motet", "sheet cyd-wait\n", "sheet cyd-wait\n  tempo 90 bpm\n", 3},
		{"rig.motet", "height 100", "height 101", 0},
	} {
		file := files[edit.file]
		text := strings.Replace(file.Text, edit.old, edit.new, 1)
		require.NotEqual(t, file.Text, text)
		files[edit.file] = grammar.Reparse(file, edit.file, text)
		before := m
		m = castProject(files).ResolveAgain(m, files["family.motet"])
		again, anew := m.Family().Resemblance(), castProject(files).Resolve(files["family.motet"]).Family().Resemblance()
		require.Len(t, again.Members, 4)
		require.Equal(t, anew.Distances, again.Distances, edit.new)
		require.InDelta(t, anew.Base, again.Base, 0)
		kept := 0
		for i, member := range again.Members {
			if member.Motion.whole == before.Family().Members[i].Motion.whole {
				kept++
			}
		}
		require.Equal(t, edit.kept, kept, edit.new)
	}
}

// TestOldVersionsAreForgotten resolves a family and a variant again and again, with and without asking for the members: nothing
// holds on to more than the version before.
func TestOldVersionsAreForgotten(t *testing.T) {
	for _, name := range []string{"family.motet", "ann.motet"} {
		for _, asks := range []bool{true, false} {
			files := castFiles()
			var m *Motion
			var versions []weak.Pointer[Motion]
			for i := range 8 {
				files[name] = grammar.Reparse(files[name], name, files[name].Text+fmt.Sprintf("# %d\n", i))
				m = castProject(files).ResolveAgain(m, files[name])
				if asks && m.family != nil {
					m.Family().Resemblance()
				}
				versions = append(versions, weak.Make(m))
			}
			runtime.GC()
			alive := 0
			for _, v := range versions {
				if v.Value() != nil {
					alive++
				}
			}
			require.LessOrEqual(t, alive, 2, "%s, members asked for: %v", name, asks)
			runtime.KeepAlive(m)
		}
	}
}
