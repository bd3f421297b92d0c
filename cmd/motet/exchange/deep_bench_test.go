package exchange

import (
	"fmt"
	"testing"
	"time"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/require"
)

// ropes are chains of joints side by side on one root, each so many joints deep, that swing all together.
func ropes(side, depth, frames int) puppet {
	node := func(name string, up float64) *gltf.Node {
		return &gltf.Node{Name: name, Translation: [3]float64{0, up, 0}, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}
	}
	p := puppet{nodes: []*gltf.Node{node("Root", 0)}}
	c := clipSpec{name: "Swing"}
	for k := range side {
		carrier := 0
		for i := range depth {
			n := len(p.nodes)
			p.nodes = append(p.nodes, node(fmt.Sprintf("Spine_%d_%d", k, i), 0.03))
			p.nodes[carrier].Children = append(p.nodes[carrier].Children, n)
			c.tracks = append(c.tracks, baked(n, gltf.TRSRotation, 24, 0, frames, func(f float64) []float64 {
				angle := func(size float64) float64 {
					return wave(f, float64(frames), 1, size) + wave(f+float64(n), float64(frames), 2, size/20)
				}
				turn := orders()[0].quat(vec3{angle(3), angle(2), angle(2.5)})
				return turn[:]
			}))
			carrier = n
		}
	}
	p.clips = []clipSpec{c}
	return p
}

// A chain of sixty joints, as a rope or a tail has, over forty seconds. The ratio is to the same joints six deep, in the
// same run.
func BenchmarkImportOfADeepChain(b *testing.B) {
	files := map[string][]byte{"deep.glb": glb(b, ropes(1, 60, 1000).document(b)), "wide.glb": glb(b, ropes(10, 6, 1000).document(b))}
	read := func(path string) {
		r, err := Import(Options{Path: path, ReadFile: inMemory(files)})
		require.NoError(b, err)
		require.LessOrEqual(b, r.Off.WorldCM, DefaultWithin().WorldCM)
	}
	for b.Loop() {
		read("deep.glb")
	}
	own := b.Elapsed() / time.Duration(b.N)
	start := time.Now()
	read("wide.glb")
	b.ReportMetric(float64(own)/float64(time.Since(start)), "x-shallow")
}
