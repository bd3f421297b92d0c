package server

import (
	"context"
	"encoding/json"
	"path/filepath"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// diagnostics are a document's findings as the client understands them, in the order of the text, each once; or the reason
// why ctx ended before they were known.
func (s *session) diagnostics(ctx context.Context, snap snapshot) ([]protocol.Diagnostic, error) {
	findings, err := snap.findings(ctx)
	if err != nil {
		return nil, err
	}
	found := make([]protocol.Diagnostic, 0, len(findings))
	for i := range findings {
		if findings[i].Level < snap.world.least || 0 < i && sameReport(&findings[i-1], &findings[i]) {
			continue
		}
		found = append(found, s.diagnostic(snap, &findings[i]))
	}
	return found, nil
}

func sameReport(a, b *lint.Finding) bool {
	return a.At == b.At && a.Rule == b.Rule && a.Message == b.Message
}

// diagnostic is one finding. Its data are the titles of its mends, so that a client can show that there are some.
func (s *session) diagnostic(snap snapshot, f *lint.Finding) protocol.Diagnostic {
	d := protocol.Diagnostic{
		Range:    snap.rangeOfRef(f.At),
		Severity: severity(f.Level),
		Code:     protocol.String(f.Rule),
		Source:   protocol.NewOptional(s.options.Name),
		Message:  protocol.String(f.Message),
	}
	if f.Unused && s.client.unnecessary {
		d.Tags = protocol.NewDiagnosticTags(protocol.DiagnosticTagUnnecessary)
	}
	if s.client.codeDescription && s.client.explains() {
		d.CodeDescription = protocol.CodeDescription{Href: rulePage(f.Rule)}
	}
	if s.client.related {
		d.RelatedInformation = snap.related(f.Related)
	}
	if s.client.data && 0 < len(f.Mends) {
		d.Data = mendTitles(f.Mends)
	}
	return d
}

func severity(l lint.Level) protocol.DiagnosticSeverity {
	switch l {
	case lint.Error:
		return protocol.DiagnosticSeverityError
	case lint.Warning:
		return protocol.DiagnosticSeverityWarning
	}
	return protocol.DiagnosticSeverityInformation
}

func mendTitles(mends []motion.Mend) protocol.LSPAny {
	titles := make([]string, len(mends))
	for i, m := range mends {
		titles[i] = m.Title
	}
	data, err := json.Marshal(map[string][]string{"mends": titles})
	if err != nil {
		return nil
	}
	return data
}

// related are places that help to understand a finding. One whose file is not at hand is left out.
func (snap snapshot) related(places []motion.Related) []protocol.DiagnosticRelatedInformation {
	var out []protocol.DiagnosticRelatedInformation
	for _, place := range places {
		if location, ok := snap.locate(place.At); ok {
			out = append(out, protocol.DiagnosticRelatedInformation{Location: location, Message: place.Message})
		}
	}
	return out
}

// rangeOfRef is the range of a place in the document itself; a place elsewhere gives the document's start.
func (snap snapshot) rangeOfRef(at grammar.Ref) protocol.Range {
	span, ok := snap.tree().Locate(at)
	if !ok {
		return protocol.Range{}
	}
	return snap.rangeOf(span.Start, span.End)
}

// locate is the address and range of a place in the document or in a file that its motion uses.
func (snap snapshot) locate(at grammar.Ref) (protocol.Location, bool) {
	for _, file := range slices.Concat([]*grammar.File{snap.tree()}, snap.motion().Linked) {
		span, ok := file.Locate(at)
		if !ok {
			continue
		}
		address, text := snap.addressOf(file)
		return protocol.Location{URI: address, Range: text.rangeOf(span.Start, span.End)}, true
	}
	return protocol.Location{}, false
}

// addressOf is the address of a file of the document's project, in the client's own spelling where it is open.
func (snap snapshot) addressOf(file *grammar.File) (uri.URI, textMap) {
	if file == snap.tree() {
		return snap.spelling, snap.textMap
	}
	path := filepath.Join(snap.root, filepath.FromSlash(file.Path))
	if d, ok := opened(snap.world.documents, path); ok {
		return d.spelling, d.textMap
	}
	return uri.File(path), newTextMap(file.Text, snap.units)
}
