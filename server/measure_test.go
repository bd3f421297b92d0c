package server

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.lsp.dev/uri"
)

var (
	measureRounds = flag.Int("measure", 0, "how often each thing is measured in TestMeasure; 0 leaves it out")
	measuredKeys  = flag.String("keys", "1000,10000,50000", "how many keys the documents of TestMeasure have")
	peers         = flag.String("peers", "", "further servers for TestMeasure, such as \"json=vscode-json-language-server --stdio;yaml=yaml-language-server --stdio\"")
)

// keyed are keys as every format can say them: 20 controls of 4 channels, a key every three frames.
type keyed struct{ controls, rows int }

func (k keyed) each(key func(control, channel, row int, value float64, way int)) {
	for c := range k.controls {
		for ch := range channelNames {
			for row := range k.rows {
				seed := (row*7919 + (c*4+ch)*104729) % 100003
				key(c, ch, row, float64(seed)/1000-50, seed%4)
			}
		}
	}
}

var channelNames = []string{"side", "lift", "ahead", "tilt"}

// ways are how a value goes on to the next key, in words and as a sheet's marks.
var (
	ways     = []string{"linear", "smooth", "step", "hold"}
	wayMarks = []string{">", "", "=", "="}
)

func (k keyed) asMotet() string {
	var out strings.Builder
	fmt.Fprintf(&out, "sheet bench\n  rig       bench\n  rate      24 fps\n  beat      12f\n  cycle     %df\n", 3*k.rows+24)
	cells := make([][]string, k.controls*k.rows)
	k.each(func(c, _, row int, v float64, way int) {
		cells[c*k.rows+row] = append(cells[c*k.rows+row], fmt.Sprintf("%-10s", fmt.Sprintf("%.3f%s", v, wayMarks[way])))
	})
	for c := range k.controls {
		fmt.Fprintf(&out, "\ntrack ctl%02d\n  at      %s\n", c, strings.Join(channelNames, "  "))
		for row := range k.rows {
			fmt.Fprintf(&out, "  %-8s%s\n", fmt.Sprintf("%df", 3*row), strings.TrimRight(strings.Join(cells[c*k.rows+row], ""), " "))
		}
	}
	out.WriteString("\nrig bench\n\njoints\n  joint   on  x   y   z\n")
	for c := range k.controls {
		fmt.Fprintf(&out, "  ctl%02d   .   0   %d   0\n", c, 5*c)
	}
	out.WriteString("\nchannels\n  channel         joint   drives  gain    unit    range       mirror\n")
	for c := range k.controls {
		for i, drive := range []string{"move.x  1  cm", "move.y  1  cm", "move.z  1  cm", "turn.z  1  deg"} {
			fmt.Fprintf(&out, "  ctl%02d/%s  .  %s  -60..60  keep\n", c, channelNames[i], drive)
		}
	}
	return out.String()
}

func (k keyed) asJSON() string {
	var out strings.Builder
	out.WriteString("{\n  \"controls\": [")
	k.each(func(c, ch, row int, v float64, way int) {
		switch {
		case row == 0 && ch == 0 && c == 0:
			fmt.Fprintf(&out, "\n    { \"name\": \"ctl%02d\", \"channels\": [", c)
		case row == 0 && ch == 0:
			fmt.Fprintf(&out, "\n      ] }\n    ] },\n    { \"name\": \"ctl%02d\", \"channels\": [", c)
		case row == 0:
			out.WriteString("\n      ] },")
		default:
			out.WriteString(",")
		}
		if row == 0 {
			fmt.Fprintf(&out, "\n      { \"name\": %q, \"keys\": [", channelNames[ch])
		}
		fmt.Fprintf(&out, "\n        { \"at\": %.3f, \"value\": %.3f, \"curve\": %q }", float64(row)*0.125, v, ways[way])
	})
	out.WriteString("\n      ] }\n    ] }\n  ]\n}\n")
	return out.String()
}

