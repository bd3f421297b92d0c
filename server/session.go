package server

import (
	"context"
	"errors"
	"fmt"
	"log"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/server/watch"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// session is one client's stay. Messages take effect in the order in which they arrive: the connection's reader calls
// handle for one message after the other, and whatever changes the session, or chooses the documents that a request is
// about, happens there. Only then is the reader let go, and the answer worked out beside it on values that never change.
type session struct {
	options Options
	log     *log.Logger
	stream  *wire
	conn    jsonrpc2.Conn
	life    context.Context // ends with the session

	// These belong to the reader; others start after they are set.
	phase  phase
	client client
	begun  bool // what talks to the client unasked has started

	askedToShutDown atomic.Bool
	tracing         atomic.Value // string: how much the client wants to be told
	closed          closedSheets
	parentGone      chan struct{}
	background      sync.WaitGroup // what runs beside the requests

	painted painted // the tokens that the client has
	live    *livePage

	progresses progresses // of commands, as the client sees them
	asked      *questions

	mu      sync.Mutex // guards the lines below
	world   *world
	push    pushQueue
	refresh refreshQueue
	cancels map[jsonrpc2.ID]context.CancelFunc // of the requests that are being answered
}

// phase is how far a session has come.
type phase int

const (
	beforeInitialize phase = iota
	serving
	afterShutdown
)

func newSession(ctx context.Context, options Options, logger *log.Logger, stream *wire, asked *questions) *session {
	s := &session{
		options: options, log: logger, stream: stream, life: ctx,
		parentGone: make(chan struct{}), live: newLivePage(), asked: asked,
		world: &world{
			documents: map[uri.URI]*document{},
			disk:      &watch.Disk{},
			judge:     options.judge,
			least:     lint.Note,
		},
		push:    newPushQueue(),
		refresh: newRefreshQueue(),
		cancels: map[jsonrpc2.ID]context.CancelFunc{},
	}
	s.conn = jsonrpc2.NewConn(stream, jsonrpc2.WithCodec(codec{}))
	return s
}

// handle answers one message. A panic costs the request that caused it, and the log gets the stack. An error of a
// notification goes to the log, since the connection would end on it.
func (s *session) handle(ctx context.Context, req *jsonrpc2.Request) (result any, err error) {
	begun := time.Now()
	defer func() {
		if fault := recover(); fault != nil {
			s.log.Printf("%s failed: %v\n%s", req.Method(), fault, debug.Stack())
			result, err = nil, jsonrpc2.Errorf(jsonrpc2.InternalError, "%s failed: %v", req.Method(), fault)
		} else if err != nil && !req.IsCall() {
			s.log.Printf("%s: %v", req.Method(), err)
		}
		s.trace(req, begun, err)
		if !req.IsCall() {
			err = nil
		}
	}()
	if !req.IsCall() {
		return nil, s.notified(req)
	}
	if err := s.refuse(req.Method()); err != nil {
		return nil, err
	}
	switch req.Method() {
	case protocol.MethodInitialize:
		return s.initialize(req.Params())
	case protocol.MethodShutdown:
		s.phase = afterShutdown
		s.askedToShutDown.Store(true)
		return nil, nil
	}
	defer s.asked.begin(req.Method())()
	answer, err := s.prepare(req)
	if err != nil {
		return nil, err
	}
	answering, done := s.cancellable(req.ID())
	defer done()
	jsonrpc2.Async(ctx)
	result, err = answer(answering)
	if answering.Err() != nil {
		return nil, protocol.ErrRequestCancelled
	}
	return result, err
}

// cancellable is a context that ends when the client cancels the request, or when done is called. The library's
// CancelHandler derives it from the request's own context, which goes back to a pool while it is still being watched;
// the race detector sees it.
func (s *session) cancellable(id jsonrpc2.ID) (ctx context.Context, done func()) {
	ctx, cancel := context.WithCancel(s.life)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.cancels[id] = cancel
	return ctx, func() {
		cancel()
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.cancels, id)
	}
}

// refuse is the error for a request that comes at the wrong time.
func (s *session) refuse(method string) error {
	switch {
	case s.phase == beforeInitialize && method != protocol.MethodInitialize:
		return jsonrpc2.Errorf(jsonrpc2.ServerNotInitialized, "%s came before initialize", method)
	case s.phase == serving && method == protocol.MethodInitialize:
		return jsonrpc2.Errorf(jsonrpc2.InvalidRequest, "initialize came twice")
	case s.phase == afterShutdown:
		return jsonrpc2.Errorf(jsonrpc2.InvalidRequest, "%s came after shutdown", method)
	}
	return nil
}

// work finishes the answer to a request, away from the reader.
type work func(context.Context) (any, error)

