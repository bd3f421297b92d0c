package watch

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// change writes another text over part of a file.
func change(t require.TestingT, path, old, next string) {
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	changed := strings.Replace(string(text), old, next, 1)
	require.NotEqual(t, string(text), changed, "%s does not say %q", path, old)
	save(t, path, changed)
}

// save puts a text in a file's place in one step. One that is emptied first would be missed by a page where the test itself is
// held up for longer than [grace] before it writes, as on a machine with much else to do; TestASheetThatIsWrittenAnewStays
// empties files.
func save(t require.TestingT, path, text string) {
	next, err := os.CreateTemp("", "saved")
	require.NoError(t, err)
	_, err = next.WriteString(text)
	require.NoError(t, err)
	require.NoError(t, next.Close())
	require.NoError(t, os.Rename(next.Name(), path))
}

func byPath(sheets []Sheet) map[string]Sheet {
	out := map[string]Sheet{}
	for _, s := range sheets {
		out[s.Path] = s
	}
	return out
}

// TestASaveTouchesWhatDependsOnIt holds that a save makes anew the sheets that rest on the file, and no others.
func TestASaveTouchesWhatDependsOnIt(t *testing.T) {
	folder, source := quay(t)
	read := func(changed ...string) map[string]Sheet {
		sheets, _, err := source(Ask{Changed: changed})
		require.NoError(t, err)
		return byPath(sheets)
	}
	touched := func(name, old, next string) (out []string) {
		before := read()
		path := filepath.Join(folder, name)
		change(t, path, old, next)
		for name, s := range read(path) {
			if before[name].Motion != s.Motion {
				out = append(out, name)
			}
		}
		return out
	}
	all := read()
	assert.Equal(t, []string{"clerk.motet"}, touched("clerk.motet", "track head", "track head # later"), "nobody is made from the clerk")
	require.Equal(t, "keeper.motet", all["apprentice.motet"].Motion.Base.File.Path)
	assert.Contains(t, touched("keeper.motet", "hips/side         5.4", "hips/side         5.5"), "apprentice.motet")
	assert.Len(t, touched("quayfolk.motet", "height    168", "height    169"), len(withRig(all, "quayfolk")))
	assert.Empty(t, touched("quayfolk-family.motet", "\n", "\n\n"), "a family moves nobody")
}

func withRig(sheets map[string]Sheet, name string) (out []string) {
	for path, s := range sheets {
		for _, file := range s.Motion.Linked {
			if file.Path == name+".motet" {
				out = append(out, path)
				break
			}
		}
	}
	return out
}

// TestReadingAgainEqualsReadingAnew saves at random, and compares what a reader that has seen all of it gives with what a
// new one does.
func TestReadingAgainEqualsReadingAnew(t *testing.T) {
	edits := []struct{ file, old, next string }{
		{"keeper.motet", "hips/side         5.4", "hips/side         7"},
		{"keeper.motet", "7/2b    on-right", "4b      on-right"},
		{"keeper.motet", "on-left", "on-lfet"},
		{"quayfolk.motet", "height    168", "height    150"},
		{"quayfolk-family.motet", "family quayfolk", "family quay"},
		{"apprentice.motet", "from", "form"},
		{"house.motet", "house\n  rule      level\n  off-beat  error\n", ""},
	}
	rapid.Check(t, func(t *rapid.T) {
		folder, err := os.MkdirTemp("", "quay")
		require.NoError(t, err)
		defer func() { _ = os.RemoveAll(folder) }()
		for _, name := range []string{"keeper", "apprentice", "apprentice-rig", "clerk", "quayfolk", "quayfolk-family"} {
			text, err := os.ReadFile("../../testdata/quay/" + name + ".motet")
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(folder, name+".motet"), text, 0o666))
		}
		source, on := sourceOf(folder), make([]bool, len(edits))
		for _, i := range rapid.SliceOfN(rapid.IntRange(0, len(edits)-1), 1, 4).Draw(t, "edits") {
			e := edits[i]
			path := filepath.Join(folder, e.file)
			switch {
			case e.next == "" && on[i]:
				require.NoError(t, os.Remove(path))
			case e.next == "":
				require.NoError(t, os.WriteFile(path, []byte(e.old), 0o666))
			case on[i]:
				change(t, path, e.next, e.old)
			default:
				change(t, path, e.old, e.next)
			}
			on[i] = !on[i]
			kept, _, err := source(Ask{Changed: []string{path}})
			require.NoError(t, err)
			anew, _, err := sourceOf(folder)(Ask{})
			require.NoError(t, err)
			require.Len(t, kept, len(anew))
			checked := rapid.IntRange(-1, len(anew)-1).Draw(t, "checked")
			for k := range anew {
				require.Equal(t, problems(anew[k].Motion), problems(kept[k].Motion), anew[k].Path)
				require.Equal(t, anew[k].Motion.Whole(), kept[k].Motion.Whole())
				if anew[k].Motion.Whole() {
					require.Equal(t, anew[k].Motion.World(20), kept[k].Motion.World(20), anew[k].Path)
				}
				if k == checked {
					require.Equal(t, messages(anew[k].Findings()), messages(kept[k].Findings()), anew[k].Path)
				}
			}
		}
	})
}

