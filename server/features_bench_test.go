package server

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"
)

// BenchmarkFeatures measures what a typist waits for beside diagnostics, over the wire, each time after a change of one
// digit. Beside the mean stand the time that 95 of 100 answers stay under, and the ratio of the mean to decoding the same
// keys by encoding/json in the same run.
func BenchmarkFeatures(b *testing.B) {
	for _, keys := range []int{2_000, 10_000} {
		text := busySheet(keys)
		line := lineOf(text, "track c10") + 3
		reference := decodeTime(keysAsJSON(keys))
		for name, ask := range map[string]func(c *testClient){
			"completion":     func(c *testClient) { c.call("textDocument/completion", at(sheetURI, line, 2)) },
			"completionPath": func(c *testClient) { c.call("textDocument/completion", at(sheetURI, line-2, 6)) },
			"symbols":        func(c *testClient) { c.call("textDocument/documentSymbol", m{"textDocument": m{"uri": sheetURI}}) },
			"tokensDelta": func(c *testClient) {
				raw := c.call("textDocument/semanticTokens/full/delta", m{"textDocument": m{"uri": sheetURI}, "previousResultId": c.lastTokens})
				var got tokenAnswer
				if json.Unmarshal(raw, &got) == nil {
					c.lastTokens = got.ResultID
				}
			},
		} {
			b.Run(fmt.Sprintf("%s/%d", name, keys), func(b *testing.B) {
				c := dial(b)
				c.model = nil
				c.initialize()
				c.open(sheetURI, text)
				c.diagnosticsOf(sheetURI, 1)
				c.forget()
				ask(c)
				var times []time.Duration
				b.ResetTimer()
				for i := range b.N {
					begun := time.Now()
					c.change(sheetURI, i+2, part(line, 11, line, 12, string(rune('0'+i%10))))
					ask(c)
					times = append(times, time.Since(begun))
				}
				b.StopTimer()
				slices.Sort(times)
				b.ReportMetric(float64(times[len(times)/2].Microseconds())/1000, "p50-ms")
				b.ReportMetric(float64(times[len(times)*95/100].Microseconds())/1000, "p95-ms")
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(reference), "×json")
			})
		}
	}
}
