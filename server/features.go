package server

import (
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// shows is what the client can show of what it asks for; it is read once, at initialize.
type shows struct {
	labelOffsets bool // takes places in a signature's label
	snippets     bool // takes completions with stops of the cursor
	preselects   bool // marks the completion that is most likely meant
}

func (c *shows) read(capabilities *protocol.ClientCapabilities) {
	document := capabilities.TextDocument
	if document == nil {
		return
	}
	if completion := document.Completion; completion != nil && completion.CompletionItem != nil {
		c.snippets = isTrue(completion.CompletionItem.SnippetSupport)
		c.preselects = isTrue(completion.CompletionItem.PreselectSupport)
	}
	if help := document.SignatureHelp; help != nil && help.SignatureInformation != nil && help.SignatureInformation.ParameterInformation != nil {
		c.labelOffsets = isTrue(help.SignatureInformation.ParameterInformation.LabelOffsetSupport)
	}
}

// offer adds what the server can do beside checking and mending.
func (c shows) offer(capabilities *protocol.ServerCapabilities) {
	yes := true
	capabilities.CompletionProvider = &protocol.CompletionOptions{
		TriggerCharacters: []string{"/", `"`, " "}, ResolveProvider: &yes,
	}
	capabilities.SignatureHelpProvider = &protocol.SignatureHelpOptions{TriggerCharacters: []string{" "}}
}

// prepareFeature decodes a request of those that help to read and to write.
func (s *session) prepareFeature(req *jsonrpc2.Request) (work, error) {
	switch req.Method() {
	case protocol.MethodTextDocumentCompletion:
		return about(s, req, func(p *protocol.CompletionParams) uri.URI { return p.TextDocument.URI }, s.completion)
	case protocol.MethodCompletionItemResolve:
		return s.resolveCompletion(req)
	case protocol.MethodTextDocumentSignatureHelp:
		return about(s, req, func(p *protocol.SignatureHelpParams) uri.URI { return p.TextDocument.URI }, s.signatureHelp)
	}
	return nil, jsonrpc2.Errorf(jsonrpc2.MethodNotFound, "%s is not a request that this server answers", req.Method())
}
