package server

import (
	"context"
	"encoding/json"
	"slices"

	"github.com/motet-sheet/motet/lint"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// settings are what the user sets in the editor, in the section `motet`:
//
//	"motet": {"least": "warning"}
//
// leaves out what is reported at a lower level: note (the default), warning or error. What the rules themselves do is set
// in a `house`, where it holds for everybody who works on the sheet.
type settings struct {
	Least string `json:"least"`
}

// settingsSection is the part of the editor's settings that is the server's.
const settingsSection = "motet"

// askForSettings asks the client for its settings.
func (s *session) askForSettings(ctx context.Context) {
	section := settingsSection
	var values []protocol.LSPAny
	params := &protocol.ConfigurationParams{Items: []protocol.ConfigurationItem{{Section: &section}}}
	if err := protocol.Call(ctx, s.conn, protocol.MethodWorkspaceConfiguration, params, &values); err != nil {
		if ctx.Err() == nil {
			s.log.Printf("the client refused to tell its settings: %v", err)
		}
		return
	}
	if len(values) > 0 {
		s.set(ctx, values[0])
	}
}

// didChangeSettings asks for the settings again, or takes them from the notification where the client can't be asked.
func (s *session) didChangeSettings(req *jsonrpc2.Request) error {
	if s.client.configures {
		s.start("asking for settings", s.askForSettings)
		return nil
	}
	var params protocol.DidChangeConfigurationParams
	if err := decode(req, &params); err != nil {
		return err
	}
	var sections map[string]json.RawMessage
	if err := json.Unmarshal(params.Settings, &sections); err != nil {
		return nil // null, or what another server is meant to understand
	}
	if own, ok := sections[settingsSection]; ok {
		s.start("taking settings", func(ctx context.Context) { s.set(ctx, protocol.LSPAny(slices.Clone(own))) })
	}
	return nil
}

// set applies the settings; null sets everything back. Values that are not understood are told to the log, and change
// nothing.
func (s *session) set(ctx context.Context, value protocol.LSPAny) {
	var given settings
	if err := json.Unmarshal(value, &given); err != nil {
		s.log.Printf("the settings can't be read: %v", err)
		return
	}
	levels := map[string]lint.Level{"": lint.Note, "note": lint.Note, "warning": lint.Warning, "error": lint.Error}
	least, ok := levels[given.Least]
	if !ok {
		s.log.Printf("the setting motet.least is %q; write note, warning or error", given.Least)
		return
	}
	s.mu.Lock()
	changed := s.world.least != least
	if changed {
		next := *s.world
		next.least = least
		s.world = &next
		for key := range next.documents {
			s.enqueue(key, false)
		}
	}
	s.mu.Unlock()
	if changed && s.client.pulls && s.client.refreshes.diagnostics {
		s.ask(ctx, protocol.MethodWorkspaceDiagnosticRefresh, nil)
	}
}
