package server

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.lsp.dev/uri"
)

// restless is a sheet with an error and a warning: a name that is not there and an accent beside the beat.
var restless = strings.Replace(strings.Replace(deckhandSheet, "track head", "track haed", 1), "  3b      -2^", "  1b+7f   -2^", 1)

func severities(found []diagnostic) (out []int) {
	for _, d := range found {
		out = append(out, d.Severity)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func TestSettingsAreTakenFromTheNotification(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := at("wait.motet")
	c := connect(t, pulls)
	c.open(sheet, restless)
	pull := func() []int {
		return severities(parse[struct{ Items []diagnostic }](t, c.call("textDocument/diagnostic", m{"textDocument": m{"uri": sheet}})).Items)
	}
	require.Equal(t, []int{1, 2}, pull())
	for _, step := range []struct {
		settings any
		want     []int
	}{
		{m{"motet": m{"least": "error"}}, []int{1}},
		{m{"motet": m{"least": "loud"}}, []int{1}}, // not understood: nothing changes
		{m{"other": m{"least": "note"}}, []int{1}}, // not ours
		{nil, []int{1}},
		{m{"motet": m{}}, []int{1, 2}},
	} {
		c.notify("workspace/didChangeConfiguration", m{"settings": step.settings})
		require.Eventually(t, func() bool { return slices.Equal(step.want, pull()) }, patience, 10*time.Millisecond)
	}
	require.NoError(t, c.stop())
	require.Contains(t, c.log.String(), `the setting motet.least is "loud"; write note, warning or error`)
}

func TestSettingsAreAskedForAndPushAgain(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := at("wait.motet")
	c := dial(t)
	c.answerWith("workspace/configuration", []m{{"least": "error"}})
	c.initialize(m{"workspace": m{"configuration": true}})
	c.open(sheet, restless)
	c.wait("diagnostics of errors alone", func() bool {
		return 0 < len(c.pushes) && slices.Equal([]int{1}, severities(c.pushes[len(c.pushes)-1].Diagnostics))
	})
	c.answerWith("workspace/configuration", []any{nil})
	c.notify("workspace/didChangeConfiguration", m{"settings": nil})
	c.wait("diagnostics of all levels", func() bool {
		return slices.Equal([]int{1, 2}, severities(c.pushes[len(c.pushes)-1].Diagnostics))
	})
}

// TestTheWholeWorkspaceIsPulled asks for all sheets, open and not; what has not changed is said to be so, and what rests on
// a file that changed on disk is told anew though nobody said that it changed.
func TestTheWholeWorkspaceIsPulled(t *testing.T) {
	at := quay(t, map[string]string{
		"deckhand.motet": deckhandRig, "closed.motet": restless, "calm.motet": deckhandSheet, ".hidden/x.motet": restless,
	})
	type item struct {
		Kind, URI, ResultID string
		Version             *int
		Items               []diagnostic
	}
	c := connect(t, pulls, m{"rootUri": strings.TrimSuffix(at("x"), "/x")})
	pull := func(before []item) []item {
		known := []m{}
		for _, i := range before {
			known = append(known, m{"uri": i.URI, "value": i.ResultID})
		}
		return parse[struct{ Items []item }](t, c.call("workspace/diagnostic", m{"previousResultIds": known})).Items
	}
	c.open(at("wait.motet"), restless)
	kinds := func(items []item) (out []string) {
		for _, i := range items {
			path := uri.MustParse(i.URI).FsPath()
			out = append(out, path[strings.LastIndexAny(path, `/\`)+1:]+" "+i.Kind)
		}
		slices.Sort(out)
		return out
	}
	first := pull(nil)
	require.Equal(t, []string{"calm.motet full", "closed.motet full", "deckhand.motet full", "wait.motet full"}, kinds(first))
	for _, i := range first {
		open := i.URI == at("wait.motet")
		require.Equal(t, open, i.Version != nil, "only what is open has a version")
		if open || i.URI == at("closed.motet") {
			require.Equal(t, []int{1, 2}, severities(i.Items))
		} else {
			require.Empty(t, i.Items)
		}
	}
	require.Equal(t, []string{"calm.motet unchanged", "closed.motet unchanged", "deckhand.motet unchanged", "wait.motet unchanged"}, kinds(pull(first)))

	path := uri.MustParse(at("deckhand.motet")).FsPath()
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(deckhandRig, "head/nod ", "head/dip ", 1)), 0o644))
	again := pull(first)
	require.Contains(t, kinds(again), "calm.motet full", "its rig changed")
	for _, i := range again {
		if i.URI == at("calm.motet") {
			require.Equal(t, "12:10-12:13 unknown-name\n", rules(i.Items))
		}
	}
}

func TestTraces(t *testing.T) {
	c := connect(t, m{"trace": "messages"})
	c.open(sheetURI, deckhandSheet)
	c.call("textDocument/hover", at(sheetURI, 0, 1))
	traced := func() (out []map[string]any) {
		for _, message := range c.heard() {
			if message.Method == "$/logTrace" {
				var params map[string]any
				require.NoError(t, json.Unmarshal(message.Params, &params))
				out = append(out, params)
			}
		}
		return out
	}
	require.Eventually(t, func() bool { return len(traced()) >= 3 }, patience, 10*time.Millisecond)
	require.Regexp(t, `^textDocument/hover took \d+\.\d\d ms$`, traced()[len(traced())-1]["message"])
	require.NotContains(t, traced()[0], "verbose")

	c.notify("$/setTrace", m{"value": "verbose"})
	c.call("textDocument/hover", at(sheetURI, 0, 1))
	require.Eventually(t, func() bool { return traced()[len(traced())-1]["verbose"] != nil }, patience, 10*time.Millisecond)
	require.Contains(t, traced()[len(traced())-1]["verbose"], sheetURI)
	c.notify("$/setTrace", m{"value": "off"})
	many := len(traced())
	c.call("textDocument/hover", at(sheetURI, 0, 1))
	require.Len(t, traced(), many)
}
