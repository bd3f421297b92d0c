package server

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

type workspaceEdit struct {
	Changes         map[string][]textEdit
	DocumentChanges []struct {
		TextDocument struct {
			URI     string
			Version *int
		}
		Edits []textEdit
	}
}

type codeAction struct {
	Title       string
	Kind        string
	IsPreferred bool
	Diagnostics []diagnostic
	Edit        workspaceEdit
}

var (
	actionLiterals = m{"textDocument": m{"codeAction": m{"codeActionLiteralSupport": m{"codeActionKind": m{"valueSet": []string{"quickfix"}}}}}}
	versionedEdits = m{"workspace": m{"workspaceEdit": m{"documentChanges": true}}}
)

// mendsOf leaves out the refactorings, which refactor_test.go looks at.
func mendsOf(all []codeAction) []codeAction {
	return slices.DeleteFunc(all, func(a codeAction) bool { return strings.HasPrefix(a.Kind, "refactor") })
}

func TestMendsAsCodeActions(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := address("wait.motet")
	broken := strings.Replace(deckhandSheet, "track hips", "# 😀\ntrack hisp", 1)
	ask := func(c *testClient, r m, only ...string) []codeAction {
		context := m{"diagnostics": []m{}}
		if only != nil {
			context["only"] = only
		}
		return mendsOf(parse[[]codeAction](t, c.call("textDocument/codeAction", m{"textDocument": m{"uri": sheet}, "range": r, "context": context})))
	}

	c := connect(t, actionLiterals)
	c.open(sheet, broken)
	for _, r := range []m{span(7, 8, 7, 8), span(7, 10, 7, 10), span(7, 0, 7, 6), span(0, 0, 99, 0)} {
		got := ask(c, r)
		require.Len(t, got, 1, "%v", r)
		require.Equal(t, "write `hips`", got[0].Title)
		require.Equal(t, "quickfix", got[0].Kind)
		require.False(t, got[0].IsPreferred, "a guess at what was meant")
		require.Equal(t, "unknown-name", got[0].Diagnostics[0].Code)
		require.Equal(t, map[string][]textEdit{sheet: {{stretch{place{7, 6}, place{7, 10}}, "hips"}}}, got[0].Edit.Changes)
	}
	require.Empty(t, ask(c, span(8, 0, 8, 0)))
	require.Empty(t, ask(c, span(0, 0, 7, 5)))
	require.Len(t, ask(c, span(7, 8, 7, 8), "quickfix"), 1)
	require.Len(t, ask(c, span(7, 8, 7, 8), ""), 1)
	require.Empty(t, ask(c, span(7, 8, 7, 8), "refactor"))
	require.Empty(t, ask(c, span(7, 8, 7, 8), "quickfix.other"))
}

func TestCodeActionsNameTheVersionTheyAreAbout(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := address("wait.motet")
	c := connect(t, actionLiterals, versionedEdits)
	c.open(sheet, deckhandSheet)
	c.change(sheet, 7, part(6, 6, 6, 10, "hisp"))
	got := mendsOf(parse[[]codeAction](t, c.call("textDocument/codeAction", m{
		"textDocument": m{"uri": sheet}, "range": span(6, 7, 6, 7), "context": m{"diagnostics": []m{}},
	})))
	require.Len(t, got, 1)
	require.Len(t, got[0].Edit.DocumentChanges, 1)
	require.Equal(t, 7, *got[0].Edit.DocumentChanges[0].TextDocument.Version)
	require.Equal(t, sheet, got[0].Edit.DocumentChanges[0].TextDocument.URI)
	require.Equal(t, []textEdit{{stretch{place{6, 6}, place{6, 10}}, "hips"}}, got[0].Edit.DocumentChanges[0].Edits)
}

