package exchange

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/qmuntal/gltf"
)

// FuzzImport reads whatever bytes it is given: it may refuse them, but it may not panic, and
// it may not ask for more than a multiple of their size.
func FuzzImport(f *testing.F) {
	for _, p := range []puppet{lamp(), lampKeeper(8, 24)} {
		doc := p.document(f)
		f.Add(glb(f, doc))
		doc.Buffers[0].EmbeddedResource()
		text, err := json.Marshal(doc)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	cubic := lamp()
	cubic.clips[0].tracks = []trackSpec{{path: gltf.TRSTranslation, kind: gltf.InterpolationCubicSpline, times: []float32{0, 1}, values: [][]float32{{0, 0, 0}, {0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {0, 0, 1}}}}
	f.Add(glb(f, cubic.document(f)))
	f.Add([]byte(`{"asset":{"version":"2.0"},"nodes":[{"children":[1]},{"children":[0]}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		read := func(path string) ([]byte, error) {
			if path != "a.glb" {
				return nil, os.ErrNotExist
			}
			return data, nil
		}
		d, err := Read("a.glb", read)
		if err != nil {
			return
		}
		List(d)
		for i := range d.Clips {
			// Long clips only take long.
			if t, err := timingOf(&d.Clips[i], Rate{}); err != nil || t.frames > 300 {
				continue
			}
			r, err := Import(Options{Path: "a.glb", ReadFile: read, Clip: d.word(i)})
			if err == nil {
				resolve(t, r)
			}
		}
	})
}
