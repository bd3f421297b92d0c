package server

import (
	"context"
	"encoding/json"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// The commands, beside that of the page. The first argument of each is the address of an open document.
const (
	// flattenCommand gives the text of a sheet that stands alone and moves as the document does.
	flattenCommand = "motet.flatten"
	// exportCommand writes the document's motion as a clip. A second argument is the address of the file to write; without
	// it that is the sheet's own, with another ending. It gives the address, and a line that says what was written.
	exportCommand = "motet.exportClip"
)

func (c *shows) commands() []string {
	if c.exports {
		return []string{flattenCommand, showPageCommand, exportCommand}
	}
	return []string{flattenCommand, showPageCommand}
}

// execute prepares a command. A command can be cancelled like any request, and tells its progress where the client gave
// a token for that.
func (s *session) execute(req *jsonrpc2.Request) (work, error) {
	var params protocol.ExecuteCommandParams
	if err := decode(req, &params); err != nil {
		return nil, err
	}
	arguments := map[string]int{flattenCommand: 1, exportCommand: 2} // at most
	if !slices.Contains(s.client.commands(), params.Command) {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "there is no command `%s`; there is `%s`", params.Command, strings.Join(s.client.commands(), "`, `"))
	}
	if params.Command == showPageCommand {
		return s.showPage(params.Arguments)
	}
	if n := len(params.Arguments); n < 1 || arguments[params.Command] < n {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "`%s` got %d arguments; the first is the address of an open document", params.Command, n)
	}
	var addresses []uri.URI
	for i, argument := range params.Arguments {
		var document protocol.TextDocumentIdentifier
		if err := protocol.Unmarshal([]byte(`{"uri":`+string(argument)+`}`), &document); err != nil {
			return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "argument %d of `%s` is no address: %v", i+1, params.Command, err)
		}
		addresses = append(addresses, document.URI)
	}
	snap, ok := s.snapshot(addresses[0])
	if !ok {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "%s is not open", addresses[0])
	}
	if params.Command == exportCommand {
		target, err := clipPath(snap, addresses[1:])
		return func(ctx context.Context) (any, error) { return s.exportClip(ctx, snap, target, params.WorkDoneToken) }, err
	}
	return func(ctx context.Context) (any, error) { return s.flatten(ctx, snap, params.WorkDoneToken) }, nil
}

func (s *session) flatten(ctx context.Context, snap snapshot, token protocol.ProgressToken) (any, error) {
	ctx, tell, done := s.progressOf(ctx, token, "flattening "+snap.name)
	defer done()
	m := snap.motion()
	if ctx.Err() != nil {
		return nil, protocol.ErrRequestCancelled
	}
	tell("writing the sheet")
	text, err := motion.Flatten(m)
	if err != nil {
		return nil, refused("%s can't be flattened: %v", snap.name, err)
	}
	answer, err := json.Marshal(text)
	return protocol.LSPAny(answer), err
}

// clipPath is the file into which a document is exported.
func clipPath(snap snapshot, asked []uri.URI) (string, error) {
	switch {
	case len(asked) == 0 && snap.path == "":
		return "", refused("%s is no file yet, so its clip has no name; save it, or say where the clip goes", snap.spelling)
	case len(asked) == 0:
		return strings.TrimSuffix(snap.path, sheetSuffix) + ".glb", nil
	case pathOf(asked[0]) == "":
		return "", refused("%s is no file on this machine; a clip goes into a file", asked[0])
	}
	if path := pathOf(asked[0]); !strings.EqualFold(filepath.Ext(path), ".glb") {
		return "", refused("%s does not end in .glb, the form in which clips are written", path)
	}
	return pathOf(asked[0]), nil
}

// exported is what the client is told of a clip.
type exported struct {
	URI    uri.URI `json:"uri"`
	Report string  `json:"report"`
}

func (s *session) exportClip(ctx context.Context, snap snapshot, path string, token protocol.ProgressToken) (any, error) {
	ctx, tell, done := s.progressOf(ctx, token, "exporting "+snap.name)
	defer done()
	report, err := s.options.ExportClip(ctx, snap.motion(), path, tell)
	switch {
	case err != nil && ctx.Err() != nil:
		return nil, protocol.ErrRequestCancelled
	case err != nil:
		return nil, refused("%v", err)
	}
	answer, err := json.Marshal(exported{uri.File(path), report})
	return protocol.LSPAny(answer), err
}