// prepare decodes a request and takes the documents that it is about.
func (s *session) prepare(req *jsonrpc2.Request) (work, error) {
	switch req.Method() {
	case protocol.MethodTextDocumentHover:
		return about(s, req, s.hover)
	case protocol.MethodTextDocumentFormatting:
		return about(s, req, s.format)
	case protocol.MethodTextDocumentCodeAction:
		return about(s, req, s.codeActions)
	case protocol.MethodTextDocumentDiagnostic:
		return s.preparePull(req)
	case protocol.MethodWorkspaceTextDocumentContent:
		return s.textDocumentContent(req)
	case protocol.MethodWorkspaceDiagnostic:
		return s.prepareWorkspacePull(req)
	}
	if prepare := s.options.extra[req.Method()]; prepare != nil {
		return prepare(s, req)
	}
	return s.prepareFeature(req)
}

// about prepares a request about one open document: every such request names it in the same field.
func about[P any](s *session, req *jsonrpc2.Request, answer func(context.Context, snapshot, *P) (any, error)) (work, error) {
	params := new(P)
	if err := decode(req, params); err != nil {
		return nil, err
	}
	var about struct {
		TextDocument protocol.TextDocumentIdentifier `json:"textDocument"`
	}
	if err := decode(req, &about); err != nil {
		return nil, err
	}
	snap, ok := s.snapshot(about.TextDocument.URI)
	if !ok {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "%s is not open", about.TextDocument.URI)
	}
	return func(ctx context.Context) (any, error) { return answer(ctx, snap, params) }, nil
}

// notified applies a notification.
func (s *session) notified(req *jsonrpc2.Request) error {
	method := req.Method()
	switch {
	case method == protocol.MethodExit:
		s.stream.leave()
		return nil
	case method == protocol.MethodCancelRequest:
		return s.cancelRequest(req)
	case method == protocol.MethodSetTrace:
		return s.didSetTrace(req)
	case method == protocol.MethodWindowWorkDoneProgressCancel:
		return s.cancelProgress(req)
	case s.phase != serving, strings.HasPrefix(method, "$/"):
		return nil
	}
	s.begin()
	switch method {
	case protocol.MethodTextDocumentDidOpen:
		return s.didOpen(req)
	case protocol.MethodTextDocumentDidChange:
		return s.didChange(req)
	case protocol.MethodTextDocumentDidClose:
		return s.didClose(req)
	case protocol.MethodWorkspaceDidChangeWorkspaceFolders:
		return s.didChangeFolders(req)
	case protocol.MethodWorkspaceDidChangeWatchedFiles:
		return s.didChangeFiles(req)
	case protocol.MethodWorkspaceDidChangeConfiguration:
		return s.didChangeSettings(req)
	}
	if apply := s.options.extra[method]; apply != nil {
		_, err := apply(s, req)
		return err
	}
	return nil // a notification that the server does not know is none of its business
}

// cancelRequest stops the work of a request. The request itself gives its one answer, RequestCancelled.
func (s *session) cancelRequest(req *jsonrpc2.Request) error {
	var params protocol.CancelParams
	if err := decode(req, &params); err != nil {
		return err
	}
	var id jsonrpc2.ID
	switch given := params.ID.(type) {
	case protocol.Integer:
		id = jsonrpc2.NewNumberID(int64(given))
	case protocol.String:
		id = jsonrpc2.NewStringID(string(given))
	default:
		return errors.New("the id is neither a number nor a string")
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if cancel := s.cancels[id]; cancel != nil {
		cancel()
	}
	return nil
}

// decode reads a message's parameters.
func decode(req *jsonrpc2.Request, params any) error {
	if err := protocol.Unmarshal(req.Params(), params); err != nil {
		return jsonrpc2.Errorf(jsonrpc2.InvalidParams, "the parameters of %s can't be read: %v", req.Method(), err)
	}
	return nil
}

// start runs f beside the requests until the session ends; a panic of f costs f alone.
func (s *session) start(name string, f func(context.Context)) {
	s.background.Go(func() {
		defer s.logPanic(name)
		f(s.life)
	})
}

// logPanic, deferred, keeps a panic from going further.
func (s *session) logPanic(name string) {
	if fault := recover(); fault != nil {
		s.log.Printf("%s failed: %v\n%s", name, fault, debug.Stack())
	}
}

// notify tells the client something; where that fails, the connection is ending and nobody is left to tell.
func (s *session) notify(method string, params any) {
	if err := s.conn.Notify(s.life, method, params); err != nil && s.life.Err() == nil {
		s.log.Print(fmt.Errorf("%s was not sent: %w", method, err))
	}
}

// ask sends the client a request of which only the failure matters, to the log. It waits for the answer, so it is not
// for the reader.
func (s *session) ask(ctx context.Context, method string, params any) {
	if err := protocol.Call(ctx, s.conn, method, params, nil); err != nil && ctx.Err() == nil {
		s.log.Print(fmt.Errorf("the client refused %s: %w", method, err))
	}
}
