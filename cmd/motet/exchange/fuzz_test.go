package exchange

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/require"
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
	f.Add(packedPuppet(f, nil))
	f.Add(glb(f, smiling(f)))
	_, file := exported(f, TakeWish{}, faceMotion(f, faceSheet))
	f.Add(mustRead(f, file))
	for _, data := range hostile() {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		read := func(path string) ([]byte, error) {
			if path != "a.glb" {
				return nil, os.ErrNotExist
			}
			return data, nil
		}
		d, err := readInMemory(t, data, read)
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

// readInMemory reads a file and holds what it asks for to a multiple of the file's size.
func readInMemory(t testing.TB, data []byte, read func(string) ([]byte, error)) (*Document, error) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	d, err := Read("a.glb", read)
	runtime.ReadMemStats(&after)
	// All that was ever asked for, also what is free again: mostly by the decoders of JSON.
	if asked := after.TotalAlloc - before.TotalAlloc; asked > 16<<20+300*uint64(len(data)) {
		t.Fatalf("reading %d bytes took %d bytes of memory", len(data), asked)
	}
	return d, err
}

// hostile are small files that ask for much: by accessors without bytes, by accessors that all read the same bytes, by a
// thousand nodes that stand still for an hour, and by animations without end.
func hostile() map[string][]byte {
	list := func(n int, item func(i int) string) string {
		var out []string
		for i := range n {
			out = append(out, item(i))
		}
		return strings.Join(out, ",")
	}
	of := func(members string) []byte { return []byte(`{"asset":{"version":"2.0"},` + members + `}`) }
	const many, keys = 300, 64000
	rising := make([]float64, keys)
	for i := range rising {
		rising[i] = float64(i)
	}
	moving := func(accessor string) []byte {
		return of(fmt.Sprintf(`"nodes":[%s],"accessors":[{"bufferView":0,"componentType":5126,"count":%d,"type":"SCALAR"},%s],"bufferViews":[{"buffer":0,"byteLength":%[6]d}],"buffers":[{"byteLength":%[6]d,"uri":"data:application/octet-stream;base64,%[7]s"}],"animations":[{"samplers":[%[4]s],"channels":[%[5]s]}]`,
			list(many, func(i int) string { return fmt.Sprintf(`{"name":"n%d"}`, i) }), keys,
			list(many, func(int) string { return accessor }),
			list(many, func(i int) string { return fmt.Sprintf(`{"input":0,"output":%d}`, i+1) }),
			list(many, func(i int) string {
				return fmt.Sprintf(`{"sampler":%d,"target":{"node":%d,"path":"translation"}}`, i, i)
			}),
			4*keys, base64.StdEncoding.EncodeToString(appendFloats(nil, rising))))
	}
	times := base64.StdEncoding.EncodeToString(appendFloats(nil, []float64{0, 3600, 0, 0, 0, 1, 0, 0}))
	return map[string][]byte{
		"accessors without bytes": moving(`{"componentType":5126,"count":64000,"type":"VEC3"}`),
		"the same bytes":          moving(`{"bufferView":0,"componentType":5121,"normalized":true,"count":64000,"type":"VEC3"}`),
		"still for an hour": of(fmt.Sprintf(`"nodes":[%s],"skins":[{"joints":[%s]}],"accessors":[{"bufferView":0,"componentType":5126,"count":2,"type":"SCALAR"},{"bufferView":0,"byteOffset":8,"componentType":5126,"count":2,"type":"VEC3"}],"bufferViews":[{"buffer":0,"byteLength":32}],"buffers":[{"byteLength":32,"uri":"data:application/octet-stream;base64,%s"}],"animations":[{"samplers":[{"input":0,"output":1}],"channels":[{"sampler":0,"target":{"node":0,"path":"translation"}}]}]`,
			list(1000, func(int) string { return `{}` }), list(1000, func(i int) string { return fmt.Sprint(i) }), times)),
		"animations without end": of(`"animations":[` + list(5000, func(int) string { return `{"channels":[],"samplers":[]}` }) + `]`),
	}
}

// Each of them is refused with what is wrong, in little memory.
func TestHostileFilesAreRefused(t *testing.T) {
	for name, want := range map[string]string{
		"accessors without bytes": "it states 64000 elements and has no bufferView to hold them",
		"the same bytes":          "the accessors ask for more numbers than the file and its buffers hold",
		"still for an hour":       "of 1000 nodes at 24 fps, more than is read at once of such a file",
		"animations without end":  "the file has 5000 animations, more than the 4000 that are read",
	} {
		t.Run(name, func(t *testing.T) {
			data := hostile()[name]
			read := func(string) ([]byte, error) { return data, nil }
			d, err := readInMemory(t, data, read)
			if err == nil {
				require.Contains(t, List(d)[0].Problem, want)
				_, err = Import(Options{Path: "a.gltf", ReadFile: read})
			}
			require.ErrorContains(t, err, want)
		})
	}
}

// FuzzLikeness compares whatever clip it is given with a sheet and with itself: it may refuse, but it may not panic or find
// a clip that is not itself, and all numbers that it tells are numbers.
func FuzzLikeness(f *testing.F) {
	m := coatSheet(f, "wait")
	take, err := NewTake(m, TakeWish{})
	require.NoError(f, err)
	f.Add(mustGLB(f, take))
	baked, err := NewTake(m, TakeWish{Bake: Rate{24, 1}})
	require.NoError(f, err)
	f.Add(mustGLB(f, baked))
	for name, data := range characters() {
		if into, err := Into(name, data, take); err == nil {
			f.Add(into)
		}
	}
	for _, data := range hostile() {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read("a.glb", func(path string) ([]byte, error) {
			if path != "a.glb" {
				return nil, os.ErrNotExist
			}
			return data, nil
		})
		if err != nil {
			return
		}
		for i := range d.Clips {
			l, err := LikenessToSheet(m, d, d.word(i))
			if err == nil {
				requireNumbers(t, l)
			}
			if l, err = LikenessOfClips(d, d.word(i), d, d.word(i)); err == nil {
				requireNumbers(t, l)
				require.True(t, l.Within(LikenessLimits{TurnDeg: 1e-4, PlaceCM: 1e-9, Frames: 1e-9}), "%+v", l)
			}
		}
	})
}

func requireNumbers(t testing.TB, l *Likeness) {
	t.Helper()
	_, err := json.Marshal(l)
	require.NoError(t, err)
}

// How much is sampled goes by how large the file is, so that a few lines can't ask for all the memory that a long baked
// clip may have.
func TestSmallFilesAskForLittleMemory(t *testing.T) {
	d := &Document{bytes: 1000}
	require.Equal(t, leastJointFrames+500, d.jointFrames())
	require.Equal(t, 3*d.jointFrames(), d.stillFrames())
	d.bytes = 100 << 20
	require.Equal(t, mostJointFrames, d.jointFrames())
	require.Equal(t, mostStillFrames, d.stillFrames())
}
