package server

import (
	"context"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// fixAll is the action that applies every safe mend of a document, for clients that do so on saving.
const fixAll = protocol.CodeActionKindSourceFixAll + ".motet"

// codeActions offers the mends of what is found where the cursor or the selection is, and where the client asks for it
// the one action that mends all.
func (s *session) codeActions(ctx context.Context, snap snapshot, params *protocol.CodeActionParams) (any, error) {
	actions := []protocol.CommandOrCodeAction{}
	if wantsKind(params.Context.Only, protocol.CodeActionKindQuickFix) {
		findings, err := snap.findings(ctx)
		if err != nil {
			return nil, err
		}
		actions = s.mendActions(actions, snap, findings, snap.offsetOf(params.Range.Start), snap.offsetOf(params.Range.End))
	}
	actions = s.refactorActions(actions, snap, snap.offsetOf(params.Range.Start), snap.offsetOf(params.Range.End), params.Context.Only)
	// Mending all takes many checks, so it is not done for a client that only wonders what there is.
	if 0 < len(params.Context.Only) && wantsKind(params.Context.Only, fixAll) {
		actions = s.mendAllAction(actions, snap)
	}
	return actions, nil
}

// mendActions adds the mends of what is found between two offsets. It goes by place alone, since clients send
// diagnostics back in their own shortened forms.
func (s *session) mendActions(actions []protocol.CommandOrCodeAction, snap snapshot, findings []lint.Finding, start, end int) []protocol.CommandOrCodeAction {
	for i := range findings {
		f := &findings[i]
		span, ok := snap.tree().Locate(f.At)
		if !ok || end < span.Start || span.End < start || 0 < i && sameReport(&findings[i-1], f) {
			continue
		}
		for _, mend := range f.Mends {
			if action, ok := s.mendAction(snap, f, mend); ok {
				actions = append(actions, action)
			}
		}
	}
	return actions
}

// mendAllAction adds the action that applies every safe mend, where there is one.
func (s *session) mendAllAction(actions []protocol.CommandOrCodeAction, snap snapshot) []protocol.CommandOrCodeAction {
	look := newLookout(snap.document, snap.world)
	mended := lint.MendAll(snap.tree(), look.tree, look.list)
	edits := lineEdits(snap.text, mended.File.Text)
	if len(edits) == 0 {
		return actions
	}
	kind := fixAll
	return append(actions, &protocol.CodeAction{
		Title: "apply every safe mend", Kind: &kind,
		Edit: s.workspaceEdit(snap, map[uri.URI][]protocol.TextEdit{snap.spelling: snap.textEdits(edits)}),
	})
}

// wantsKind tells whether a client that asks only for some kinds of actions wants one; a kind holds all that its name
// begins, at the points.
func wantsKind(only []protocol.CodeActionKind, kind protocol.CodeActionKind) bool {
	return len(only) == 0 || slices.ContainsFunc(only, func(o protocol.CodeActionKind) bool {
		return o == "" || o == kind || strings.HasPrefix(string(kind), string(o)+".")
	})
}

// mendAction is one mend as an action; false where one of its places is not at hand. A safe mend is one that the client
// may apply unasked.
func (s *session) mendAction(snap snapshot, f *lint.Finding, mend motion.Mend) (*protocol.CodeAction, bool) {
	changes := map[uri.URI][]protocol.TextEdit{}
	for _, e := range mend.Edits {
		place, ok := snap.locate(e.At)
		if !ok {
			return nil, false
		}
		changes[place.URI] = append(changes[place.URI], protocol.TextEdit{Range: place.Range, NewText: e.Text})
	}
	kind, preferred := protocol.CodeActionKindQuickFix, mend.Safe
	return &protocol.CodeAction{
		Title: mend.Title, Kind: &kind, IsPreferred: &preferred, Edit: s.workspaceEdit(snap, changes),
		Diagnostics: []protocol.Diagnostic{s.diagnostic(snap, f)},
	}, true
}

// workspaceEdit is changes of documents as the client takes them. A client that can is told which version of each
// document they are about.
func (s *session) workspaceEdit(snap snapshot, changes map[uri.URI][]protocol.TextEdit) *protocol.WorkspaceEdit {
	if !s.client.versionedEdits {
		return &protocol.WorkspaceEdit{Changes: changes}
	}
	edit := &protocol.WorkspaceEdit{DocumentChanges: []protocol.DocumentChange{}}
	for address, edits := range changes {
		document := protocol.OptionalVersionedTextDocumentIdentifier{
			TextDocumentIdentifier: protocol.TextDocumentIdentifier{URI: address}, Version: snap.world.versionOf(address),
		}
		change := &protocol.TextDocumentEdit{TextDocument: document}
		for i := range edits {
			change.Edits = append(change.Edits, &edits[i])
		}
		edit.DocumentChanges = append(edit.DocumentChanges, change)
	}
	return edit
}

// versionOf is the version of the open document that the client spells so, and nil where it is not open.
func (w *world) versionOf(spelling uri.URI) *int32 {
	for _, d := range w.documents {
		if d.spelling == spelling {
			return &d.version
		}
	}
	return nil
}
