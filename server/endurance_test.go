package server

import (
	"flag"
	"maps"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var endure = flag.Duration("endure", 5*time.Second, "how long TestEndurance goes on")

// enduring are the requests that the endurance test makes, with what each needs beside the document.
func enduring(random *rand.Rand, uri string, p place) (method string, params m) {
	params = m{"textDocument": m{"uri": uri}}
	position := m{"line": p.Line, "character": p.Character}
	whole := span(0, 0, 1<<30, 0)
	kinds := []string{
		"textDocument/hover", "textDocument/completion", "textDocument/signatureHelp", "textDocument/diagnostic",
		"textDocument/formatting", "textDocument/codeAction", "workspace/diagnostic", "textDocument/definition", "textDocument/references",
		"textDocument/documentHighlight", "textDocument/documentSymbol", "textDocument/foldingRange", "textDocument/documentLink",
		"textDocument/codeLens", "textDocument/semanticTokens/full", "textDocument/semanticTokens/full/delta", "textDocument/semanticTokens/range",
		"textDocument/inlayHint", "textDocument/selectionRange", "textDocument/rangeFormatting", "textDocument/onTypeFormatting",
		"textDocument/prepareTypeHierarchy", "textDocument/prepareCallHierarchy", "workspace/symbol",
		"textDocument/inlineCompletion", "textDocument/rangesFormatting", "workspace/willRenameFiles",
	}
	switch method = kinds[random.IntN(len(kinds))]; method {
	case "textDocument/hover", "textDocument/completion", "textDocument/signatureHelp", "textDocument/definition",
		"textDocument/documentHighlight", "textDocument/prepareTypeHierarchy", "textDocument/prepareCallHierarchy":
		params["position"] = position
	case "textDocument/references":
		params["position"], params["context"] = position, m{"includeDeclaration": true}
	case "textDocument/selectionRange":
		params["positions"] = []m{position}
	case "textDocument/semanticTokens/full/delta":
		params["previousResultId"] = strconv.Itoa(random.IntN(50))
	case "textDocument/semanticTokens/range", "textDocument/inlayHint":
		params["range"] = whole
	case "textDocument/rangeFormatting":
		params["range"], params["options"] = whole, m{"tabSize": 2, "insertSpaces": true}
	case "textDocument/onTypeFormatting":
		params["position"], params["ch"], params["options"] = position, "\n", m{"tabSize": 2, "insertSpaces": true}
	case "textDocument/rangesFormatting":
		params["ranges"], params["options"] = []m{whole}, m{"tabSize": 2, "insertSpaces": true}
	case "textDocument/inlineCompletion":
		params["position"], params["context"] = position, m{"triggerKind": 2}
	case "workspace/willRenameFiles":
		params = m{"files": []m{{"oldUri": uri, "newUri": uri + "-other.motet"}}}
	case "workspace/symbol":
		params = m{"query": "k"}
	case "textDocument/formatting":
		params["options"] = m{"tabSize": 2, "insertSpaces": true}
	case "textDocument/codeAction":
		params["range"], params["context"] = whole, m{"diagnostics": []m{}}
	case "workspace/diagnostic":
		params = m{"previousResultIds": []m{}}
	}
	return method, params
}

// TestEndurance edits and asks at random, several requests at a time, some of them cancelled, sheets closed and opened
// again; at the end the server says what a fresh one says, and neither its memory nor its goroutines have grown.
func TestEndurance(t *testing.T) {
	address, sheets := demo(t)
	names := []string{}
	for _, name := range slices.Sorted(maps.Keys(sheets)) { // the same two on every run
		text := sheets[name]
		if strings.Contains(text, "\ntrack ") && len(text) < 8000 {
			names = append(names, name)
		}
	}
	require.GreaterOrEqual(t, len(names), 2)
	random := rand.New(rand.NewPCG(*seed, 11))
	e := &endurance{c: dial(t), random: random, versions: map[string]int{}, typists: map[string]*typist{}}
	e.c.model = nil // the other tests hold every answer to it; here time goes to asking
	e.c.initialize(pulls, actionLiterals, markdown, refreshing, wishing(m{"hoverPictures": true}), counts(string(utf16Units)), m{"rootUri": address("")})
	for _, name := range names[:2] {
		e.open(address(name), sheets[name])
	}
	// However slow the machine is, as much is done before the first look as fills what is kept, and then as much again.
	const warming = 60
	rounds, warm := 0, footprint{}
	for begun := time.Now(); time.Since(begun) < *endure || rounds < 2*warming; rounds++ {
		name := names[random.IntN(2)]
		e.round(address(name), sheets[name])
		if rounds == warming {
			e.settle()
			warm = footprintNow()
		}
	}
	e.settle()
	end := footprintNow()
	require.LessOrEqual(t, end.goroutines, warm.goroutines+2)
	require.LessOrEqual(t, end.heap, warm.heap*5/4+(4<<20), "bytes of heap after %d rounds", rounds)
	for _, name := range names[:2] {
		uri := address(name)
		places := e.typists[uri].places(5)
		got := e.c.about(uri, places)
		require.Equal(t, fresh(t, utf16Units, uri, e.typists[uri].text(), e.versions[uri], places, markdown, wishing(m{"hoverPictures": true}), m{"rootUri": address("")}), got)
	}
	t.Logf("%d rounds in %s; heap %d KiB after %d KiB, goroutines %d after %d", rounds, *endure, end.heap>>10, warm.heap>>10, end.goroutines, warm.goroutines)
}

// footprint is what must not grow.
type footprint struct {
	heap       uint64
	goroutines int
}

func footprintNow() footprint {
	runtime.GC()
	runtime.GC()
	var memory runtime.MemStats
	runtime.ReadMemStats(&memory)
	return footprint{memory.HeapAlloc, runtime.NumGoroutine()}
}

// endurance is a client that never rests.
type endurance struct {
	c        *testClient
	random   *rand.Rand
	versions map[string]int
	typists  map[string]*typist
	waiting  []string
}

func (e *endurance) open(uri, text string) {
	e.versions[uri]++
	e.typists[uri] = newTypist(e.random, utf16Units, text)
	e.c.notify("textDocument/didOpen", m{"textDocument": m{"uri": uri, "languageId": "motet", "version": e.versions[uri], "text": text}})
}

// round edits a sheet a few times and asks a few things, without waiting for the answers to those of the round before.
func (e *endurance) round(uri, text string) {
	typist := e.typists[uri]
	switch {
	case len(typist.theirs) < len(text)/2 || len(typist.theirs) > 2*len(text):
		e.c.notify("textDocument/didClose", m{"textDocument": m{"uri": uri}})
		e.open(uri, text)
	default:
		for range 1 + e.random.IntN(4) {
			e.versions[uri]++
			e.c.change(uri, e.versions[uri], typist.edit())
		}
	}
	before := e.waiting
	e.waiting = nil
	for range 1 + e.random.IntN(4) {
		method, params := enduring(e.random, uri, e.typists[uri].places(1)[0])
		id := e.c.ask(method, params)
		e.waiting = append(e.waiting, id)
		if e.random.IntN(5) == 0 {
			number, err := strconv.Atoi(id)
			require.NoError(e.c.t, err)
			e.c.notify("$/cancelRequest", m{"id": number})
		}
	}
	e.await(before)
}

func (e *endurance) settle() {
	e.await(e.waiting)
	e.waiting = nil
	e.c.forget()
	e.c.mu.Lock()
	defer e.c.mu.Unlock()
	e.c.asked = nil // the refreshes
}

func (e *endurance) await(ids []string) {
	const cancelled = -32800
	for _, id := range ids {
		if a := e.c.await(id); a.fault != nil && a.fault.Code != cancelled {
			e.c.t.Fatalf("%s: %+v\n%s", e.c.methods[id], *a.fault, e.c.log.String())
		}
	}
	e.c.drop(ids)
}
