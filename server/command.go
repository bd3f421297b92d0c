package server

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// flattenCommand gives the text of a sheet that stands alone and moves as an open variant does. Its one argument is the
// document's address.
const flattenCommand = "motet.flatten"

// execute prepares a command. A command can be cancelled like any request, and tells its progress where the client gave
// a token for that.
func (s *session) execute(req *jsonrpc2.Request) (work, error) {
	var params protocol.ExecuteCommandParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	if params.Command != flattenCommand {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "there is no command `%s`; the one there is, is `%s`", params.Command, flattenCommand)
	}
	if len(params.Arguments) != 1 {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "`%s` takes one argument, the address of an open document, but got %d", flattenCommand, len(params.Arguments))
	}
	var document protocol.TextDocumentIdentifier
	if err := protocol.Unmarshal([]byte(`{"uri":`+string(params.Arguments[0])+`}`), &document); err != nil {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "the argument of `%s` is no address: %v", flattenCommand, err)
	}
	snap, ok := s.snapshot(document.URI)
	if !ok {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "%s is not open", document.URI)
	}
	return func(ctx context.Context) (any, error) { return s.flatten(ctx, snap, params.WorkDoneToken) }, nil
}

func (s *session) flatten(ctx context.Context, snap snapshot, token protocol.ProgressToken) (any, error) {
	s.progress(token, &protocol.WorkDoneProgressBegin{Kind: "begin", Title: "flattening " + snap.name})
	defer s.progress(token, &protocol.WorkDoneProgressEnd{Kind: "end"})
	m := snap.motion()
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	s.progress(token, &protocol.WorkDoneProgressReport{Kind: "report", Message: pointer("writing the sheet")})
	text, err := motion.Flatten(m)
	if err != nil {
		return nil, refused("%s can't be flattened: %v", snap.name, err)
	}
	answer, err := json.Marshal(text)
	return protocol.LSPAny(answer), err
}

// progress tells the client how far something is; without a token it wants to hear nothing.
func (s *session) progress(token protocol.ProgressToken, value any) {
	if token == nil {
		return
	}
	raw, err := protocol.Marshal(value)
	if err != nil {
		s.log.Print(fmt.Errorf("progress: %w", err))
		return
	}
	s.notify(protocol.MethodProgress, &protocol.ProgressParams{Token: token, Value: raw})
}

func pointer(text string) *string { return &text }
