package motion

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/motet-sheet/motet/grammar"
)

// largeSheet has 20 controls of 4 channels and 25 rows each: 2 000 keys.
func largeSheet() map[string]string {
	var rig, body strings.Builder
	rig.WriteString("rig big\n\njoints\n  joint on x y z\n")
	for c := range 20 {
		fmt.Fprintf(&rig, "  c%d %s 0 5 0\n", c, map[bool]string{true: ".", false: fmt.Sprintf("c%d", c-1)}[c == 0])
	}
	rig.WriteString("\nchannels\n  channel joint drives gain unit range mirror positive\n")
	body.WriteString("sheet big\n  rig big in \"rig.motet\"\n  tempo 60 bpm\n  cycle 25b\n")
	for c := range 20 {
		fmt.Fprintf(&body, "\ntrack c%d\n  at a b c d\n", c)
		for i, drive := range []string{"turn.x", "turn.y", "turn.z", "move.x"} {
			fmt.Fprintf(&rig, "  c%d/%c . %s 1 deg -90..90 keep \"up\"\n", c, 'a'+i, drive)
		}
		for row := range 25 {
			fmt.Fprintf(&body, "  %db", row)
			for i := range 4 {
				fmt.Fprintf(&body, " %d.%d", (row*7+c*3+i*5)%23-11, (row+c+i)%10)
			}
			body.WriteByte('\n')
		}
	}
	return map[string]string{"rig.motet": rig.String(), "sheet.motet": body.String()}
}

// BenchmarkResolve resolves a sheet of 2 000 keys whose text is parsed already. Its ratio is to what encoding/json takes
// to decode the same numbers, timed in the same run.
func BenchmarkResolve(b *testing.B) {
	files := largeSheet()
	trees := map[string]*grammar.File{}
	for path, text := range files {
		trees[path] = grammar.Parse(path, text)
	}
	lookUp := func(path string) (*grammar.File, error) { return trees[path], nil }
	m := NewProject(lookUp).Resolve(trees["sheet.motet"])
	if len(m.Problems) > 0 {
		b.Fatal(m.Problems[0].Message)
	}
	type row struct{ At, Value float64 }
	var keys [][]row
	for i := range m.Channels {
		var rows []row
		for _, k := range m.Channels[i].Base.Keys {
			rows = append(rows, row{k.Time.Float(), k.Value})
		}
		keys = append(keys, rows)
	}
	text, _ := json.Marshal(keys)
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		NewProject(lookUp).Resolve(trees["sheet.motet"])
	}
	ours := b.Elapsed() / time.Duration(b.N)
	start := time.Now()
	const rounds = 50
	for range rounds {
		var back [][]row
		if json.Unmarshal(text, &back) != nil {
			b.Fatal("the reference does not decode")
		}
	}
	b.ReportMetric(float64(ours)/float64(time.Since(start)/rounds), "×json")
}
