package server

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// busySheet has 20 controls of 4 channels and about as many keys as asked, which stand on quarter beats.
func busySheet(keys int) string {
	var out strings.Builder
	rows := max(1, keys/80)
	fmt.Fprintf(&out, "sheet busy\n  rig       busy\n  rate      24 fps\n  tempo     80 bpm\n  cycle     %d/4b\n  grid      1/4b\n", rows)
	var rig, tracks strings.Builder
	rig.WriteString("\nrig busy\n  height    100\n\njoints\n  joint           on              x       y       z       part\n")
	for c := range 20 {
		parent := "."
		if 0 < c {
			parent = fmt.Sprintf("c%02d", c-1)
		}
		fmt.Fprintf(&rig, "  c%02d             %-15s 0       5       0       other\n", c, parent)
		fmt.Fprintf(&tracks, "\ntrack c%02d\n  at      side    lift    ahead   tilt\n", c)
		for row := range rows {
			v := (row*7919 + c*104729) % 1999
			fmt.Fprintf(&tracks, "  %-7s %-7s %-7s %-7s %s\n", fmt.Sprintf("%d/4b", row), tenth(v), tenth(v*3%1999), tenth(v*5%1999)+"^", tenth(900+v*7%199))
		}
	}
	rig.WriteString("\nchannels\n  channel                 joint           drives          gain    unit    range       mirror  positive\n")
	for c := range 20 {
		for _, channel := range []string{"side move.x cm", "lift move.y cm", "ahead move.z cm", "tilt turn.z deg"} {
			f := strings.Fields(channel)
			fmt.Fprintf(&rig, "  c%02d/%-19s .               %-15s 0.5     %-7s -100..100   keep    \"plus\"\n", c, f[0], f[1], f[2])
		}
	}
	return out.String() + tracks.String() + rig.String()
}

func TestTheBusySheetIsOne(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, busySheet(400))
	for _, d := range c.diagnosticsOf(sheetURI, 1) {
		require.NotEqual(t, 1, d.Severity, "%+v", d)
	}
	text := busySheet(400)
	require.Contains(t, string(c.call("textDocument/hover", at(sheetURI, lineOf(text, "track c10")+3, 11))), "before: ")
}

// lineOf is the line on which something first stands.
func lineOf(text, what string) int { return strings.Count(text[:strings.Index(text, what)], "\n") }

func tenth(v int) string { return fmt.Sprintf("%d.%d", v/10-100, v%10) }

// keysAsJSON are the keys of busySheet in the form that a JSON reader takes, one object a row.
func keysAsJSON(keys int) []byte {
	type cell struct {
		V float64 `json:"v"`
		M string  `json:"m"`
	}
	type row struct {
		At    string  `json:"at"`
		Cells [4]cell `json:"cells"`
	}
	var rows []row
	for i := range keys / 4 {
		v := float64((i*7919)%1999) / 10
		rows = append(rows, row{fmt.Sprintf("%d/4b", i), [4]cell{{v, "~"}, {v + 1, "~"}, {v + 2, "^"}, {v + 3, "~"}}})
	}
	data, err := json.Marshal(rows)
	if err != nil {
		panic(err)
	}
	return data
}

// BenchmarkTyping measures what a typist waits for, over the wire, each time after a change of one digit. Beside the
// time stands the ratio to decoding the same keys by encoding/json, measured in the same run.
func BenchmarkTyping(b *testing.B) {
	for _, keys := range []int{200, 2_000, 10_000, 50_000} {
		text := busySheet(keys)
		line := lineOf(text, "track c10") + 3
		reference := decodeTime(keysAsJSON(keys))
		for name, ask := range map[string]func(c *testClient, version int){
			"diagnostics": func(c *testClient, version int) { c.diagnosticsOf(sheetURI, version); c.forget() },
			"hover":       func(c *testClient, _ int) { c.call("textDocument/hover", at(sheetURI, line, 11)) },
			"formatting":  func(c *testClient, _ int) { c.format(sheetURI) },
		} {
			b.Run(fmt.Sprintf("%s/%d", name, keys), func(b *testing.B) {
				c := dial(b)
				c.model = nil
				c.initialize()
				c.open(sheetURI, text)
				c.diagnosticsOf(sheetURI, 1)
				c.forget()
				b.ResetTimer()
				for i := range b.N {
					c.change(sheetURI, i+2, part(line, 11, line, 12, string(rune('0'+i%10))))
					ask(c, i+2)
				}
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(reference), "×json")
			})
		}
	}
}

// decodeTime is the least time that decoding takes in a few tries.
func decodeTime(data []byte) time.Duration {
	least := time.Hour
	for range 5 {
		begun := time.Now()
		var rows []map[string]any
		if err := json.Unmarshal(data, &rows); err != nil {
			panic(err)
		}
		least = min(least, time.Since(begun))
	}
	return least
}
