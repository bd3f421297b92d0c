package server

import (
	"context"
	"strings"
	"unicode/utf16"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// signatureHelp shows which column of a table is being written, and how a line of a list is written.
func (s *session) signatureHelp(_ context.Context, snap snapshot, params *protocol.SignatureHelpParams) (any, error) {
	a := askingAt(snap, snap.offsetOf(params.Position))
	if a.block == nil || strings.TrimSpace(a.line) == "" || strings.Contains(a.line[:a.column], "#") {
		return nil, nil
	}
	info := grammar.InfoOf(a.block.Kind)
	switch {
	case info == nil:
		return nil, nil
	case info.IsTable() && 0 <= a.block.Header && a.block.Header < a.number && !a.block.Muted:
		return s.columnHelp(a), nil
	case info.IsTable() || a.number <= a.block.Open || len(a.atoms) == 0:
		return nil, nil
	}
	kind, ok := lineKindOf(info, a.atom(0))
	if !ok {
		return nil, nil
	}
	return &protocol.SignatureHelp{Signatures: []protocol.SignatureInformation{{Label: kind.Usage}}}, nil
}

// columnHelp is the table's row of column names, with the one that is being written.
func (s *session) columnHelp(a *asking) *protocol.SignatureHelp {
	signature := protocol.SignatureInformation{}
	var label strings.Builder
	control, _, channels := trackOf(a.block)
	for i := range a.block.Columns {
		c := &a.block.Columns[i]
		if 0 < i {
			label.WriteString("  ")
		}
		p := protocol.ParameterInformation{Label: protocol.String(c.Name)}
		if s.client.labelOffsets {
			start := uint32(utf16Length(label.String()))
			p.Label = protocol.ParameterInformationLabelTuple{start, start + uint32(utf16Length(c.Name))}
		}
		label.WriteString(c.Name)
		if channels && c.Kind == grammar.ValueColumn {
			if d := a.sight().dial(control + "/" + grammar.NameKey(c.Name)); d != nil {
				p.Documentation = protocol.String(d.tells())
			}
		} else {
			p.Documentation = protocol.String(c.Wants())
		}
		signature.Parameters = append(signature.Parameters, p)
	}
	signature.Label = label.String()
	help := &protocol.SignatureHelp{Signatures: []protocol.SignatureInformation{signature}}
	// Behind the last column a client marks none; a row with too many cells is a report's business.
	help.ActiveParameter = protocol.NewNullable(uint32(len(a.atoms)))
	return help
}

// dial is a channel of the rig in sight by its path; nil where there is none.
func (s *sight) dial(path string) *dialRow {
	for _, d := range s.dials() {
		if d.path == path {
			return &d
		}
	}
	return nil
}

// utf16Length is a text's length as the protocol counts inside labels, whatever the client counts in documents.
func utf16Length(text string) int {
	n := 0
	for _, r := range text {
		n += utf16.RuneLen(r)
	}
	return n
}
