package server

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
)

type hierarchyItem struct {
	Name           string
	Detail         string
	URI            string
	SelectionRange stretch
}

func TestBasesAndVariants(t *testing.T) {
	address, sheets := demo(t)
	c := connect(t, m{"rootUri": address("")})
	c.open(address("netmender.motet"), sheets["netmender.motet"])
	line := lineOf(sheets["netmender.motet"], "from ")
	items := parse[[]map[string]any](t, c.call("textDocument/prepareTypeHierarchy", at(address("netmender.motet"), line, 14)))
	require.Len(t, items, 1)
	require.Equal(t, "keeper-wait", items[0]["name"])
	var names []string
	for _, one := range parse[[]hierarchyItem](t, c.call("typeHierarchy/subtypes", m{"item": items[0]})) {
		names = append(names, one.Detail)
	}
	// What the demo's files say of themselves: those with the line `from keeper-wait`.
	var want []string
	for name, text := range sheets {
		if strings.Contains(text, "from      keeper-wait ") {
			want = append(want, name)
		}
	}
	require.ElementsMatch(t, want, names)
	require.Empty(t, parse[[]hierarchyItem](t, c.call("typeHierarchy/supertypes", m{"item": items[0]})))

	own := parse[[]map[string]any](t, c.call("textDocument/prepareTypeHierarchy", at(address("netmender.motet"), lineOf(sheets["netmender.motet"], "sheet "), 8)))
	above := parse[[]hierarchyItem](t, c.call("typeHierarchy/supertypes", m{"item": own[0]}))
	require.Equal(t, "keeper-wait", above[0].Name)
	require.Equal(t, address("keeper.motet"), above[0].URI)
	require.Equal(t, stretch{place{1, 6}, place{1, 17}}, above[0].SelectionRange)
	require.Equal(t, "null", string(c.call("textDocument/prepareTypeHierarchy", at(address("netmender.motet"), 0, 3))))
}

func TestLeadersAndFollowers(t *testing.T) {
	address, sheets := demo(t)
	c := connect(t, m{"rootUri": address("")})
	// A variant inherits the follows of its base: in keeper.motet the head and both arms follow the spine.
	c.open(address("netmender.motet"), sheets["netmender.motet"])
	line := lineOf(sheets["netmender.motet"], "spine/lean")
	items := parse[[]map[string]any](t, c.call("textDocument/prepareCallHierarchy", at(address("netmender.motet"), line, 14)))
	require.Len(t, items, 1)
	require.Equal(t, "spine", items[0]["name"])
	var followers []string
	for _, call := range parse[[]struct {
		To         hierarchyItem
		FromRanges []stretch
	}](t, c.call("callHierarchy/outgoingCalls", m{"item": items[0]})) {
		followers = append(followers, call.To.Name)
		require.Equal(t, address("keeper.motet"), call.To.URI)
	}
	require.Equal(t, []string{"head", "arm.left", "arm.right"}, followers)
	items[0]["name"] = "head"
	leaders := parse[[]struct {
		From       hierarchyItem
		FromRanges []stretch
	}](t, c.call("callHierarchy/incomingCalls", m{"item": items[0]}))
	require.Len(t, leaders, 1)
	require.Equal(t, "spine", leaders[0].From.Name)
	at := lineOf(sheets["keeper.motet"], "follow head after spine")
	require.Equal(t, []stretch{{place{at, 7}, place{at, 11}}}, leaders[0].FromRanges)
	require.Equal(t, stretch{place{at, 18}, place{at, 23}}, leaders[0].From.SelectionRange)
	require.Equal(t, -32602, c.refused("callHierarchy/incomingCalls", m{"item": m{
		"name": "head", "kind": 13, "uri": address("keeper.motet"), "range": span(0, 0, 0, 0), "selectionRange": span(0, 0, 0, 0),
	}}), "an item without what it was given")
}

func TestFlattening(t *testing.T) {
	address, sheets := demo(t)
	c := connect(t, m{"rootUri": address("")})
	uri := address("netmender.motet")
	c.open(uri, sheets["netmender.motet"])
	flat := parse[string](t, c.call("workspace/executeCommand", m{"command": "motet.flatten", "arguments": []any{uri}, "workDoneToken": 7}))
	files := demoTrees(t)
	before := resolved(files)["netmender.motet"]
	files["netmender.motet"] = grammar.Parse("netmender.motet", flat)
	require.NotContains(t, flat, "\n  from ", "it stands alone")
	after := resolved(files)["netmender.motet"]
	for i := range before.Channels {
		for step := range 17 {
			frames := before.Sheet.Length.Float() * float64(step) / 17
			require.InDelta(t, before.Channels[i].At(frames), after.Channels[i].At(frames), 1e-9, before.Channels[i].Dial.Path)
		}
	}
	var kinds []string
	for _, message := range c.heard() {
		if message.Method == "$/progress" {
			var p struct {
				Token json.RawMessage
				Value struct{ Kind string }
			}
			require.NoError(t, json.Unmarshal(message.Params, &p))
			require.Equal(t, "7", string(p.Token))
			kinds = append(kinds, p.Value.Kind)
		}
	}
	require.Equal(t, []string{"begin", "report", "end"}, kinds)
	for _, wrong := range []m{{"command": "motet.sing"}, {"command": "motet.flatten"}, {"command": "motet.flatten", "arguments": []any{"file:///nowhere.motet"}}, {"command": "motet.flatten", "arguments": []any{4}}} {
		require.Equal(t, -32602, c.refused("workspace/executeCommand", wrong))
	}
	c.open(address("empty.motet"), "sheet nothing\n")
	require.Equal(t, -32803, c.refused("workspace/executeCommand", m{"command": "motet.flatten", "arguments": []any{address("empty.motet")}}))
}
