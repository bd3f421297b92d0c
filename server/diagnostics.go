package server

import (
	"context"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// check finds what is wrong with a document, and tells which files it read to find it.
func (s *session) check(ctx context.Context, snap snapshot) (found []protocol.Diagnostic, reads map[string]bool) {
	f := grammar.Parse(snap.path, snap.text)
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if fault := b.Lines[i].Fault; fault != nil {
				span, _ := f.Locate(b.Ref(i, fault.Span))
				found = append(found, protocol.Diagnostic{
					Range: snap.rangeOf(span.Start, span.End), Severity: protocol.DiagnosticSeverityError,
					Code: protocol.String("syntax"), Message: protocol.String(fault.Message),
				})
			}
		}
	}
	return found, nil
}

func (s *session) diagnose(ctx context.Context, snap snapshot, params *protocol.DocumentDiagnosticParams) (any, error) {
	found, _ := s.check(ctx, snap)
	return &protocol.RelatedFullDocumentDiagnosticReport{
		FullDocumentDiagnosticReport: protocol.FullDocumentDiagnosticReport{Kind: "full", Items: found},
	}, nil
}
