package server

import (
	"context"
	"time"

	"go.lsp.dev/protocol"
)

// A change of a base or a rig changes what is told about the sheets that use it, though no letter of them changed. A
// client that can be told so asks again for what it shows of them. Semantic tokens are no part of this: they are read from
// the sheet's own text alone.

// refreshes are what a client asks for again when it is told to.
type refreshes struct {
	diagnostics, inlays, lenses bool
}

func (r *refreshes) read(workspace *protocol.WorkspaceClientCapabilities) {
	if c := workspace.Diagnostics; c != nil {
		r.diagnostics = isTrue(c.RefreshSupport)
	}
	if c := workspace.InlayHint; c != nil {
		r.inlays = isTrue(c.RefreshSupport)
	}
	if c := workspace.CodeLens; c != nil {
		r.lenses = isTrue(c.RefreshSupport)
	}
}

// refreshQueue remembers that sheets mean something else than what the client was told of them.
type refreshQueue struct {
	stale chan struct{} // holds one token while that is so
}

func newRefreshQueue() refreshQueue { return refreshQueue{make(chan struct{}, 1)} }

// outdate says that the client should ask again.
func (q *refreshQueue) outdate() {
	select {
	case q.stale <- struct{}{}:
	default:
	}
}

const (
	// refreshPause lies between the last keystroke in a base and the refresh of the sheets on it: each makes the client ask
	// three times for every sheet that it shows.
	refreshPause = 120 * time.Millisecond
	// refreshWait is the longest that a refresh waits for the typing to stop, and for the client to answer.
	refreshWait = time.Second
)

// refreshStale tells the client to ask again, each time that the queue says so, until ctx ends.
func (s *session) refreshStale(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.refresh.stale:
		}
		s.letTypingPause(ctx)
		if s.client.pulls && s.client.refreshes.diagnostics {
			s.askToRefresh(ctx, protocol.MethodWorkspaceDiagnosticRefresh)
		}
		if s.client.refreshes.inlays {
			s.askToRefresh(ctx, protocol.MethodWorkspaceInlayHintRefresh)
		}
		if s.client.refreshes.lenses {
			s.askToRefresh(ctx, protocol.MethodWorkspaceCodeLensRefresh)
		}
	}
}

// letTypingPause holds until the queue has been silent for a moment.
func (s *session) letTypingPause(ctx context.Context) {
	longest := time.After(refreshWait)
	for {
		select {
		case <-ctx.Done():
			return
		case <-longest:
			return
		case <-s.refresh.stale:
		case <-time.After(refreshPause):
			return
		}
	}
}

// askToRefresh does not wait for ever for a client that never answers.
func (s *session) askToRefresh(ctx context.Context, method string) {
	ctx, done := context.WithTimeout(ctx, refreshWait)
	defer done()
	s.ask(ctx, method, nil)
}
