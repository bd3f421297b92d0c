package server

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log"
	"sync/atomic"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// codec writes and reads the payload of messages with the encoders of the protocol package, which know the unions of
// the protocol. That package has the same codec and keeps it to itself.
type codec struct{}

var _ jsonrpc2.Codec = codec{}

// Marshal encodes v; what is JSON already passes through as it is.
func (codec) Marshal(v any) ([]byte, error) {
	if raw, ok := v.(jsonrpc2.RawMessage); ok {
		return raw, nil
	}
	return protocol.Marshal(v)
}

// Unmarshal decodes data into v; a raw message gets a copy, since data is the reader's buffer.
func (codec) Unmarshal(data []byte, v any) error {
	if raw, ok := v.(*jsonrpc2.RawMessage); ok {
		*raw = bytes.Clone(data)
		return nil
	}
	return protocol.Unmarshal(data, v)
}

// frames is the part of a stream that reads and writes whole messages as JSON.
type frames interface {
	jsonrpc2.Stream
	ReadFrame(ctx context.Context) ([]byte, int64, error)
	WriteFrame(ctx context.Context, data []byte) (int64, error)
}

// wire is the stream that the session talks on. It differs from the library's in two ways: a message that is no JSON-RPC
// gets an error for an answer and costs nothing else, where the library would end the connection; and after `exit`
// nothing is read any more, so that the reader does not wait for ever on a pipe that nobody closes.
type wire struct {
	frames
	log   *log.Logger
	left  atomic.Bool
	ended func() // called once nothing more will be read
}

// newWire frames messages as the protocol's base layer does: a header with the length, then the JSON.
func newWire(in io.Reader, out io.Writer, logger *log.Logger, ended func()) (*wire, error) {
	stream, ok := jsonrpc2.NewStream(pipes{in, out}).(frames)
	if !ok {
		return nil, errors.New("the JSON-RPC library's stream reads no whole frames")
	}
	return &wire{frames: stream, log: logger, ended: ended}, nil
}

// ReadFrame gives the next message that is one, and io.EOF at the end of the input and after leave.
func (w *wire) ReadFrame(ctx context.Context) ([]byte, int64, error) {
	for !w.left.Load() {
		frame, size, err := w.frames.ReadFrame(ctx)
		if err != nil {
			w.ended()
			return nil, 0, err
		}
		fault := faultOf(frame)
		if fault == nil {
			return frame, size, nil
		}
		w.log.Printf("a message of %d bytes is not JSON-RPC: %v", len(frame), fault)
		answer := jsonrpc2.NewResponse(jsonrpc2.ID{}, nil, fault)
		if _, err := w.frames.Write(ctx, answer); err != nil {
			return nil, 0, err
		}
	}
	w.ended()
	return nil, 0, io.EOF
}

// leave makes the reader stop before the next message.
func (w *wire) leave() { w.left.Store(true) }

// faultOf tells what is wrong with a message, and nil where nothing is. A batch is left to the connection, which
// answers its members one by one.
func faultOf(frame []byte) *jsonrpc2.Error {
	var err error
	if trimmed := bytes.TrimLeft(frame, " \t\r\n"); bytes.HasPrefix(trimmed, []byte("[")) {
		_, err = jsonrpc2.ParseRequests(frame)
	} else {
		_, err = jsonrpc2.DecodeMessage(frame)
	}
	var fault *jsonrpc2.Error
	if err == nil || errors.As(err, &fault) {
		return fault
	}
	return jsonrpc2.Errorf(jsonrpc2.ParseError, "%v", err)
}

// pipes are the two directions of a connection.
type pipes struct {
	io.Reader
	out io.Writer
}

func (p pipes) Write(data []byte) (int, error) { return p.out.Write(data) }

// Close closes what can be closed, so that a reader or a writer that waits is woken.
func (p pipes) Close() error {
	for _, end := range []any{p.Reader, p.out} {
		if closer, ok := end.(io.Closer); ok {
			_ = closer.Close()
		}
	}
	return nil
}
