package server

import (
	"slices"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// shows is what the client can show of what it asks for; it is read once, at initialize.
type shows struct {
	creates      bool                          // makes files that an edit asks for
	labelOffsets bool                          // takes places in a signature's label
	symbolTrees  bool                          // takes an outline as a tree
	prepares     bool                          // asks what would be renamed before it asks for the new name
	itemKinds    []protocol.CompletionItemKind // beyond those of the first protocol
	symbolKinds  []protocol.SymbolKind         // beyond those of the first protocol
	itemMarkdown bool                          // shows Markdown beside completions
	snippets     bool                          // takes completions with stops of the cursor
	preselects   bool                          // marks the completion that is most likely meant
	replaces     bool                          // lets its user choose whether a completion takes the rest of a word along
	renamesFiles bool                          // asks what else has to change before it renames files
	inline       bool                          // shows what may come next behind the cursor
	ranges       bool                          // has several stretches of a text formatted at once
	exports      bool                          // not the client's part: the server was given what writes clips
}

func (c *shows) read(capabilities *protocol.ClientCapabilities) {
	if workspace := capabilities.Workspace; workspace != nil {
		if edits := workspace.WorkspaceEdit; edits != nil {
			c.creates = slices.Contains(edits.ResourceOperations, protocol.ResourceOperationKindCreate)
		}
		if files := workspace.FileOperations; files != nil {
			c.renamesFiles = isTrue(files.WillRename)
		}
	}
	document := capabilities.TextDocument
	if document == nil {
		return
	}
	if completion := document.Completion; completion != nil && completion.CompletionItem != nil {
		c.snippets = isTrue(completion.CompletionItem.SnippetSupport)
		c.replaces = isTrue(completion.CompletionItem.InsertReplaceSupport)
		c.preselects = isTrue(completion.CompletionItem.PreselectSupport)
		c.itemMarkdown = slices.Contains(completion.CompletionItem.DocumentationFormat, protocol.MarkupKindMarkdown)
		if kinds := completion.CompletionItemKind; kinds != nil {
			c.itemKinds = kinds.ValueSet
		}
	}
	if symbols := document.DocumentSymbol; symbols != nil {
		c.symbolTrees = isTrue(symbols.HierarchicalDocumentSymbolSupport)
		if symbols.SymbolKind != nil {
			c.symbolKinds = symbols.SymbolKind.ValueSet
		}
	}
	c.inline = document.InlineCompletion != nil
	if format := document.RangeFormatting; format != nil {
		c.ranges = isTrue(format.RangesSupport)
	}
	if rename := document.Rename; rename != nil {
		c.prepares = isTrue(rename.PrepareSupport)
	}
	if help := document.SignatureHelp; help != nil && help.SignatureInformation != nil && help.SignatureInformation.ParameterInformation != nil {
		c.labelOffsets = isTrue(help.SignatureInformation.ParameterInformation.LabelOffsetSupport)
	}
}

// itemKind is a kind of completion that the client knows. One that lists none knows those up to Reference (LSP 3.18,
// CompletionClientCapabilities).
func (c *shows) itemKind(kind protocol.CompletionItemKind) protocol.CompletionItemKind {
	if kind <= protocol.CompletionItemKindReference || slices.Contains(c.itemKinds, kind) {
		return kind
	}
	return protocol.CompletionItemKindValue
}

// symbolKind is a kind of symbol that the client knows. One that lists none knows those up to Array (LSP 3.18,
// DocumentSymbolClientCapabilities).
func (c *shows) symbolKind(kind protocol.SymbolKind) protocol.SymbolKind {
	switch {
	case kind <= protocol.SymbolKindArray || slices.Contains(c.symbolKinds, kind):
		return kind
	case kind == protocol.SymbolKindEvent:
		return protocol.SymbolKindFunction
	}
	return protocol.SymbolKindClass
}

// offer adds what the server can do beside checking and mending.
func (c shows) offer(capabilities *protocol.ServerCapabilities) {
	yes := true
	capabilities.CompletionProvider = &protocol.CompletionOptions{
		TriggerCharacters: []string{"/", `"`, " "}, ResolveProvider: &yes,
	}
	capabilities.DefinitionProvider = protocol.Boolean(true)
	capabilities.ReferencesProvider = protocol.Boolean(true)
	capabilities.DocumentHighlightProvider = protocol.Boolean(true)
	capabilities.DocumentSymbolProvider = protocol.Boolean(true)
	capabilities.WorkspaceSymbolProvider = protocol.Boolean(true)
	capabilities.FoldingRangeProvider = protocol.Boolean(true)
	capabilities.SelectionRangeProvider = protocol.Boolean(true)
	capabilities.DocumentLinkProvider = &protocol.DocumentLinkOptions{}
	capabilities.RenameProvider = protocol.Boolean(true)
	if c.prepares {
		// Only a client that says it prepares may be told more than that there is a renaming (LSP 3.18).
		capabilities.RenameProvider = &protocol.RenameOptions{PrepareProvider: &yes}
	}
	capabilities.DocumentRangeFormattingProvider = protocol.Boolean(true)
	if c.ranges {
		capabilities.DocumentRangeFormattingProvider = &protocol.DocumentRangeFormattingOptions{RangesSupport: &yes}
	}
	if c.inline {
		capabilities.InlineCompletionProvider = protocol.Boolean(true)
	}
	if c.renamesFiles {
		capabilities.Workspace.FileOperations = &protocol.FileOperationOptions{WillRename: renamedFilesOptions()}
	}
	capabilities.DocumentOnTypeFormattingProvider = protocol.DocumentOnTypeFormattingOptions{FirstTriggerCharacter: "\n"}
	capabilities.TypeHierarchyProvider = protocol.Boolean(true)
	capabilities.CallHierarchyProvider = protocol.Boolean(true)
	capabilities.ExecuteCommandProvider = protocol.ExecuteCommandOptions{
		Commands: c.commands(), WorkDoneProgressOptions: protocol.WorkDoneProgressOptions{WorkDoneProgress: &yes},
	}
	capabilities.InlayHintProvider = protocol.Boolean(true)
	capabilities.CodeLensProvider = &protocol.CodeLensOptions{}
	capabilities.SemanticTokensProvider = &protocol.SemanticTokensOptions{
		Legend: protocol.SemanticTokensLegend{TokenTypes: tokenTypes, TokenModifiers: tokenModifiers},
		Full:   &protocol.SemanticTokensFullDelta{Delta: &yes}, Range: protocol.Boolean(true),
	}
	capabilities.SignatureHelpProvider = &protocol.SignatureHelpOptions{TriggerCharacters: []string{" "}}
}

// prepareFeature decodes a request of those that help to read and to write.
func (s *session) prepareFeature(req *jsonrpc2.Request) (work, error) {
	switch req.Method() {
	case protocol.MethodTextDocumentCompletion:
		return about(s, req, s.completion)
	case protocol.MethodTextDocumentInlineCompletion:
		return about(s, req, s.inlineCompletion)
	case protocol.MethodCodeActionResolve:
		return s.resolveAction(req)
	case protocol.MethodCompletionItemResolve:
		return s.resolveCompletion(req)
	case protocol.MethodTextDocumentSignatureHelp:
		return about(s, req, s.signatureHelp)
	case protocol.MethodTextDocumentDefinition:
		return about(s, req, s.definition)
	case protocol.MethodTextDocumentReferences:
		return about(s, req, s.references)
	case protocol.MethodTextDocumentDocumentHighlight:
		return about(s, req, s.highlights)
	case protocol.MethodTextDocumentPrepareRename:
		return about(s, req, s.prepareRename)
	case protocol.MethodTextDocumentRename:
		return about(s, req, s.rename)
	case protocol.MethodTextDocumentDocumentSymbol:
		return about(s, req, s.documentSymbols)
	case protocol.MethodTextDocumentFoldingRange:
		return about(s, req, s.folding)
	case protocol.MethodTextDocumentSelectionRange:
		return about(s, req, s.selections)
	case protocol.MethodTextDocumentDocumentLink:
		return about(s, req, s.links)
	case protocol.MethodTextDocumentSemanticTokensFull:
		return about(s, req, s.tokensFull)
	case protocol.MethodTextDocumentSemanticTokensFullDelta:
		return about(s, req, s.tokensDelta)
	case protocol.MethodTextDocumentSemanticTokensRange:
		return about(s, req, s.tokensRange)
	case protocol.MethodTextDocumentInlayHint:
		return about(s, req, s.inlays)
	case protocol.MethodTextDocumentCodeLens:
		return about(s, req, s.lenses)
	case protocol.MethodTextDocumentRangeFormatting:
		return about(s, req, s.formatRange)
	case protocol.MethodTextDocumentRangesFormatting:
		return about(s, req, s.formatRanges)
	case protocol.MethodTextDocumentOnTypeFormatting:
		return about(s, req, s.formatTyped)
	case protocol.MethodTextDocumentPrepareTypeHierarchy:
		return about(s, req, s.prepareTypes)
	case protocol.MethodTextDocumentPrepareCallHierarchy:
		return about(s, req, s.prepareCalls)
	case protocol.MethodTypeHierarchySupertypes:
		return s.supertypes(req)
	case protocol.MethodTypeHierarchySubtypes:
		return s.subtypes(req)
	case protocol.MethodCallHierarchyIncomingCalls:
		return s.incomingCalls(req)
	case protocol.MethodCallHierarchyOutgoingCalls:
		return s.outgoingCalls(req)
	case protocol.MethodWorkspaceExecuteCommand:
		return s.execute(req)
	case protocol.MethodWorkspaceSymbol:
		return s.workspaceSymbols(req)
	case protocol.MethodWorkspaceWillRenameFiles:
		return s.willRenameFiles(req)
	}
	return nil, jsonrpc2.Errorf(jsonrpc2.MethodNotFound, "%s is not a request that this server answers", req.Method())
}
