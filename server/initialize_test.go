package server

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWhatTheServerOffers(t *testing.T) {
	c := dial(t)
	require.JSONEq(t, `{
		"serverInfo": {"name": "motet", "version": "0.0.0-test"},
		"capabilities": {
			"positionEncoding": "utf-16",
			"textDocumentSync": {"openClose": true, "change": 2},
			"hoverProvider": true,
			"documentFormattingProvider": true,
			"workspace": {"workspaceFolders": {"supported": true, "changeNotifications": true}}
		}
	}`, string(encode(withoutFeatures(t, c.initialize()))))
}

func TestPositionEncodings(t *testing.T) {
	for _, row := range []struct {
		offered any
		want    string
	}{
		{nil, "utf-16"},
		{[]string{}, "utf-16"},
		{[]string{"utf-8", "utf-16"}, "utf-8"},
		{[]string{"utf-32", "utf-8", "utf-16"}, "utf-32"},
		{[]string{"ebcdic", "utf-8"}, "utf-8"},
		{[]string{"ebcdic"}, "utf-16"},
	} {
		t.Run(fmt.Sprint(row.offered), func(t *testing.T) {
			general := m{}
			if row.offered != nil {
				general["positionEncodings"] = row.offered
			}
			got := parse[struct {
				Capabilities struct{ PositionEncoding string }
			}](t, dial(t).initialize(m{"general": general}))
			require.Equal(t, row.want, got.Capabilities.PositionEncoding)
		})
	}
}

// Neovim 0.10 showed every diagnostic twice when a server pushed and could also be asked.
func TestDiagnosticsArePushedOrPulledButNotBoth(t *testing.T) {
	type offer struct {
		Capabilities struct {
			DiagnosticProvider *struct{ InterFileDependencies bool }
		}
	}
	t.Run("pushed", func(t *testing.T) {
		c := dial(t)
		require.Nil(t, parse[offer](t, c.initialize()).Capabilities.DiagnosticProvider)
		c.open(sheetURI, "shet keeper\n")
		require.NotEmpty(t, c.diagnosticsOf(sheetURI, 1))
	})
	t.Run("pulled", func(t *testing.T) {
		c := dial(t)
		require.True(t, parse[offer](t, c.initialize(pulls)).Capabilities.DiagnosticProvider.InterFileDependencies)
		c.open(sheetURI, "shet keeper\n")
		report := parse[struct{ Items []diagnostic }](t, c.call("textDocument/diagnostic", m{"textDocument": m{"uri": sheetURI}}))
		require.NotEmpty(t, report.Items)
		require.NoError(t, c.stop())
		require.Empty(t, c.pushes)
	})
}

func TestClientsThatSayLittle(t *testing.T) {
	c := dial(t)
	c.call("initialize", m{"processId": nil, "rootUri": nil, "capabilities": m{"textDocument": nil, "workspace": nil, "general": nil}})
	require.NoError(t, c.stop())
}
