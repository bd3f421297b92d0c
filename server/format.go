package server

import (
	"context"

	"go.lsp.dev/protocol"
)

func (s *session) format(context.Context, snapshot, *protocol.DocumentFormattingParams) (any, error) {
	return []protocol.TextEdit{}, nil
}