func messages(found []lint.Finding) (out []string) {
	for _, f := range found {
		out = append(out, f.Rule+" "+f.Level.String()+" "+f.Message)
	}
	return out
}

func problems(m *motion.Motion) (out []string) {
	for _, p := range m.Problems {
		out = append(out, p.Rule+" "+p.Message)
	}
	return out
}

// TestASheetThatIsWrittenAnewStays takes a sheet away and writes it again, as many programs save, and then for good.
func TestASheetThatIsWrittenAnewStays(t *testing.T) {
	folder, source := quay(t)
	path := filepath.Join(folder, "clerk.motet")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	synctest.Test(t, func(t *testing.T) { // whose clock stands while anything is done
		page := New(source, nil)
		paths := func() (out []string) {
			for _, s := range page.reading().sheets {
				out = append(out, s.Path)
			}
			return out
		}
		all := paths()
		require.Len(t, all, 12)
		for _, away := range []func() error{
			func() error { return os.Truncate(path, 0) },
			func() error { return os.Remove(path) },
		} {
			require.NoError(t, away())
			page.Refresh(path)
			time.Sleep(grace - 1)
			page.Refresh(path)
			assert.Equal(t, all, paths())
			require.NoError(t, os.WriteFile(path, text, 0o666))
			page.Refresh(path)
			time.Sleep(grace)
			synctest.Wait()
			assert.Equal(t, all, paths())
		}
		require.NoError(t, os.Remove(path))
		page.Refresh(path)
		assert.Equal(t, all, paths())
		time.Sleep(grace)
		synctest.Wait()
		assert.Len(t, paths(), 11)
		assert.NotContains(t, paths(), "clerk.motet")
	})
}

// TestAFolderComesBack takes the whole folder away, as a change of branches may, and brings it back.
func TestAFolderComesBack(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "quay")
	sheet := func(value int) {
		require.NoError(t, os.MkdirAll(folder, 0o777))
		require.NoError(t, os.WriteFile(filepath.Join(folder, "crate.motet"), fmt.Appendf(nil, "sheet crate-wait%d\n", value), 0o666))
	}
	sheet(1)
	source := sourceOf(folder)
	page, _ := serve(t, func(ask Ask) ([]Sheet, []string, error) {
		sheets, folders, err := source(ask)
		if len(sheets) == 0 {
			err = errors.New("nobody is there")
		}
		return sheets, folders, err
	}, nil)
	require.NoError(t, os.RemoveAll(folder))
	require.Eventually(t, func() bool { return page.reading().problem != "" }, time.Minute, 10*time.Millisecond)
	sheet(2)
	require.Eventually(t, func() bool {
		now := page.reading()
		return now.problem == "" && now.sheets[0].Motion.Sheet.Name == "crate-wait2"
	}, time.Minute, 10*time.Millisecond)
}
