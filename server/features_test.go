package server

import (
	"encoding/json"
	"maps"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/grammar/sheets"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// plainOffers are what any client is offered beside checking and mending (initialize_test.go has the rest).
const plainOffers = `{
	"completionProvider": {"triggerCharacters": ["/", "\"", " "], "resolveProvider": true},
	"signatureHelpProvider": {"triggerCharacters": [" "]},
	"definitionProvider": true, "referencesProvider": true, "documentHighlightProvider": true,
	"documentSymbolProvider": true, "workspaceSymbolProvider": true, "foldingRangeProvider": true,
	"selectionRangeProvider": true, "documentLinkProvider": {}, "renameProvider": true,
	"inlayHintProvider": true, "typeHierarchyProvider": true, "callHierarchyProvider": true,
	"executeCommandProvider": {"commands": ["motet.flatten", "motet.showPage"], "workDoneProgress": true}, "documentRangeFormattingProvider": true, "documentOnTypeFormattingProvider": {"firstTriggerCharacter": "\n"}, "codeLensProvider": {},
	"semanticTokensProvider": {"full": {"delta": true}, "range": true, "legend": {"tokenModifiers": ["declaration"], "tokenTypes": [
		"keyword", "comment", "string", "number", "label", "operator", "class", "variable", "property", "enum", "interface", "function", "macro", "enumMember"
	]}}
}`

type offers struct {
	ServerInfo   any            `json:"serverInfo"`
	Capabilities map[string]any `json:"capabilities"`
}

// withoutFeatures is the answer to initialize without what plainOffers lists.
func withoutFeatures(t testing.TB, answer json.RawMessage) offers {
	got := parse[offers](t, answer)
	for key := range parse[map[string]any](t, json.RawMessage(plainOffers)) {
		delete(got.Capabilities, key)
	}
	return got
}

func TestWhatAnyClientIsOffered(t *testing.T) {
	got := parse[offers](t, dial(t).initialize()).Capabilities
	for key, want := range parse[map[string]any](t, json.RawMessage(plainOffers)) {
		require.Equal(t, want, got[key], key)
	}
}

// askEverything sends every kind of request about a place of a document. The client checks each answer against the
// protocol's meta-model.
func askEverything(c *testClient, uri string, line, character int) {
	document := m{"uri": uri}
	here := at(uri, line, character)
	for _, method := range []string{
		"textDocument/completion", "textDocument/hover", "textDocument/signatureHelp", "textDocument/definition",
		"textDocument/documentHighlight", "textDocument/documentSymbol", "textDocument/foldingRange", "textDocument/documentLink",
		"textDocument/codeLens", "textDocument/semanticTokens/full",
	} {
		c.call(method, here)
	}
	c.call("textDocument/inlineCompletion", with(here, "context", m{"triggerKind": 1}))
	c.call("textDocument/references", with(here, "context", m{"includeDeclaration": true}))
	c.call("textDocument/selectionRange", m{"textDocument": document, "positions": []m{here["position"].(m)}})
	for _, id := range []string{c.ask("textDocument/prepareRename", here), c.ask("textDocument/rename", with(here, "newName", "other-name"))} {
		if a := c.await(id); a.fault != nil {
			require.Equal(c.t, -32803, a.fault.Code, a.fault.Message) // RequestFailed: a name that can't be renamed
		}
	}
	c.call("textDocument/semanticTokens/full/delta", with(here, "previousResultId", "1"))
	c.call("textDocument/semanticTokens/range", with(here, "range", span(0, 0, line, character)))
	c.call("textDocument/inlayHint", with(here, "range", span(0, 0, 9999, 0)))
	c.call("textDocument/rangeFormatting", with(with(here, "range", span(line, 0, line+2, 0)), "options", m{"tabSize": 2, "insertSpaces": true}))
	c.call("textDocument/rangesFormatting", with(with(here, "ranges", []m{span(0, 0, 1, 0), span(line, 0, line+2, 0)}), "options", m{"tabSize": 2, "insertSpaces": true}))
	c.call("workspace/willRenameFiles", m{"files": []m{{"oldUri": uri, "newUri": uri + "-2.motet"}}})
	c.call("textDocument/onTypeFormatting", with(with(here, "ch", "\n"), "options", m{"tabSize": 2, "insertSpaces": true}))
	for _, one := range parse[[]map[string]any](c.t, c.call("textDocument/prepareTypeHierarchy", here)) {
		c.call("typeHierarchy/supertypes", m{"item": one})
		c.call("typeHierarchy/subtypes", m{"item": one})
	}
	for _, one := range parse[[]map[string]any](c.t, c.call("textDocument/prepareCallHierarchy", here)) {
		c.call("callHierarchy/incomingCalls", m{"item": one})
		c.call("callHierarchy/outgoingCalls", m{"item": one})
	}
	if a := c.await(c.ask("workspace/executeCommand", m{"command": flattenCommand, "arguments": []any{uri}, "workDoneToken": "flat"})); a.fault != nil {
		require.Equal(c.t, -32803, a.fault.Code, a.fault.Message)
	}
	c.call("workspace/symbol", m{"query": "kw"})
	c.call("workspace/textDocumentContent", m{"uri": "motet-rule:/freeze.md"})
	c.call("textDocument/formatting", m{"textDocument": document, "options": m{"tabSize": 2, "insertSpaces": true}})
	c.call("textDocument/codeAction", m{"textDocument": document, "range": span(line, character, line, character), "context": m{"diagnostics": []m{}}})
	offered := parse[[]map[string]any](c.t, c.call("textDocument/codeAction", m{"textDocument": document, "range": span(line, 0, line+3, character), "context": m{"diagnostics": []m{}}}))
	for _, action := range offered {
		c.call("codeAction/resolve", action)
	}
}

// with is a message with one more property.
func with(message m, key string, value any) m {
	out := maps.Clone(message)
	out[key] = value
	return out
}

// able is a client that can do whatever the server can use.
var able = []m{pulls, actionLiterals, versionedEdits, takesSnippets, labelOffsets, symbolTrees, creates, rich, showsPages, renamesFiles, resolvesEdits, replaces, formatsRanges, inlines, counts("utf-8")}

// An editor asks at its own moments, mostly in the middle of a mistake. So every kind of request is asked about sheets
// that are whole, broken in one line and whole again.
func TestEveryRequestBeforeDuringAndAfterErrors(t *testing.T) {
	address, sheets := demo(t)
	c := connect(t, append([]m{{"rootUri": address("")}}, able...)...)
	for _, name := range []string{"keeper.motet", "netmender.motet", "quayfolk.motet", "quayfolk-family.motet", "glances/keeper-gull.motet"} {
		uri, version := address(name), 1
		c.open(uri, sheets[name])
		lines := strings.Split(sheets[name], "\n")
		step := slow * max(1, len(lines)/12)
		for i := 0; i < len(lines); i += step {
			middle := len(lines[i]) / 2
			askEverything(c, uri, i, middle)
			version += 2
			slip := []string{"§", `"`, "\n", "# ", "in in "}[i/step%5]
			c.change(uri, version, part(i, middle, i, middle, slip))
			askEverything(c, uri, i, middle)
			c.change(uri, version+1, whole(sheets[name]))
			askEverything(c, uri, i, len(lines[i]))
		}
		c.change(uri, version+2, whole(""))
		askEverything(c, uri, 0, 0)
		c.close(uri)
	}
	require.Empty(t, c.log.String(), "no request failed")
}

// Whatever stands in a text, of every kind of block and with any slip in it, every kind of request is answered everywhere.
func TestEveryRequestAboutAnyText(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "deckhand-wait.motet": deckhandSheet})
	c := connect(t, append([]m{{"rootUri": address("")}}, able...)...)
	uri, version := address("any.motet"), 1
	c.open(uri, "")
	rapid.Check(t, func(r *rapid.T) {
		text := sheets.DrawBroken(r)
		lines := strings.Split(text, "\n")
		line := rapid.IntRange(0, len(lines)).Draw(r, "line")
		character := rapid.IntRange(0, 40).Draw(r, "character")
		version++
		c.change(uri, version, whole(text))
		askEverything(c, uri, line, character)
		if log := c.log.String(); log != "" {
			r.Fatal(log)
		}
	})
}

// Behind every way to begin a line there is an answer to what may come next.
func TestCompletionBehindEveryWord(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	for _, block := range grammar.Blocks() {
		opener, _ := sample(usageWays(block.Opener)[0])
		begins := []string{opener, opener + " ", opener + "\n  "}
		for _, line := range block.Lines {
			for _, way := range usageWays(line) {
				for n := range len(way) + 1 {
					written, _ := sample(way[:n])
					begins = append(begins, opener+"\n  "+written, opener+"\n  "+written+" ")
				}
			}
		}
		for _, text := range begins {
			text = completionSheet + text
			snap := snapshotOf(t, address, "wait.motet", text)
			require.NotPanics(t, func() { askingAt(snap, len(text)).candidates() }, text)
		}
	}
}
