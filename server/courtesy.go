package server

import (
	"context"
	"io"
	"slices"
	"sync"
	"time"

	"go.lsp.dev/protocol"
)

// A check that is pushed makes way for whoever asks something meanwhile: the answer is what the typist looks at, and the two
// would share the processor's cores. The rules ask their context between any two steps whether to go on, and there the check
// waits until no question is open, for a frame of the screen altogether at most. What was read and is not yet understood
// counts as a question too, since editors ask in the same breath in which they tell of an edit.

// questions counts the requests under way for which a check makes way.
type questions struct {
	mu    sync.Mutex
	count int
	none  chan struct{} // closed once none is open; nil while none is
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
	return q.open()
}

// open counts something for which a check makes way, until its end is called.
func (q *questions) open() (end func()) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.count == 0 {
		q.none = make(chan struct{})
	}
	q.count++
	return func() {
		q.mu.Lock()
		defer q.mu.Unlock()
		if q.count--; q.count == 0 {
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

// attentive is an input that counts as a question from when something was read until more is asked for, which is when all
// messages that came with it have been dispatched. It is for one reader at a time.
type attentive struct {
	io.Reader
	questions  *questions
	understood func() // nil while nothing was read that is not understood
}

func (a *attentive) Read(p []byte) (int, error) {
	if a.understood != nil {
		a.understood()
		a.understood = nil
	}
	n, err := a.Reader.Read(p)
	if 0 < n {
		a.understood = a.questions.open()
	}
	return n, err
}

// Close closes what is read from, where it can be closed.
func (a *attentive) Close() error {
	if closer, ok := a.Reader.(io.Closer); ok {
		return closer.Close()
	}
	return nil
}

// makingWay is a check's context: whoever asks it whether to go on is held up while a question is open. It is for one
// goroutine.
type makingWay struct {
	context.Context
	questions *questions
	others    *others
	begun     time.Time
	left      time.Duration // for which the check may still be held up
}

func (c *makingWay) Err() error {
	if time.Since(c.begun) < breath {
		c.left -= c.others.letThrough()
	}
	c.left -= c.questions.wait(c.Context, c.left)
	return c.Context.Err()
}

// others are the threads beside the one that checks. A check fills a processor's core for milliseconds, and Linux may leave
// the editor waiting behind it for a slice of about three, although it only wants to send the question that goes with its
// edit, and although another core is idle. So a check offers its core at each of its first steps. Where somebody keeps it for
// long, that check offers it no more; where that happens to one check after the other, the machine has more to do than an
// editor's work, and checks offer nothing for a while.
type others struct {
	kept      bool // for long, in this check
	inARow    int  // checks in which it was
	busyUntil time.Time
}

const (
	breath    = time.Millisecond // in which an editor that asks in the same breath has asked
	longHold  = time.Millisecond // more than an editor needs to send a question
	manyHolds = 3                // Go's own cleaning up takes the core too, but not from one check after the other
	busyWhile = time.Second
)

// begin is called before each check.
func (o *others) begin() {
	if !o.kept {
		o.inARow = 0
	}
	o.kept = false
}

// letThrough offers the core, and gives how long it was away.
func (o *others) letThrough() time.Duration {
	begun := time.Now()
	if o.kept || begun.Before(o.busyUntil) {
		return 0
	}
	giveWay()
	back := time.Now()
	o.note(back, back.Sub(begun))
	return back.Sub(begun)
}

// note takes in for how long the core was away, now that it is back.
func (o *others) note(back time.Time, away time.Duration) {
	if away <= longHold {
		return
	}
	o.kept = true
	if o.inARow++; o.inARow == manyHolds {
		o.inARow, o.busyUntil = 0, back.Add(busyWhile)
	}
}