func TestCodeActionsAreOfferedOnlyToClientsThatTakeThem(t *testing.T) {
	type offer struct {
		Capabilities struct {
			CodeActionProvider *struct{ CodeActionKinds []string }
		}
	}
	t.Run("without", func(t *testing.T) {
		require.Nil(t, parse[offer](t, dial(t).initialize()).Capabilities.CodeActionProvider)
	})
	t.Run("without kinds, as ALE 3.3 says it", func(t *testing.T) {
		noKinds := m{"textDocument": m{"codeAction": m{"codeActionLiteralSupport": m{"codeActionKind": m{"valueSet": []string{}}}}}}
		require.NotNil(t, parse[offer](t, dial(t).initialize(noKinds)).Capabilities.CodeActionProvider)
	})
	t.Run("with", func(t *testing.T) {
		got := parse[offer](t, dial(t).initialize(actionLiterals))
		require.Equal(t, []string{"quickfix", "refactor.rewrite", "refactor.extract", "source.fixAll.motet"}, got.Capabilities.CodeActionProvider.CodeActionKinds)
	})
}

// An editor that mends on saving asks for source.fixAll and applies what it gets.
func TestMendingAll(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := address("wait.motet")
	// A body line in column 1 and a typographic minus sign: each can only be a slip.
	broken := strings.NewReplacer("  0b      2^", "0b      2^", "2b      -2^", "2b      −2^").Replace(deckhandSheet)
	c := connect(t, actionLiterals)
	c.open(sheet, broken)
	ask := func(only ...string) []codeAction {
		return parse[[]codeAction](t, c.call("textDocument/codeAction", m{
			"textDocument": m{"uri": sheet}, "range": span(0, 0, 0, 0), "context": m{"diagnostics": []m{}, "only": only},
		}))
	}
	require.Empty(t, ask())
	require.Empty(t, ask("quickfix"))
	for _, only := range []string{"source", "source.fixAll", "source.fixAll.motet"} {
		got := ask(only)
		require.Len(t, got, 1, only)
		require.Equal(t, "source.fixAll.motet", got[0].Kind)
		require.Equal(t, deckhandSheet, applied(broken, utf16Units, got[0].Edit.Changes[sheet]))
	}
	c.change(sheet, 2, whole(deckhandSheet))
	require.Empty(t, ask("source.fixAll"))
}

var resolvesEdits = m{"textDocument": m{"codeAction": m{"dataSupport": true, "resolveSupport": m{"properties": []string{"edit"}}}}}

// A client that asks for the edits of what is taken gets those that others get at once, and none for another text.
func TestRefactoringsAreResolved(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := address("wait.motet")
	ask := func(c *testClient) []json.RawMessage {
		return parse[[]json.RawMessage](t, c.call("textDocument/codeAction", m{"textDocument": m{"uri": sheet}, "range": span(6, 0, 8, 3), "context": m{"diagnostics": []m{}, "only": []string{"refactor"}}}))
	}
	eager := map[string]codeAction{}
	t.Run("at once", func(t *testing.T) {
		c := connect(t, actionLiterals, counts("utf-8"))
		c.open(sheet, deckhandSheet)
		for _, raw := range ask(c) {
			one := parse[codeAction](t, raw)
			require.NotEmpty(t, one.Edit.Changes, one.Title)
			eager[one.Title] = one
		}
		require.Greater(t, len(eager), 3)
	})
	t.Run("when taken", func(t *testing.T) {
		c := dial(t)
		require.Equal(t, true, parse[offers](t, c.initialize(actionLiterals, resolvesEdits, counts("utf-8"))).Capabilities["codeActionProvider"].(map[string]any)["resolveProvider"])
		c.open(sheet, deckhandSheet)
		offered := ask(c)
		require.Len(t, offered, len(eager))
		for _, raw := range offered {
			one := parse[codeAction](t, raw)
			require.Empty(t, one.Edit.Changes, one.Title)
			require.Equal(t, eager[one.Title], parse[codeAction](t, c.call("codeAction/resolve", raw)))
		}
		other := parse[map[string]any](t, offered[0])
		other["title"] = "sing"
		require.Equal(t, -32803, c.refused("codeAction/resolve", other)) // RequestFailed
		require.JSONEq(t, `{"title": "another server's"}`, string(c.call("codeAction/resolve", m{"title": "another server's"})))
		c.change(sheet, 2, part(0, 0, 0, 0, "# one line further down\n"))
		require.Equal(t, -32801, c.refused("codeAction/resolve", offered[0])) // ContentModified
		c.close(sheet)
		require.Equal(t, -32801, c.refused("codeAction/resolve", offered[0]))
	})
}
