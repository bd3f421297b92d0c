package server

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// Editors ask for actions each time that the cursor moves, and the user takes one in a hundred. A refactoring of a long
// table is thousands of edits, so a client that can asks for those of the one that was taken.

// refactorData is what such a client brings back: where the refactoring was offered, and in which text.
type refactorData struct {
	URI     string `json:"uri"`
	Version int32  `json:"version"`
	Start   int    `json:"start"` // in bytes
	End     int    `json:"end"`
}

// refactorEdit is a refactoring's edit, or what the client needs to ask for it.
func (s *session) refactorEdit(snap snapshot, r *refactoring, start, end int, action *protocol.CodeAction) {
	if s.client.resolvesEdits {
		if data, err := json.Marshal(refactorData{string(snap.key), snap.version, start, end}); err == nil {
			action.Data = data
			return
		}
	}
	action.Edit = s.workspaceEdit(snap, map[uri.URI][]protocol.TextEdit{snap.spelling: snap.textEdits(r.edits)})
}

// resolveAction gives an action its edits. One that was offered for an earlier text is refused, since its places are not
// those of the text as it is.
func (s *session) resolveAction(req *jsonrpc2.Request) (work, error) {
	action := new(protocol.CodeAction)
	if err := decode(req, action); err != nil {
		return nil, err
	}
	action, err := protocol.Clone(action)
	if err != nil {
		return nil, err
	}
	var data refactorData
	if action.Edit != nil || json.Unmarshal(action.Data, &data) != nil || data.URI == "" {
		return func(context.Context) (any, error) { return action, nil }, nil
	}
	snap, ok := s.snapshot(uri.URI(data.URI))
	if !ok || snap.version != data.Version {
		return nil, jsonrpc2.Errorf(jsonrpc2.Code(protocol.LSPErrorCodesContentModified), "the text has changed since `%s` was offered; ask again", action.Title)
	}
	return func(context.Context) (any, error) {
		all := snap.refactorings(data.Start, data.End)
		at := slices.IndexFunc(all, func(r refactoring) bool { return r.title == action.Title })
		if at < 0 {
			return nil, refused("`%s` is not offered here", strings.TrimSpace(action.Title))
		}
		action.Edit = s.workspaceEdit(snap, map[uri.URI][]protocol.TextEdit{snap.spelling: snap.textEdits(all[at].edits)})
		return action, nil
	}, nil
}
