package exchange

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two sheets that go into one character's file in turns, day after day, leave no numbers of earlier days there: in all
// forms of file, with the clip first or last in it. All clips keep their motion, and other clips their numbers.
func TestIntoInTurnsDoesNotGrow(t *testing.T) {
	all := characters()
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "character.bin"), all["character.bin"], 0o666))
	delete(all, "character.bin")
	takes := map[string]*Take{}
	for _, name := range []string{"one", "two", "three"} {
		var err error
		takes[name], err = NewTake(coatSheet(t, name), TakeWish{})
		require.NoError(t, err)
	}
	var files []string
	for form, before := range all {
		t.Run(form, func(t *testing.T) {
			path := filepath.Join(folder, form)
			data := before
			var size int
			for day, name := range []string{"one", "two", "three", "one", "two", "one", "three", "three", "two"} {
				out, err := Into(form, data, takes[name])
				require.NoError(t, err)
				if data = out; day >= 3 {
					assert.Equal(t, size, len(data), "day %d, %s", day, name)
				}
				size = len(data)
			}
			require.NoError(t, os.WriteFile(path, data, 0o666))
			d := read(t, path)
			names := map[string]bool{}
			for i := range d.Clips {
				names[d.Clips[i].Name] = true
				if take := takes[d.Clips[i].Name]; take != nil {
					l, err := LikenessToSheet(take.Motion, d, take.Name)
					require.NoError(t, err)
					place, _, joint, _ := l.Largest()
					assert.Less(t, place.Largest, ExportWithin().WorldCM, "%s: %s", take.Name, joint)
				}
			}
			for name := range takes {
				assert.True(t, names[name], name)
			}
			requireOnlyAdded(t, before, data)
		})
		if !strings.HasPrefix(form, "no-") && form != "character.gltf" { // the validator reads no files beside one
			files = append(files, filepath.Join(folder, form))
		}
	}
	requireValid(t, files...)
}

// All sheets of a folder that go into one file together leave it as large as the round before, in a .gltf too.
func TestIntoAllOfAFolderDoesNotGrow(t *testing.T) {
	var takes []*Take
	for _, name := range []string{"one", "two"} {
		take, err := NewTake(coatSheet(t, name), TakeWish{})
		require.NoError(t, err)
		takes = append(takes, take)
	}
	for form, data := range characters() {
		if strings.HasSuffix(form, ".bin") {
			continue
		}
		first, _, err := IntoAll(form, data, takes)
		require.NoError(t, err)
		second, _, err := IntoAll(form, first, takes)
		require.NoError(t, err)
		assert.Equal(t, len(first), len(second), form)
	}
}

// Numbers that something else uses stay, and so do those that lie before what is not a clip's: nobody's file is moved
// about for the sake of some bytes.
func TestIntoKeepsNumbersThatOthersUse(t *testing.T) {
	take, err := NewTake(coatSheet(t, "one"), TakeWish{})
	require.NoError(t, err)
	for form, data := range characters() {
		if strings.HasPrefix(form, "no-") || strings.HasSuffix(form, ".bin") {
			continue
		}
		first, err := Into(form, data, take)
		require.NoError(t, err)
		text, body, err := unpack(first)
		require.NoError(t, err)
		file, err := parse(text)
		require.NoError(t, err)
		accessor, view := len(file.Accessors)-1, len(file.BufferViews)-1
		uses := map[string][2]string{
			"another clip":       {`"animations":[`, fmt.Sprintf(`"animations":[{"name":"borrows","samplers":[{"input":%d,"output":%d}],"channels":[{"sampler":0,"target":{"node":3,"path":"translation"}}]},`, accessor, accessor)},
			"a skin":             {`"inverseBindMatrices": 4`, fmt.Sprintf(`"inverseBindMatrices": %d`, accessor)},
			"a mesh":             {`"JOINTS_0": 2`, fmt.Sprintf(`"JOINTS_0": %d`, accessor)},
			"a picture":          {`"bufferView": 7, "mimeType"`, fmt.Sprintf(`"bufferView": %d, "mimeType"`, view)},
			"an extension":       {`"texture": 0`, fmt.Sprintf(`"texture": %d`, accessor)},
			"an earlier numbers": {`{"bufferView": 2, "componentType"`, fmt.Sprintf(`{"bufferView": %d, "componentType"`, view)},
		}
		for what, use := range uses {
			used := []byte(strings.Replace(string(text), use[0], use[1], 1))
			require.NotEqual(t, text, used, "%s: %s", form, what)
			if body != nil {
				used = pack(used, body)
			}
			again, err := Into(form, used, take)
			require.NoError(t, err, "%s: %s", form, what)
			after, bodyAfter, err := unpack(again)
			require.NoError(t, err)
			requireStarts(t, anything(t, textOf(t, used)), anything(t, after))
			if body != nil {
				assert.True(t, strings.HasPrefix(string(bodyAfter), string(body[:file.Buffers[0].ByteLength])), "%s: %s", form, what)
			}
		}
	}
}

func textOf(t testing.TB, data []byte) []byte {
	t.Helper()
	text, _, err := unpack(data)
	require.NoError(t, err)
	return text
}

// requireStarts holds that a file has all accessors and bufferViews of another.
func requireStarts(t testing.TB, before, after map[string]any) {
	t.Helper()
	for _, name := range []string{"accessors", "bufferViews"} {
		list, longer := before[name].([]any), after[name].([]any)
		require.Greater(t, len(longer), len(list), name)
		assert.Equal(t, list, longer[:len(list)], name)
	}
}
