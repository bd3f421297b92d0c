package exchange

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/qmuntal/gltf"
	"github.com/qmuntal/gltf/modeler"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion"
)

// largeSheet has 20 000 keys: a figure of 20 joints with 4 channels each, every second one with all three turns, the
// others with one, and 250 rows, a quarter of a second apart.
func largeSheet(t testing.TB) *motion.Motion {
	var rig, body strings.Builder
	rig.WriteString("rig big\n\njoints\n  joint on x y z\n")
	body.WriteString("sheet big\n  rig big in \"rig.motet\"\n  tempo 240 bpm\n  cycle 250b\n")
	var channels strings.Builder
	for c := range 20 {
		// Four limbs of five joints each.
		up := "."
		if c > 0 {
			up = fmt.Sprintf("c%d", max(0, c-4))
		}
		fmt.Fprintf(&rig, "  c%d %s 0 20 0\n", c, up)
		fmt.Fprintf(&body, "\ntrack c%d\n  at a b c d\n", c)
		drives := []string{"turn.x", "turn.y", "turn.z", "move.x"}
		if c%2 == 1 {
			drives = []string{"turn.x", "move.x", "move.y", "scale.xyz"}
		}
		for i, drive := range drives {
			fmt.Fprintf(&channels, "  c%d/%c . %s 1 %s\n", c, 'a'+i, drive, map[string]string{"t": "deg", "m": "cm", "s": "%"}[drive[:1]])
		}
		for row := range 250 {
			fmt.Fprintf(&body, "  %db", row)
			for i, drive := range drives {
				rest := 0
				if drive == "scale.xyz" {
					rest = 100
				}
				fmt.Fprintf(&body, " %d.%d", rest+(row*7+c*3+i*5)%9-4, (row+c+i)%10)
			}
			body.WriteByte('\n')
		}
	}
	return sheetOf(t, map[string]string{"rig.motet": rig.String() + "\nchannels\n  channel joint drives gain unit\n" + channels.String(), "sheet.motet": body.String()}, "sheet.motet")
}

// BenchmarkExport writes a sheet of 20 000 keys. The aim is under 0.3 s. The ratio is to what reading the same file back
// takes in the same run, by the library that only decodes it.
func BenchmarkExport(b *testing.B) {
	m := largeSheet(b)
	b.ReportAllocs()
	var data []byte
	for b.Loop() {
		take, err := NewTake(m, TakeWish{})
		require.NoError(b, err)
		data, err = WriteGLB([]*Take{take})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(data)), "bytes")
	reportRatio(b, func() { readByLibrary(b, data) })
}

// reportRatio tells how many times as long a benchmark's work took as something else, in the same run.
func reportRatio(b *testing.B, reference func()) {
	own := b.Elapsed() / time.Duration(b.N)
	const rounds = 5
	start := time.Now()
	for range rounds {
		reference()
	}
	b.ReportMetric(float64(own)*rounds/float64(time.Since(start)), "x-reading")
}

// readByLibrary decodes a .glb and all its accessors with qmuntal/gltf.
func readByLibrary(t testing.TB, data []byte) {
	t.Helper()
	doc := new(gltf.Document)
	require.NoError(t, gltf.NewDecoder(bytes.NewReader(data)).Decode(doc))
	for _, accessor := range doc.Accessors {
		_, err := modeler.ReadAccessor(doc, accessor, nil)
		require.NoError(t, err)
	}
}
