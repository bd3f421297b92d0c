package lint

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// largeSheet has 20 controls of 4 channels and 25 rows each: 2 000 keys of a restless body.
func largeSheet() map[string]*grammar.File {
	var rig, body strings.Builder
	rig.WriteString("rig big\n\njoints\n  joint on x y z\n")
	for c := range 20 {
		on := "."
		if c > 0 {
			on = fmt.Sprintf("c%d", c-1)
		}
		fmt.Fprintf(&rig, "  c%d %s 0 5 0\n", c, on)
	}
	rig.WriteString("\nchannels\n  channel joint drives gain unit range mirror positive\n")
	body.WriteString("sheet big\n  rig big in \"rig.motet\"\n  tempo 60 bpm\n  cycle 25b\n")
	for c := range 20 {
		fmt.Fprintf(&body, "\ntrack c%d\n  at a b c d\n", c)
		for i, drive := range []string{"turn.x", "turn.y", "turn.z", "move.x"} {
			fmt.Fprintf(&rig, "  c%d/%c . %s 1 . -90..90 keep \"up\"\n", c, 'a'+i, drive)
		}
		for row := range 25 {
			fmt.Fprintf(&body, "  %db", row)
			for i := range 4 {
				fmt.Fprintf(&body, " %d.%d", (row*7+c*3+i*5)%23-11, (row+c+i)%10)
			}
			body.WriteByte('\n')
		}
	}
	return map[string]*grammar.File{
		"rig.motet": grammar.Parse("rig.motet", rig.String()), "sheet.motet": grammar.Parse("sheet.motet", body.String()),
	}
}

func inMemory(files map[string]*grammar.File) motion.Trees {
	return func(path string) (*grammar.File, error) {
		if f, ok := files[path]; ok {
			return f, nil
		}
		return nil, errors.New("there is no such file")
	}
}

// BenchmarkCheck judges a sheet of 2 000 keys that is resolved already. Its ratio is to resolving it, in the same run.
func BenchmarkCheck(b *testing.B) {
	files := largeSheet()
	trees := inMemory(files)
	resolve := func() *motion.Motion { return motion.NewProject(trees).Resolve(files["sheet.motet"]) }
	m := resolve()
	if len(m.Problems) > 0 {
		b.Fatal(m.Problems[0].Message)
	}
	var resolving, checking time.Duration
	b.ReportAllocs()
	for b.Loop() {
		start := time.Now()
		m := resolve()
		middle := time.Now()
		Check(m)
		resolving += middle.Sub(start)
		checking += time.Since(middle)
	}
	b.ReportMetric(float64(checking)/float64(resolving), "×resolving")
	b.ReportMetric(float64(checking.Microseconds())/float64(b.N), "µs/check")
}

// BenchmarkCheckRules gives what each rule costs on the same sheet.
func BenchmarkCheckRules(b *testing.B) {
	files := largeSheet()
	trees := inMemory(files)
	m := motion.NewProject(trees).Resolve(files["sheet.motet"])
	for _, rule := range Rules() {
		b.Run(rule.Name, func(b *testing.B) {
			for b.Loop() {
				CheckOnly(m, []*Rule{rule})
			}
		})
	}
}
