package server

import (
	"context"
	"encoding/binary"
	"encoding/hex"
	"hash/fnv"
	"strings"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// preparePull takes the document that is asked about. Clients ask about files that they show and have not opened, too, such
// as tabs of an earlier day.
func (s *session) preparePull(req *jsonrpc2.Request) (work, error) {
	params := new(protocol.DocumentDiagnosticParams)
	if err := decode(req, params); err != nil {
		return nil, err
	}
	if _, open := s.snapshot(params.TextDocument.URI); open {
		return about(s, req, s.pull)
	}
	w, path := s.now(), pathOf(params.TextDocument.URI)
	return func(ctx context.Context) (any, error) {
		if strings.HasSuffix(path, sheetSuffix) {
			if snap, ok := s.closed.at(path, w, s.client.units); ok {
				return s.pull(ctx, snap, params)
			}
		}
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "%s is not open, and no file that can be read", params.TextDocument.URI)
	}, nil
}

// pull answers a client that asks for diagnostics. The result's id is a digest of the diagnostics, so that an answer the
// client has already is not sent again, and the server need not remember which it gave.
func (s *session) pull(ctx context.Context, snap snapshot, params *protocol.DocumentDiagnosticParams) (any, error) {
	found, err := s.diagnostics(ctx, snap)
	if err != nil {
		return nil, err
	}
	id, err := digest(found)
	if err != nil {
		return nil, err
	}
	if params.PreviousResultID != nil && *params.PreviousResultID == id {
		return &protocol.RelatedUnchangedDocumentDiagnosticReport{
			UnchangedDocumentDiagnosticReport: protocol.UnchangedDocumentDiagnosticReport{Kind: "unchanged", ResultID: id},
		}, nil
	}
	return &protocol.RelatedFullDocumentDiagnosticReport{
		FullDocumentDiagnosticReport: protocol.FullDocumentDiagnosticReport{Kind: "full", ResultID: &id, Items: found},
	}, nil
}

// digest is FNV-1a over 128 bits of the diagnostics' JSON.
func digest(found []protocol.Diagnostic) (string, error) {
	hash := fnv.New128a()
	_ = binary.Write(hash, binary.LittleEndian, int64(len(found)))
	var buffer []byte
	for i := range found {
		var err error
		if buffer, err = protocol.AppendMarshal(buffer[:0], &found[i]); err != nil {
			return "", err
		}
		_, _ = hash.Write(buffer)
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}
