package server

import (
	"encoding/json"
	"fmt"
	"time"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// A trace tells of each message how long it took. The client asks for it at initialize or by $/setTrace and gets it as
// $/logTrace, with the parameters where it asks for `verbose`; whoever starts the server can have it in the log.

// setTrace takes what the client wants to be traced; what is not known is off.
func (s *session) setTrace(value protocol.TraceValue) {
	switch value {
	case protocol.TraceValueMessages, protocol.TraceValueVerbose:
		s.tracing.Store(string(value))
	default:
		s.tracing.Store(string(protocol.TraceValueOff))
	}
}

func (s *session) didSetTrace(req *jsonrpc2.Request) error {
	var params protocol.SetTraceParams
	if err := decode(req, &params); err != nil {
		return err
	}
	s.setTrace(params.Value)
	return nil
}

// trace tells of a message that was dealt with. What the client itself says about tracing is left out.
func (s *session) trace(req *jsonrpc2.Request, begun time.Time, err error) {
	tracing, _ := s.tracing.Load().(string)
	toClient := tracing == string(protocol.TraceValueMessages) || tracing == string(protocol.TraceValueVerbose)
	if !toClient && !s.options.Trace || req.Method() == protocol.MethodSetTrace || req.Method() == protocol.MethodExit {
		return
	}
	message := fmt.Sprintf("%s took %.2f ms", req.Method(), float64(time.Since(begun).Microseconds())/1000)
	if err != nil {
		message += ": " + err.Error()
	}
	if s.options.Trace {
		s.log.Print(message)
	}
	if !toClient {
		return
	}
	params := &protocol.LogTraceParams{Message: message}
	if tracing == string(protocol.TraceValueVerbose) && json.Valid(req.Params()) {
		text := string(req.Params())
		params.Verbose = &text
	}
	s.notify(protocol.MethodLogTrace, params)
}
