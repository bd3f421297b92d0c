package exchange

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Import, export, import again: the second sheet is the first, rig and all, for every real clip; so it keeps to the
// original clip as the first does, by the witness. Fitted anew, an exported clip gives a sheet that keeps to it too.
func TestRealClipsRoundTrip(t *testing.T) {
	long(t)
	for _, path := range emotes(t) {
		t.Run(filepath.Base(path), func(t *testing.T) {
			first := imported(t, path)
			takes, file := exported(t, TakeWish{}, resolve(t, first))
			second, err := Import(Options{Path: file, ReadFile: os.ReadFile})
			require.NoError(t, err)
			require.Equal(t, first.SheetText, second.SheetText)
			require.Equal(t, first.RigText, second.RigText)
			require.Equal(t, first.SheetFile, second.SheetFile)
			original, err := os.ReadFile(path)
			require.NoError(t, err)
			requireWithin(t, DefaultWithin(), compare(t, second, original, 0))

			if name := filepath.Base(path); name != "idle.glb" && name != "walk.glb" {
				return // fitting takes long, and is held to all clips by other tests
			}
			data, err := WriteGLB(takes)
			require.NoError(t, err)
			anew, err := Import(Options{Path: file, ReadFile: os.ReadFile, Anew: true})
			require.NoError(t, err)
			requireWithin(t, DefaultWithin(), compare(t, anew, data, 0))
		})
	}
}

// Every sheet of the demo comes back out of its clip as it was written, with its bases and its rig; but for those that
// lean on files outside their folder.
func TestCastRoundTrips(t *testing.T) {
	long(t)
	back := 0
	for name, m := range cast(t) {
		takes, file := exported(t, TakeWish{}, m)
		r, err := Import(Options{Path: file, ReadFile: os.ReadFile})
		require.NoError(t, err, name)
		if strings.HasPrefix(m.File.Path, "glances/") {
			assert.Contains(t, r.Report[0], "not with all its files as they were and in its own folder")
			continue
		}
		back++
		require.Equal(t, m.File.Text, r.SheetText, "%s: %s", name, r.Report[0])
		require.Equal(t, name+".motet", r.SheetFile)
		got := map[string]string{r.RigFile: r.RigText}
		for _, other := range r.Others {
			got[other.Name] = other.Text
		}
		for _, source := range sourcesOf(takes[0].Motion) {
			assert.Equal(t, source.Text, got[source.Path], "%s: %s", name, source.Path)
		}
	}
	assert.Equal(t, 12, back)
}

// A clip that was changed after it was exported is fitted anew, and the report says why; so is one whose note was.
func TestCarriedSheetsAreHeldToTheirClips(t *testing.T) {
	m := sheetOf(t, map[string]string{"kinds.motet": kindsRig, "sheet.motet": `sheet kinds
  rig       kinds in "kinds.motet"
  rate      25 fps
  cycle     50f

track hips
  at      side
  0f      2
  25f     -2
`}, "sheet.motet")
	takes, _ := exported(t, TakeWish{}, m)
	imported := func(data []byte) *Result {
		r, err := Import(Options{Path: "clip.glb", ReadFile: func(string) ([]byte, error) { return data, nil }})
		require.NoError(t, err)
		return r
	}
	data, err := WriteGLB(takes)
	require.NoError(t, err)
	r := imported(data)
	assert.Equal(t, m.File.Text, r.SheetText)
	assert.Equal(t, `clip.glb, clip "kinds": it carries the sheet sheet.motet and still is its motion (off by at most 0.0001 cm and 0°), so that is written as it was`, r.Report[0])

	moved := *takes[0]
	moved.tracks = append([]track(nil), takes[0].tracks...)
	moved.tracks[0].values = append([]float64(nil), moved.tracks[0].values...)
	moved.tracks[0].values[moved.tracks[0].valueAt(1)] += 0.2
	data, err = WriteGLB([]*Take{&moved})
	require.NoError(t, err)
	assert.Contains(t, imported(data).Report[0], "is not its motion any more (off by up to 0.201 cm and 0°); it is fitted anew")

	slower := *takes[0]
	slower.tracks = append([]track(nil), takes[0].tracks...)
	slower.tracks[0].times = []float64{0, 1.5, 3}
	data, err = WriteGLB([]*Take{&slower})
	require.NoError(t, err)
	assert.Contains(t, imported(data).Report[0], "(it lasts 3 s and not 2)")

	data, err = WriteGLB(takes)
	require.NoError(t, err)
	text, body, err := unpack(data)
	require.NoError(t, err)
	for _, change := range [][2]string{
		{"25f     -2", "25f     -3"},                      // not what the hash says
		{`"file":"kinds.motet"`, `"file":"../kin.motet"`}, // outside the folder
		{`"file":"kinds.motet"`, `"file":"sheet.motet"`},  // twice one name
		{`"file":"kinds.motet"`, `"file":"/etc/k.motet"`}, // anywhere
		{`"file":"kinds.motet"`, `"file":"kinds.exe"`},    // no sheet
	} {
		changed := strings.Replace(string(text), change[0], change[1], 1)
		require.NotEqual(t, string(text), changed)
		assert.Contains(t, imported(pack([]byte(changed), body)).Report[0], "not with all its files as they were", change[1])
	}

	bare, err := NewTake(m, TakeWish{Bare: true})
	require.NoError(t, err)
	data, err = WriteGLB([]*Take{bare})
	require.NoError(t, err)
	assert.NotContains(t, string(data), "25f     -2")
	assert.NotContains(t, imported(data).Report[0], "carries")
}
