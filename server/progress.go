package server

import (
	"context"
	"fmt"
	"strings"
	"sync"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// What takes long is told to the client step by step. A client that sends a token with its request hears of it under that
// one. Others only show what a server begins, as VS Code does for commands, and are asked for a token first. Under either
// the user can end the work.

// progresses are the works that the client hears of, by their tokens.
type progresses struct {
	mu      sync.Mutex
	cancels map[protocol.ProgressToken]context.CancelFunc
	made    int
}

func (p *progresses) add(token protocol.ProgressToken, cancel context.CancelFunc) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.cancels == nil {
		p.cancels = map[protocol.ProgressToken]context.CancelFunc{}
	}
	p.cancels[token] = cancel
}

func (p *progresses) drop(token protocol.ProgressToken) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.cancels, token)
}

// progressOf begins what the client is told of something that takes long; done ends it. The context ends with the one that
// is given, and when the user says so.
func (s *session) progressOf(ctx context.Context, token protocol.ProgressToken, title string) (work context.Context, tell func(step string), done func()) {
	work, cancel := context.WithCancel(ctx)
	token = ownToken(token)
	if token != nil {
		s.progresses.add(token, cancel)
	} else if s.client.progress {
		token = s.newToken(work, cancel)
	}
	if token == nil {
		return work, func(string) {}, cancel
	}
	yes := true
	s.progress(token, &protocol.WorkDoneProgressBegin{Kind: "begin", Title: title, Cancellable: &yes})
	tell = func(step string) {
		s.progress(token, &protocol.WorkDoneProgressReport{Kind: "report", Message: &step})
	}
	return work, tell, func() {
		s.progress(token, &protocol.WorkDoneProgressEnd{Kind: "end"})
		s.progresses.drop(token)
		cancel()
	}
}

// ownToken is a token that outlives the message that it came with.
func ownToken(token protocol.ProgressToken) protocol.ProgressToken {
	if text, ok := token.(protocol.String); ok {
		return protocol.String(strings.Clone(string(text)))
	}
	return token
}

// newToken asks the client to show something under a new token; nil where it will not. It waits for the answer, though not
// for ever.
func (s *session) newToken(ctx context.Context, cancel context.CancelFunc) protocol.ProgressToken {
	s.progresses.mu.Lock()
	s.progresses.made++
	token := protocol.String(fmt.Sprintf("motet-%d", s.progresses.made))
	s.progresses.mu.Unlock()
	s.progresses.add(token, cancel)
	asking, done := context.WithTimeout(ctx, refreshWait)
	defer done()
	if err := protocol.Call(asking, s.conn, protocol.MethodWindowWorkDoneProgressCreate, &protocol.WorkDoneProgressCreateParams{Token: token}, nil); err != nil {
		s.progresses.drop(token)
		if ctx.Err() == nil {
			s.log.Print(fmt.Errorf("the client shows no progress: %w", err))
		}
		return nil
	}
	return token
}

// cancelProgress ends the work that the client hears of under a token; one that has ended already is no matter.
func (s *session) cancelProgress(req *jsonrpc2.Request) error {
	var params protocol.WorkDoneProgressCancelParams
	if err := decode(req, &params); err != nil {
		return err
	}
	s.progresses.mu.Lock()
	defer s.progresses.mu.Unlock()
	if cancel := s.progresses.cancels[params.Token]; cancel != nil {
		cancel()
	}
	return nil
}

// progress tells the client how far something is.
func (s *session) progress(token protocol.ProgressToken, value any) {
	raw, err := protocol.Marshal(value)
	if err != nil {
		s.log.Print(fmt.Errorf("progress: %w", err))
		return
	}
	s.notify(protocol.MethodProgress, &protocol.ProgressParams{Token: token, Value: raw})
}