func (k keyed) asYAML() string {
	var out strings.Builder
	out.WriteString("controls:\n")
	k.each(func(c, ch, row int, v float64, way int) {
		if row == 0 && ch == 0 {
			fmt.Fprintf(&out, "  - name: ctl%02d\n    channels:\n", c)
		}
		if row == 0 {
			fmt.Fprintf(&out, "      - name: %s\n        keys:\n", channelNames[ch])
		}
		fmt.Fprintf(&out, "          - { at: %.3f, value: %.3f, curve: %s }\n", float64(row)*0.125, v, ways[way])
	})
	return out.String()
}

// keyedSchema is what the keys are held to in JSON and in YAML.
var keyedSchema = `{"$schema":"http://json-schema.org/draft-07/schema#","type":"object","required":["controls"],"properties":{"controls":
{"type":"array","items":{"type":"object","required":["name","channels"],"properties":{"name":{"type":"string","description":"A control."},
"channels":{"type":"array","items":{"type":"object","required":["name","keys"],"properties":{"name":{"enum":["side","lift","ahead","tilt"]},
"keys":{"type":"array","items":{"type":"object","required":["at","value"],"additionalProperties":false,"properties":{"at":{"type":"number","minimum":0},
"value":{"type":"number","description":"The value."},"curve":{"enum":["linear","smooth","step","hold"]}}}}}}}}}}}}`

