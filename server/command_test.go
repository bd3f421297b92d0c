package server

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/lint/motion"
	"github.com/stretchr/testify/require"
	"go.lsp.dev/uri"
)

type exportAsked struct {
	text, path string
}

// exporting gives the server an export that writes nothing down but what it was asked.
func exporting(asked chan<- exportAsked, trouble error) func(*Options) {
	return func(o *Options) {
		o.ExportClip = func(ctx context.Context, m *motion.Motion, path string, tell func(string)) (string, error) {
			tell("fitting keys")
			asked <- exportAsked{m.File.Text, path}
			if strings.Contains(path, "slow") {
				<-ctx.Done()
				return "", ctx.Err()
			}
			return "12 keys", trouble
		}
	}
}

type progress struct {
	Token any
	Value struct {
		Kind, Title, Message string
		Cancellable          bool
	}
}

func (c *testClient) progressTold() (told []string) {
	for _, a := range c.heard() {
		if a.Method == "$/progress" {
			p := parse[progress](c.t, a.Params)
			told = append(told, strings.TrimSpace(p.Value.Kind+" "+p.Value.Title+p.Value.Message))
		}
	}
	return told
}

func TestExportClip(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := address("wait.motet")
	export := func(arguments ...any) m {
		return m{"command": exportCommand, "arguments": arguments, "workDoneToken": "clip"}
	}
	t.Run("written", func(t *testing.T) {
		asked := make(chan exportAsked, 1)
		c := dial(t, exporting(asked, nil))
		require.Contains(t, string(c.initialize()), exportCommand)
		c.open(sheet, hintSheet)
		id := c.ask("workspace/executeCommand", export(sheet))
		c.change(sheet, 2, whole("")) // an edit behind the request changes nothing of what is exported
		require.JSONEq(t, `{"uri": "`+address("wait.glb")+`", "report": "12 keys"}`, string(c.await(id).result))
		got := <-asked
		require.Equal(t, exportAsked{hintSheet, uri.MustParse(address("wait.glb")).FsPath()}, got)
		require.Equal(t, []string{"begin exporting wait.motet", "report fitting keys", "end"}, c.progressTold())
		c.call("workspace/executeCommand", export(sheet, address("clips/other.GLB")))
		require.Equal(t, uri.MustParse(address("clips/other.GLB")).FsPath(), (<-asked).path)
	})
	t.Run("cancelled", func(t *testing.T) {
		asked := make(chan exportAsked, 1)
		c := dial(t, exporting(asked, nil))
		c.initialize()
		c.open(sheet, hintSheet)
		id := c.ask("workspace/executeCommand", export(sheet, address("slow.glb")))
		<-asked
		c.notify("$/cancelRequest", m{"id": 2})
		require.Equal(t, -32800, c.await(id).fault.Code) // RequestCancelled
		require.Equal(t, "end", c.progressTold()[2])
	})
	t.Run("cancelled by its token", func(t *testing.T) {
		asked := make(chan exportAsked, 1)
		c := dial(t, exporting(asked, nil))
		c.initialize()
		c.open(sheet, hintSheet)
		id := c.ask("workspace/executeCommand", export(sheet, address("slow.glb")))
		<-asked
		c.notify("window/workDoneProgress/cancel", m{"token": "another"})
		c.notify("window/workDoneProgress/cancel", m{"token": "clip"})
		require.Equal(t, -32800, c.await(id).fault.Code)
		require.Equal(t, "end", c.progressTold()[2])
	})
	t.Run("a client that sends no token is asked for one", func(t *testing.T) {
		asked := make(chan exportAsked, 2)
		c := dial(t, exporting(asked, nil))
		c.initialize(m{"window": m{"workDoneProgress": true}})
		c.open(sheet, hintSheet)
		untold := export(sheet, address("slow.glb"))
		delete(untold, "workDoneToken")
		id := c.ask("workspace/executeCommand", untold)
		<-asked
		c.notify("window/workDoneProgress/cancel", m{"token": "motet-1"})
		require.Equal(t, -32800, c.await(id).fault.Code)
		require.Equal(t, []string{"begin exporting wait.motet", "report fitting keys", "end"}, c.progressTold())
		require.Equal(t, "window/workDoneProgress/create", c.asked[0].Method)
		require.JSONEq(t, `{"token": "motet-1"}`, string(c.asked[0].Params))
		c.notify("window/workDoneProgress/cancel", m{"token": "motet-1"}) // too late
		untold["arguments"] = []any{sheet}
		require.Contains(t, string(c.call("workspace/executeCommand", untold)), "12 keys")
		require.Empty(t, c.log.String())
	})
	t.Run("refused", func(t *testing.T) {
		c := dial(t, exporting(make(chan exportAsked, 1), errors.New("wait.motet:3: the seam of the boat leaks")))
		c.initialize()
		c.open(sheet, hintSheet)
		c.open("untitled:one", hintSheet)
		for _, row := range []struct {
			arguments []any
			code      int
			says      string
		}{
			{[]any{sheet}, -32803, "the seam of the boat leaks"},
			{[]any{"untitled:one"}, -32803, "save it"},
			{[]any{sheet, "untitled:two.glb"}, -32803, "no file on this machine"},
			{[]any{sheet, address("wait.motet")}, -32803, "does not end in .glb"},
			{[]any{sheet, 4}, -32602, "argument 2"},
			{[]any{sheet, sheet, sheet}, -32602, "got 3 arguments"},
			{[]any{address("shut.motet")}, -32602, "is not open"},
			{nil, -32602, "got 0 arguments"},
		} {
			a := c.await(c.ask("workspace/executeCommand", export(row.arguments...)))
			require.Equal(t, row.code, a.fault.Code, a.fault.Message)
			require.Contains(t, a.fault.Message, row.says)
		}
	})
	t.Run("without", func(t *testing.T) {
		c := dial(t)
		require.NotContains(t, string(c.initialize()), exportCommand)
		c.open(sheet, hintSheet)
		require.Equal(t, -32602, c.refused("workspace/executeCommand", export(sheet)))
	})
}
