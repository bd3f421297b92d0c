package server

import (
	"slices"
	"strings"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// client is what the server needs to know about the client; it is read once, at initialize.
type client struct {
	units           units
	pulls           bool // asks for diagnostics, so that none are pushed
	markdown        bool // shows Markdown in hovers
	related         bool // shows places related to a diagnostic
	unnecessary     bool // shows the tag of what is not used
	codeDescription bool // shows the address of a rule's page
	contents        bool // shows documents that the server provides
	data            bool // brings a diagnostic's data back with a code action
	actionLiterals  bool // takes code actions with edits
	resolvesEdits   bool // asks for the edits of the action that is taken
	versionedEdits  bool // takes edits with the version of the document that they are about
	watches         bool // can be asked to watch files
	refreshes       refreshes
	wishes          wishes
	configures      bool // can be asked for the user's settings
	showsDocuments  bool // can be asked to show a file or a page
	progress        bool // shows how far a work is that the server begins
	shows
}

// initialize agrees with the client on what both can do.
func (s *session) initialize(raw jsonrpc2.RawMessage) (any, error) {
	var params protocol.InitializeParams
	if err := protocol.Unmarshal(raw, &params); err != nil {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "the parameters of initialize can't be read: %v", err)
	}
	s.client = clientOf(&params.Capabilities)
	s.client.wishes = wishesOf(params.InitializationOptions)
	s.client.exports = s.options.ExportClip != nil
	s.changeWorld(func(w *world) { w.folders = foldersOf(&params) }, "")
	if params.ProcessID != nil {
		id := int(*params.ProcessID)
		go watchParent(s.life, id, s.parentGone)
	}
	s.setTrace(params.Trace)
	s.phase = serving
	return &protocol.InitializeResult{
		Capabilities: s.client.serverCapabilities(),
		ServerInfo:   protocol.ServerInfo{Name: s.options.Name, Version: optional(s.options.Version)},
	}, nil
}

// begin starts what talks to the client unasked, which must not come before the answer to initialize. The first
// notification after it is `initialized`; clients that leave that one out are served all the same.
func (s *session) begin() {
	if s.begun {
		return
	}
	s.begun = true
	if !s.client.pulls {
		s.start("pushing diagnostics", s.pushDiagnostics)
	}
	if s.client.configures {
		s.start("asking for settings", s.askForSettings)
	}
	if s.client.refreshes != (refreshes{}) {
		s.start("asking for refreshes", s.refreshStale)
	}
	if s.client.watches {
		s.start("asking to watch files", s.watchFiles)
	}
}

func (c client) serverCapabilities() protocol.ServerCapabilities {
	incremental, yes := protocol.TextDocumentSyncKindIncremental, true
	capabilities := protocol.ServerCapabilities{
		PositionEncoding:           protocol.PositionEncodingKind(c.units),
		TextDocumentSync:           &protocol.TextDocumentSyncOptions{OpenClose: &yes, Change: &incremental},
		HoverProvider:              protocol.Boolean(true),
		DocumentFormattingProvider: protocol.Boolean(true),
		Workspace: &protocol.WorkspaceOptions{WorkspaceFolders: &protocol.WorkspaceFoldersServerCapabilities{
			Supported: &yes, ChangeNotifications: protocol.Boolean(true),
		}},
	}
	if c.actionLiterals {
		actions := &protocol.CodeActionOptions{
			CodeActionKinds: []protocol.CodeActionKind{
				protocol.CodeActionKindQuickFix, protocol.CodeActionKindRefactorRewrite, protocol.CodeActionKindRefactorExtract, fixAll,
			},
		}
		if c.resolvesEdits {
			actions.ResolveProvider = &yes
		}
		capabilities.CodeActionProvider = actions
	}
	if c.explains() {
		capabilities.Workspace.TextDocumentContent = &protocol.TextDocumentContentOptions{Schemes: []string{ruleScheme}}
	}
	c.offer(&capabilities)
	if c.pulls {
		capabilities.DiagnosticProvider = &protocol.DiagnosticOptions{InterFileDependencies: true, WorkspaceDiagnostics: true}
	}
	return capabilities
}

// clientOf reads the client's capabilities.
func clientOf(capabilities *protocol.ClientCapabilities) client {
	var c client
	var offered []protocol.PositionEncodingKind
	if general := capabilities.General; general != nil {
		offered = general.PositionEncodings
	}
	c.units = chooseUnits(offered)
	c.read(capabilities)
	if workspace := capabilities.Workspace; workspace != nil {
		c.configures = isTrue(workspace.Configuration)
		if files := workspace.DidChangeWatchedFiles; files != nil {
			c.watches = isTrue(files.DynamicRegistration)
		}
		if edits := workspace.WorkspaceEdit; edits != nil {
			c.versionedEdits = isTrue(edits.DocumentChanges)
		}
		c.contents = workspace.TextDocumentContent != nil
		c.refreshes.read(workspace)
	}
	if window := capabilities.Window; window != nil {
		c.progress = isTrue(window.WorkDoneProgress)
		if window.ShowDocument != nil {
			c.showsDocuments = window.ShowDocument.Support
		}
	}
	document := capabilities.TextDocument
	if document == nil {
		return c
	}
	if hover := document.Hover; hover != nil {
		c.markdown = slices.Contains(hover.ContentFormat, protocol.MarkupKindMarkdown)
	}
	if action := document.CodeAction; action != nil {
		// A client that names no kinds, such as ALE, takes actions with edits all the same: it has the property.
		c.actionLiterals = action.CodeActionLiteralSupport.CodeActionKind.ValueSet != nil
		c.resolvesEdits = isTrue(action.DataSupport) && slices.Contains(action.ResolveSupport.Properties, "edit")
	}
	// What a diagnostic may have stood under publishDiagnostics alone up to LSP 3.17, and clients of that time that pull say it
	// there still.
	if push := document.PublishDiagnostics; push != nil {
		c.showsOf(&push.DiagnosticsCapabilities)
	}
	if pull := document.Diagnostic; pull != nil {
		c.pulls = true
		c.showsOf(&pull.DiagnosticsCapabilities)
	}
	return c
}

// showsOf adds which parts of a diagnostic the client understands.
func (c *client) showsOf(shows *protocol.DiagnosticsCapabilities) {
	c.related = c.related || isTrue(shows.RelatedInformation)
	c.unnecessary = c.unnecessary || slices.Contains(shows.TagSupport.ValueSet, protocol.DiagnosticTagUnnecessary)
	c.codeDescription = c.codeDescription || isTrue(shows.CodeDescriptionSupport)
	c.data = c.data || isTrue(shows.DataSupport)
}

// foldersOf are the folders that the client has open, by path. The older ways of naming them count where the newer is
// absent.
func foldersOf(params *protocol.InitializeParams) []string {
	if folders, ok := params.WorkspaceFolders.Get(); ok {
		var open []string
		for _, f := range folders {
			open = addFolder(open, f.URI)
		}
		return open
	}
	//lint:ignore SA1019 older clients name their folder in no other way
	folder, folderPath := params.RootURI, params.RootPath
	if folder != nil {
		return addFolder(nil, *folder)
	}
	if path, ok := folderPath.Get(); ok && path != "" {
		return addFolder(nil, uri.File(strings.Clone(path)))
	}
	return nil
}

func isTrue(flag *bool) bool { return flag != nil && *flag }

func optional(text string) protocol.Optional[string] {
	if text == "" {
		return protocol.Optional[string]{}
	}
	return protocol.NewOptional(text)
}