func TestTheMeasuredDocumentsSayTheSame(t *testing.T) {
	k := keyed{3, 5}
	var data struct {
		Controls []struct {
			Name     string
			Channels []struct {
				Name string
				Keys []struct {
					At, Value float64
					Curve     string
				}
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(k.asJSON()), &data))
	require.Len(t, data.Controls, 3)
	c := connect(t)
	c.open(sheetURI, k.asMotet())
	for _, d := range c.diagnosticsOf(sheetURI, 1) {
		require.NotEqual(t, 1, d.Severity, d.Message)
	}
	keys := 0
	k.each(func(control, channel, row int, v float64, way int) {
		keys++
		key := data.Controls[control].Channels[channel].Keys[row]
		require.InDelta(t, v, key.Value, 0.0005)
		require.Equal(t, ways[way], key.Curve)
		require.Contains(t, k.asMotet(), fmt.Sprintf("%.3f%s", key.Value, wayMarks[way]))
		require.Contains(t, k.asYAML(), fmt.Sprintf("{ at: %.3f, value: %.3f, curve: %s }", key.At, key.Value, key.Curve))
	})
	require.Equal(t, 60, keys)
	require.True(t, json.Valid([]byte(keyedSchema)))
}

// contender is a server to be measured and the document that it gets.
type contender struct {
	name, language, text string
	command              []string
	settings             m
	pulls                bool
}

// TestMeasure measures this server, and others beside it, over documents with the same keys, and writes what it found into
// BENCHMARKS.md where MOTET_UPDATE is set. It takes minutes, so it runs only when asked to by -measure.
func TestMeasure(t *testing.T) {
	if *measureRounds == 0 {
		t.Skip("measuring takes minutes: ask for it by -measure 30")
	}
	binary := filepath.Join(t.TempDir(), "motet")
	if runtime.GOOS == "windows" {
		binary += ".exe"
	}
	out, err := exec.Command("go", "build", "-o", binary, "../cmd/motet").CombinedOutput()
	require.NoError(t, err, string(out))
	var report strings.Builder
	for size := range strings.SplitSeq(*measuredKeys, ",") {
		keys, err := strconv.Atoi(size)
		require.NoError(t, err)
		fmt.Fprintf(&report, "### %d keys\n\n| server | %s |\n|%s\n", keys, strings.Join(measures, " | "), strings.Repeat(" --- |", 1+len(measures)))
		for _, c := range contenders(t, binary, keyed{20, keys / 80}) {
			row := measure(t, c)
			fmt.Fprintf(&report, "| %s | %s |\n", c.name, strings.Join(row, " | "))
			t.Logf("%d keys: %s %s", keys, c.name, strings.Join(row, " | "))
		}
		report.WriteString("\n")
	}
	if os.Getenv("MOTET_UPDATE") != "" {
		writeBenchmarks(t, report.String())
	}
}

// writeBenchmarks puts the tables behind the line that says that they are made.
func writeBenchmarks(t *testing.T, tables string) {
	text, err := os.ReadFile("BENCHMARKS.md")
	require.NoError(t, err)
	const mark = "<!-- What follows is written by TestMeasure. -->\n"
	head, _, found := strings.Cut(string(text), mark)
	require.True(t, found)
	load, _ := os.ReadFile("/proc/loadavg")
	when := fmt.Sprintf("\nMeasured on %d cores, %s/%s, load at the end %s.\n\n", runtime.NumCPU(), runtime.GOOS, runtime.GOARCH, strings.Join(strings.Fields(string(load))[:min(3, len(strings.Fields(string(load))))], " "))
	require.NoError(t, os.WriteFile("BENCHMARKS.md", []byte(head+mark+when+strings.TrimSuffix(tables, "\n")), 0o644))
}

func contenders(t *testing.T, binary string, k keyed) []contender {
	t.Helper()
	schema := filepath.Join(t.TempDir(), "schema.json")
	require.NoError(t, os.WriteFile(schema, []byte(keyedSchema), 0o644))
	var parsed any
	require.NoError(t, json.Unmarshal([]byte(keyedSchema), &parsed))
	out := []contender{
		{name: "motet, pushed", language: "motet", text: k.asMotet(), command: []string{binary, "serve"}},
		{name: "motet, pulled", language: "motet", text: k.asMotet(), command: []string{binary, "serve"}, pulls: true},
	}
	for peer := range strings.SplitSeq(*peers, ";") {
		name, command, ok := strings.Cut(peer, "=")
		if !ok {
			continue
		}
		c := contender{name: name, language: name, command: strings.Fields(command)}
		switch name {
		case "json":
			c.text, c.pulls = k.asJSON(), true // it waits half a second before it pushes, which would flatter us
			c.settings = m{"json": m{"validate": m{"enable": true}, "resultLimit": 1_000_000, "schemas": []m{{"fileMatch": []string{"*.json"}, "schema": parsed}}}}
		case "yaml":
			c.text = k.asYAML()
			c.settings = m{"yaml": m{"validate": true, "hover": true, "completion": true, "maxItemsComputed": 1_000_000, "schemaStore": m{"enable": false}, "schemas": m{string(uri.File(schema)): "*.yaml"}}}
		default:
			t.Fatalf("no document for the server %q: name it json or yaml", name)
		}
		out = append(out, c)
	}
	return out
}

// measures are the columns of the table: milliseconds, but for the last.
var measures = []string{"open", "edit to diagnostics, p50", "p95", "hover, p50", "p95", "completion, p50", "p95", "formatting, p50", "tokens, p50", "burst of 200", "hovers in it, p95", "peak MiB"}

// measuring is one run of one server.
type measuring struct {
	*rival
	contender
	address string
	line    int // of the cell that is edited
	column  int
}

func measure(t *testing.T, c contender) []string {
	r := &measuring{rival: startRival(t, c.settings, c.command...), contender: c, address: string(uri.File(filepath.Join(t.TempDir(), "keys."+c.language)))}
	r.rival.pulls = c.pulls
	if err := r.begin(); err != nil {
		t.Fatalf("%s: %v", c.name, err)
	}
	opened := []time.Duration{r.diagnosed(note("textDocument/didOpen", m{"textDocument": m{"uri": r.address, "languageId": c.language, "version": 1, "text": c.text}}))}
	document := m{"textDocument": m{"uri": r.address}}
	place := m{"textDocument": m{"uri": r.address}, "position": m{"line": r.line, "character": r.column}}
	var edits []time.Duration
	for range *measureRounds {
		edits = append(edits, r.diagnosed(r.edit()))
	}
	row := []string{cell(opened, 0.5), cell(edits, 0.5), cell(edits, 0.95)}
	hovers := r.cold("textDocument/hover", place)
	completions := r.cold("textDocument/completion", place)
	formats := r.cold("textDocument/formatting", m{"textDocument": document["textDocument"], "options": m{"tabSize": 2, "insertSpaces": true}})
	tokens := r.cold("textDocument/semanticTokens/full", document)
	row = append(row, cell(hovers, 0.5), cell(hovers, 0.95), cell(completions, 0.5), cell(completions, 0.95), cell(formats, 0.5), cell(tokens, 0.5))
	last, during := r.burst(place)
	return append(row, cell(last, 0.5), cell(during, 0.95), fmt.Sprintf("%.0f", r.peakMiB()))
}

// cell writes a quantile in milliseconds; a dash where nothing was answered.
func cell(times []time.Duration, share float64) string {
	if len(times) == 0 || slices.Contains(times, -1) {
		return "–"
	}
	slices.Sort(times)
	return fmt.Sprintf("%.2f", float64(times[min(len(times)-1, int(share*float64(len(times))))].Microseconds())/1000)
}

const longest = 30 * time.Second

func (r *measuring) begin() error {
	lines := strings.Split(r.text, "\n")
	for r.line = len(lines) / 2; !strings.Contains(lines[r.line], "."); r.line++ {
	}
	r.column = strings.LastIndexByte(lines[r.line], '.') + 1
	r.version = 1
	document := m{"hover": m{"contentFormat": []string{"markdown"}}, "publishDiagnostics": m{"versionSupport": true}}
	if r.rival.pulls {
		document["diagnostic"] = m{}
	}
	ask, id := r.ask("initialize", m{
		"processId": os.Getpid(), "rootUri": nil, "initializationOptions": m{"provideFormatter": true},
		"capabilities": m{"textDocument": document, "workspace": m{"configuration": true, "didChangeConfiguration": m{}}},
	})
	r.write(ask)
	if _, err := r.answerTo(id, longest); err != nil {
		return err
	}
	r.write(note("initialized", m{}), note("workspace/didChangeConfiguration", m{"settings": r.rival.settings}))
	return nil
}

// edit changes one digit to a random one, since a repeated text is answered from a cache by some servers.
func (r *measuring) edit() m {
	r.version++
	return note("textDocument/didChange", m{
		"textDocument":   m{"uri": r.address, "version": r.version},
		"contentChanges": []m{part(r.line, r.column, r.line, r.column+1, string(rune('0'+rand.IntN(10))))},
	})
}

// diagnosed sends a change and waits for its diagnostics; -1 where none came.
func (r *measuring) diagnosed(change m) time.Duration {
	seen := r.seen()
	if !r.rival.pulls {
		sent := r.write(change)
		a, err := r.pushedFor(r.version, seen, longest)
		if err != nil {
			return -1
		}
		return a.when.Sub(sent)
	}
	ask, id := r.ask("textDocument/diagnostic", m{"textDocument": m{"uri": r.address}})
	sent := r.write(change, ask)
	a, err := r.answerTo(id, longest)
	if err != nil {
		return -1
	}
	return a.when.Sub(sent)
}

// cold asks right behind an edit, in the same write, so that nothing is ready; none where the server refuses.
func (r *measuring) cold(method string, params m) (took []time.Duration) {
	for range *measureRounds {
		ask, id := r.ask(method, params)
		sent := r.write(r.edit(), ask)
		a, err := r.answerTo(id, longest)
		if err != nil {
			return nil
		}
		took = append(took, a.when.Sub(sent))
		time.Sleep(20 * time.Millisecond) // until the server has nothing left to do
	}
	return took
}

// burst types 200 keys 5 ms apart, with a hover each, and waits for the diagnostics of the last.
func (r *measuring) burst(place m) (last, hovers []time.Duration) {
	type asked struct {
		id   int
		sent time.Time
	}
	var all []asked
	for range 199 {
		ask, id := r.ask("textDocument/hover", place)
		all = append(all, asked{id, r.write(r.edit(), ask)})
		time.Sleep(5 * time.Millisecond)
	}
	last = append(last, r.diagnosed(r.edit()))
	for _, q := range all {
		a, err := r.answerTo(q.id, longest)
		if err != nil {
			return last, nil
		}
		hovers = append(hovers, a.when.Sub(q.sent))
	}
	return last, hovers
}
