package exchange

import (
	"os"
	"testing"

	"github.com/qmuntal/gltf"
)

// Whatever a file holds, importing it together with a sound one, and once more over the rig that comes of it, ends in sheets
// that the language resolves, or in words.
func FuzzImportAll(f *testing.F) {
	keeper := lampKeeper(12, 24)
	sound := glb(f, keeper.document(f))
	short := lampKeeper(8, 24)
	short.clips = append(short.clips, clipSpec{"Held", []trackSpec{{node: 3, path: gltf.TRSRotation, times: []float32{0, 0.2}, values: [][]float32{{0, 0, 0.1, 0.995}, {0, 0, 0.1, 0.995}}}}}, clipSpec{name: "Empty"})
	f.Add(glb(f, short.document(f)))
	f.Add(glb(f, lamp().document(f)))
	f.Add(glb(f, smiling(f)))
	f.Add([]byte(`{"asset":{"version":"2.0"},"nodes":[{"children":[1]},{"children":[0]}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		files := map[string][]byte{"a.glb": data, "b.glb": sound}
		read := func(path string) ([]byte, error) {
			if files[path] == nil {
				return nil, os.ErrNotExist
			}
			return files[path], nil
		}
		d, err := Read("a.glb", read)
		if err != nil {
			return
		}
		for i := range d.Clips {
			if clip, err := timingOf(&d.Clips[i], Rate{}); err == nil && clip.frames > 100 || len(d.Clips) > 8 {
				return // they only take long
			}
		}
		all, err := ImportAll(AllOptions{Paths: []string{"a.glb", "b.glb"}, Options: Options{ReadFile: read}})
		if err != nil {
			return
		}
		for i := range all.Clips {
			if c := &all.Clips[i]; c.Err == nil && len(c.Others) == 0 && c.RigFile != "" {
				resolve(t, c.Result)
			}
		}
		if all.Rig.Text == "" {
			return
		}
		over, err := ImportAll(AllOptions{Paths: []string{"a.glb"}, Options: Options{ReadFile: read}, Over: overRig(t, all.Rig.Name, all.Rig.Text)})
		if err != nil {
			return
		}
		for i := range over.Clips {
			if c := &over.Clips[i]; c.Err == nil && c.RigFile == "" && len(c.Others) == 0 {
				resolve(t, withRig(over, c))
			}
		}
	})
}
