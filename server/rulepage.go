package server

import (
	"context"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// The rules' pages have no address on the web and stand in no file. A client that shows documents which a server provides
// (workspace/textDocumentContent, LSP 3.18) gets them as such: reports and rules' names link to them there.

// ruleScheme is that of the addresses of rules' pages, such as motet-rule:/seam-gap.md. The ending makes it Markdown for an
// editor.
const ruleScheme = "motet-rule"

func rulePage(rule string) uri.URI { return uri.URI(ruleScheme + ":/" + rule + ".md") }

// explains tells whether the client can show the rules' pages.
func (c *client) explains() bool { return c.contents }

// textDocumentContent prepares the text of a rule's page.
func (s *session) textDocumentContent(req *jsonrpc2.Request) (work, error) {
	var params protocol.TextDocumentContentParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	scheme, path, _ := strings.Cut(string(params.URI), ":")
	name := strings.TrimSuffix(strings.TrimLeft(path, "/"), ".md")
	rule := lint.RuleNamed(name)
	switch {
	case scheme != ruleScheme:
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "%s is no rule's page; those begin with %s:", params.URI, ruleScheme)
	case rule == nil:
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "there is no rule `%s`; the page of a rule is %s", name, rulePage("RULE"))
	}
	return func(context.Context) (any, error) {
		return &protocol.TextDocumentContentResult{Text: rule.Page()}, nil
	}, nil
}

// ruleLinks are the links of a line to the pages of the rules that it names.
func (snap snapshot) ruleLinks(b *grammar.Block, line int) []protocol.DocumentLink {
	var out []protocol.DocumentLink
	add := func(rule string, at grammar.Span) {
		if lint.RuleNamed(rule) == nil {
			return
		}
		target := rulePage(rule)
		out = append(out, protocol.DocumentLink{Range: snap.rangeOfRef(b.Ref(line, at)), Target: &target})
	}
	l := &b.Lines[line]
	if l.Allow != nil {
		add(l.Allow.Rule, l.Allow.At)
	}
	if b.Kind == grammar.HouseBlock && l.Kind == grammar.RowLine && 0 < len(l.Cells) {
		add(l.CellText(0), l.Cells[0].Span)
	}
	return out
}
