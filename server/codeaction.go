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

// codeActions offers the mends of what is found where the cursor or the selection is. It goes by place alone, since
// clients send diagnostics back in their own shortened forms.
func (s *session) codeActions(_ context.Context, snap snapshot, params *protocol.CodeActionParams) (any, error) {
	actions := []protocol.CommandOrCodeAction{}
	if !wantsKind(params.Context.Only, protocol.CodeActionKindQuickFix) {
		return actions, nil
	}
	start, end := snap.offsetOf(params.Range.Start), snap.offsetOf(params.Range.End)
	findings := snap.findings()
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
	return actions, nil
}

// wantsKind tells whether a client that asks only for some kinds of actions wants one; a kind holds all that its name
// begins, at the points.
func wantsKind(only []protocol.CodeActionKind, kind protocol.CodeActionKind) bool {
	return len(only) == 0 || slices.ContainsFunc(only, func(o protocol.CodeActionKind) bool {
		return o == "" || o == kind || strings.HasPrefix(string(kind), string(o)+".")
	})
}

// mendAction is one mend as an action; false where one of its places is not at hand. The only mend of a finding is the
// one that the client may apply unasked.
func (s *session) mendAction(snap snapshot, f *lint.Finding, mend motion.Mend) (*protocol.CodeAction, bool) {
	edit, ok := s.workspaceEdit(snap, mend.Edits)
	if !ok {
		return nil, false
	}
	kind, preferred := protocol.CodeActionKindQuickFix, len(f.Mends) == 1
	return &protocol.CodeAction{
		Title: mend.Title, Kind: &kind, IsPreferred: &preferred, Edit: edit,
		Diagnostics: []protocol.Diagnostic{s.diagnostic(snap, f)},
	}, true
}

// workspaceEdit turns a mend's edits into the client's, file by file. A client that can is told which version of each
// document they are about.
func (s *session) workspaceEdit(snap snapshot, all []motion.Edit) (*protocol.WorkspaceEdit, bool) {
	changes := map[uri.URI][]protocol.TextEdit{}
	for _, e := range all {
		place, ok := snap.locate(e.At)
		if !ok {
			return nil, false
		}
		changes[place.URI] = append(changes[place.URI], protocol.TextEdit{Range: place.Range, NewText: e.Text})
	}
	if !s.client.versionedEdits {
		return &protocol.WorkspaceEdit{Changes: changes}, true
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
	return edit, true
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
