package server

import (
	"context"

	"go.lsp.dev/protocol"
)

func (s *session) hover(context.Context, snapshot, *protocol.HoverParams) (any, error) {
	return nil, nil
}
