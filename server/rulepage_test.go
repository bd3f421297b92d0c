package server

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/lint"
	"github.com/stretchr/testify/require"
)

// showsPages is a client that shows documents which the server provides, and links in reports.
var showsPages = m{
	"workspace":    m{"textDocumentContent": m{}},
	"textDocument": m{"publishDiagnostics": m{"codeDescriptionSupport": true}},
}

type link struct {
	Range  stretch
	Target string
}

func TestReportsLinkToTheirRules(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := strings.Replace(deckhandSheet, "0b      1.5^", "0b      1.5^   # allow off-beat: none is", 1) + "\nhouse\n  rule            level   limit\n  crowded         error   6\n"
	for _, row := range []struct {
		name    string
		client  m
		href    string
		targets []string
	}{
		{"a client that shows them", showsPages, "motet-rule:/unused-name.md", []string{"motet-rule:/off-beat.md", "motet-rule:/crowded.md"}},
		{"one that follows links only to files", m{"textDocument": showsPages["textDocument"]}, "", nil},
		{"one that shows no links in reports", m{"workspace": showsPages["workspace"]}, "", []string{"motet-rule:/off-beat.md", "motet-rule:/crowded.md"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := connect(t, row.client)
			c.open(address("wait.motet"), sheet)
			var hrefs []string
			for _, d := range c.diagnosticsOf(address("wait.motet"), 1) {
				if d.CodeDescription != nil {
					require.Equal(t, "motet-rule:/"+d.Code+".md", d.CodeDescription.Href)
					hrefs = append(hrefs, d.CodeDescription.Href)
				}
			}
			require.Equal(t, row.href != "", 0 < len(hrefs), "%v", hrefs)
			var targets []string
			for _, l := range parse[[]link](t, c.call("textDocument/documentLink", m{"textDocument": m{"uri": address("wait.motet")}})) {
				if strings.HasPrefix(l.Target, ruleScheme) {
					targets = append(targets, l.Target)
					line := strings.Split(sheet, "\n")[l.Range.Start.Line]
					require.Contains(t, l.Target, line[l.Range.Start.Character:l.Range.End.Character])
				}
			}
			require.Equal(t, row.targets, targets)
		})
	}
}

// A rule's page is its section of RULES.md.
func TestRulesHavePages(t *testing.T) {
	c := dial(t)
	offer := parse[struct {
		Capabilities struct {
			Workspace struct{ TextDocumentContent struct{ Schemes []string } }
		}
	}](t, c.initialize(showsPages))
	require.Equal(t, []string{"motet-rule"}, offer.Capabilities.Workspace.TextDocumentContent.Schemes)
	rules, err := os.ReadFile(filepath.Join("..", "lint", "RULES.md"))
	require.NoError(t, err)
	for _, r := range lint.Rules() {
		page := parse[struct{ Text string }](t, c.call("workspace/textDocumentContent", m{"uri": string(rulePage(r.Name))})).Text
		require.True(t, strings.HasPrefix(page, "# "+r.Name+"\n\n"), page)
		require.Contains(t, string(rules), "\n##"+page)
	}
	for uri, says := range map[string]string{
		"motet-rule:/seam-gab.md": "there is no rule `seam-gab`",
		"motet-rule:":             "there is no rule ``",
		"file:///etc/passwd":      "no rule's page",
	} {
		a := c.await(c.ask("workspace/textDocumentContent", m{"uri": uri}))
		require.NotNil(t, a.fault, uri)
		require.Contains(t, a.fault.Message, says)
	}
}

// Clients of LSP 3.17 that pull say under publishDiagnostics what a diagnostic may have.
func TestPulledReportsHaveWhatPushedOnesMay(t *testing.T) {
	c := connect(t, showsPages, m{"textDocument": m{"diagnostic": m{}, "publishDiagnostics": m{"dataSupport": true}}})
	c.open(sheetURI, "sheet wait\n  cycle 4b\n")
	report := parse[struct{ Items []diagnostic }](t, c.call("textDocument/diagnostic", m{"textDocument": m{"uri": sheetURI}}))
	require.NotEmpty(t, report.Items)
	require.NotNil(t, report.Items[0].CodeDescription)
}
