package server

import (
	"context"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// format brings a document into the canonical form, by edits of just what differs, so that cursors, folds and marks of
// the editor stay where they are. It waits for no check. The editor's own options do not apply: there is one form.
func (s *session) format(_ context.Context, snap snapshot, _ *protocol.DocumentFormattingParams) (any, error) {
	return snap.textEdits(grammar.FormatEdits(snap.tree())), nil
}
