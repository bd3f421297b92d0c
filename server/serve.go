// Package server is the language server for motion sheets: the door through which editors reach grammar, motion and
// lint.
//
// One file holds one kind of request; session.go says in which order messages take effect, documents.go what a request
// sees, and position.go is the only place that knows anything but bytes. The server prints nothing: it answers on the
// writer that it was given and tells its troubles to a log.
package server

import (
	"context"
	"errors"
	"io"
	"log"
	"os"
	"syscall"
	"time"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/jsonrpc2"
)

// Options say how the server presents itself and where it writes what went wrong.
type Options struct {
	Name    string    // told to the client; empty means motet
	Version string    // told to the client where it is not empty
	Log     io.Writer // nil means that nothing is logged; it must not be the writer of the answers
	Trace   bool      // each message is logged, with the time that it took

	// ExportClip writes the motion of a sheet, as it stands in the editor, into a file at a path, as a clip that other
	// programs play. It tells the steps that it begins, writes nothing once ctx has ended, and gives a line for people that
	// says what was written. Where it is nil there is no such command.
	ExportClip func(ctx context.Context, m *motion.Motion, path string, tell func(step string)) (report string, err error)

	// Tests put here what misbehaves or looks inside: further messages by method, and another judge than the rules.
	extra map[string]func(*session, *jsonrpc2.Request) (work, error)
	judge judge
}

// Reasons why Serve ends that the protocol calls failures, with exit code 1.
var (
	// ErrNoShutdown: the client said exit, or closed its end, without asking for shutdown first.
	ErrNoShutdown = errors.New("the client left without asking for shutdown")
	// ErrParentGone: the process that started the server, by the id that the client gave, is no more.
	ErrParentGone = errors.New("the process that started the server is gone")
)

// parentPause is how often the server looks whether its parent process lives.
const parentPause = 2 * time.Second

// Serve answers one client until it leaves: on `exit`, at the end of in, when the client's process dies, or when ctx
// ends. It returns nil after an orderly shutdown and where ctx ended, and otherwise the reason. Ends of the connection
// that can be closed are closed.
func Serve(ctx context.Context, in io.Reader, out io.Writer, options Options) error {
	if options.Name == "" {
		options.Name = "motet"
	}
	if options.Log == nil {
		options.Log = io.Discard
	}
	if options.judge == nil {
		options.judge = lint.CheckAgain
	}
	logger := log.New(options.Log, options.Name+": ", log.Ltime|log.Lmsgprefix)
	// The session's work ends as soon as nothing more is read: nobody is left to hear an answer.
	life, end := context.WithCancel(ctx)
	defer end()
	asked := &questions{}
	stream, err := newWire(&attentive{Reader: in, questions: asked}, out, logger, end)
	if err != nil {
		return err
	}
	s := newSession(life, options, logger, stream, asked)
	s.conn.Go(life, s.handle)

	select {
	case <-s.conn.Done():
		s.background.Wait()
		if err := s.conn.Err(); err != nil {
			return err
		}
		if !s.askedToShutDown.Load() && ctx.Err() == nil {
			return ErrNoShutdown
		}
		return nil
	case <-s.parentGone:
		_ = stream.Close()
		return ErrParentGone
	case <-ctx.Done():
		_ = stream.Close()
		return nil
	}
}

// watchParent closes gone once no process has the id.
func watchParent(ctx context.Context, id int, gone chan<- struct{}) {
	for {
		if !processLives(id) {
			close(gone)
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(parentPause):
		}
	}
}

// processLives tells whether a process has the id. Where the system does not say, it lives: an end of input will tell.
func processLives(id int) bool {
	process, err := os.FindProcess(id)
	if err != nil {
		return false
	}
	defer func() { _ = process.Release() }()
	return !errors.Is(process.Signal(syscall.Signal(0)), os.ErrProcessDone)
}
