package grammar

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// jsonRow is a row of four cells as a program would store it for a machine.
type jsonRow struct {
	At    string `json:"at"`
	Cells []struct {
		V float64 `json:"v"`
		M string  `json:"m"`
	} `json:"cells"`
}

// manyRows writes the same keys as a sheet's track and as JSON: a time, and four values with or without a mark.
func manyRows(rows int) (sheet, asJSON string) {
	var s, j strings.Builder
	s.WriteString("track head\n  at      nod     turn    tilt    roll\n")
	j.WriteByte('[')
	marks := []string{"", "", "~", "^", ">", "="}
	for i := range rows {
		at := fmt.Sprintf("%df", 3*i)
		if i%4 == 1 {
			at = fmt.Sprintf("%d/2b", i)
		}
		fmt.Fprintf(&s, "  %-7s", at)
		if i > 0 {
			j.WriteByte(',')
		}
		fmt.Fprintf(&j, `{"at":%q,"cells":[`, at)
		for cell := range 4 {
			value := float64((i*37+cell*101)%4000-2000) / 100
			mark := marks[(i+cell)%len(marks)]
			fmt.Fprintf(&s, " %-7s", fmt.Sprintf("%g%s", value, mark))
			if cell > 0 {
				j.WriteByte(',')
			}
			fmt.Fprintf(&j, `{"v":%g,"m":%q}`, value, mark)
		}
		s.WriteByte('\n')
		j.WriteString("]}")
	}
	j.WriteByte(']')
	return s.String(), j.String()
}

// fastest is the shortest of several measured times, which says what the work costs where the machine does other things
// at the same time.
type fastest time.Duration

func (f *fastest) measure(work func()) {
	start := time.Now()
	work()
	if took := fastest(time.Since(start)); *f == 0 || took < *f {
		*f = took
	}
}

// BenchmarkRows reads 10 000 rows of four cells into the tree of a sheet, and the same keys with encoding/json, in turn
// in one loop. The ratio is that of the fastest round of each.
func BenchmarkRows(b *testing.B) {
	sheet, asJSON := manyRows(10_000)
	var ours, theirs fastest
	for b.Loop() {
		ours.measure(func() { Parse("x.motet", sheet) })
		theirs.measure(func() {
			var rows []jsonRow
			require.NoError(b, json.Unmarshal([]byte(asJSON), &rows))
			require.Len(b, rows, 10_000)
		})
	}
	b.ReportMetric(float64(ours)/float64(theirs), "ratio/json")
	b.ReportMetric(float64(ours)/10_000, "ns/row")
}

// BenchmarkReparse changes one cell of a sheet of two hundred blocks, as a key stroke does.
func BenchmarkReparse(b *testing.B) {
	block, _ := manyRows(50)
	var sheet strings.Builder
	for i := range 200 {
		sheet.WriteString(strings.Replace(block, "track head", fmt.Sprintf("track c%d", i), 1))
		sheet.WriteByte('\n')
	}
	before := sheet.String()
	at := strings.Index(before, "track c100")
	after := before[:at] + strings.Replace(before[at:], "-20", "-21", 1)
	old := Parse("x.motet", before)
	var whole, again fastest
	for b.Loop() {
		whole.measure(func() { Parse("x.motet", after) })
		again.measure(func() { Reparse(old, "x.motet", after) })
	}
	b.ReportMetric(float64(again)/float64(whole), "ratio/whole")
	b.ReportMetric(float64(again), "ns/keystroke")
}

func BenchmarkFormat(b *testing.B) {
	sheet, _ := manyRows(10_000)
	f := Parse("x.motet", sheet)
	b.ReportAllocs()
	for b.Loop() {
		Format(f)
	}
}

// BenchmarkParse is the sheet's half of [BenchmarkRows] alone, for its allocations and for profiles.
func BenchmarkParse(b *testing.B) {
	sheet, _ := manyRows(10_000)
	b.ReportAllocs()
	for b.Loop() {
		Parse("x.motet", sheet)
	}
}
