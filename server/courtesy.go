package server

import (
	"context"
	"slices"
	"sync"
	"time"

	"go.lsp.dev/protocol"
)

// A check that is pushed makes way for whoever asks something meanwhile: the answer is what the typist looks at, and the two
// would share the processor's cores. The rules ask their context between any two steps whether to go on, and there the check
// waits until no question is open, for a frame of the screen altogether at most.

// questions counts the requests under way for which a check makes way.
type questions struct {
	mu   sync.Mutex
	open int
	none chan struct{} // closed once none is open; nil while none is
}

// quick are the requests that a typist waits for, and that wait for no check themselves: a check that made way for one that
// waits for it would only lose time.
var quick = []string{
	protocol.MethodTextDocumentHover, protocol.MethodTextDocumentCompletion, protocol.MethodCompletionItemResolve,
	protocol.MethodTextDocumentSignatureHelp, protocol.MethodTextDocumentDocumentHighlight,
	protocol.MethodTextDocumentOnTypeFormatting, protocol.MethodTextDocumentFormatting,
	protocol.MethodTextDocumentSemanticTokensFull, protocol.MethodTextDocumentSemanticTokensFullDelta,
	protocol.MethodTextDocumentSemanticTokensRange,
}

// begin counts a request, and gives what is to be called when it is answered.
func (q *questions) begin(method string) (end func()) {
	if !slices.Contains(quick, method) {
		return func() {}
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.open == 0 {
		q.none = make(chan struct{})
	}
	q.open++
	return func() {
		q.mu.Lock()
		defer q.mu.Unlock()
		if q.open--; q.open == 0 {
			close(q.none)
			q.none = nil
		}
	}
}

// wait waits until no question is open or ctx ends, but no longer than at most, and gives how long it was.
func (q *questions) wait(ctx context.Context, most time.Duration) time.Duration {
	q.mu.Lock()
	none := q.none
	q.mu.Unlock()
	if none == nil || most <= 0 {
		return 0
	}
	begun := time.Now()
	late := time.NewTimer(most)
	defer late.Stop()
	select {
	case <-none:
	case <-ctx.Done():
	case <-late.C:
	}
	return time.Since(begun)
}

// makingWay is a check's context: whoever asks it whether to go on is held up while a question is open. It is for one
// goroutine.
type makingWay struct {
	context.Context
	questions *questions
	left      time.Duration // for which the check may still be held up
}

func (c *makingWay) Err() error {
	c.left -= c.questions.wait(c.Context, c.left)
	return c.Context.Err()
}
