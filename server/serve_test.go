package server

import (
	"context"
	"io"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Codes of JSON-RPC 2.0 and of LSP 3.18, "Base Protocol".
const (
	parseError           = -32700
	invalidRequest       = -32600
	methodNotFound       = -32601
	invalidParams        = -32602
	internalError        = -32603
	serverNotInitialized = -32002
	requestCancelled     = -32800
)

const sheetURI = "file:///quay/keeper.motet"

func TestAnOrderlyStay(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "sheet keeper\n")
	require.NoError(t, c.stop())
	require.Empty(t, c.log.String())
}

func TestLeavingWithoutShutdownIsAFailure(t *testing.T) {
	for name, leave := range map[string]func(*testClient){
		"exit":         func(c *testClient) { c.notify("exit", nil) },
		"end of input": func(c *testClient) { _ = c.out.Close() },
	} {
		t.Run(name, func(t *testing.T) {
			c := connect(t)
			leave(c)
			require.ErrorIs(t, c.end(), ErrNoShutdown)
		})
		t.Run(name+" before initialize", func(t *testing.T) {
			c := dial(t)
			leave(c)
			require.ErrorIs(t, c.end(), ErrNoShutdown)
		})
	}
}

func TestEndOfInputAfterShutdownIsOrderly(t *testing.T) {
	c := connect(t)
	c.call("shutdown", nil)
	require.NoError(t, c.out.Close())
	require.NoError(t, c.end())
}

// Two messages in one write: the answer to shutdown must not be lost to the exit behind it.
func TestShutdownIsAnsweredBeforeExit(t *testing.T) {
	c := connect(t)
	id := c.ask("shutdown", nil)
	c.notify("exit", nil)
	require.JSONEq(t, "null", string(c.await(id).result))
	require.NoError(t, c.end())
}

func TestATornMessageEndsTheStay(t *testing.T) {
	c := connect(t)
	_, err := io.WriteString(c.out, "Content-Length: 100\r\n\r\n{\"jsonrpc\"")
	require.NoError(t, err)
	require.NoError(t, c.out.Close())
	require.ErrorIs(t, c.end(), io.ErrUnexpectedEOF)
}

func TestTheServerLeavesWithItsParent(t *testing.T) {
	parent := exec.Command("go", "version")
	require.NoError(t, parent.Run(), "a process whose id nobody has any more")
	c := dial(t)
	c.ask("initialize", m{"processId": parent.Process.Pid, "rootUri": nil, "capabilities": m{}})
	require.ErrorIs(t, c.end(), ErrParentGone)
}

func TestTheServerStaysWhileItsParentLives(t *testing.T) {
	require.True(t, processLives(1))
	parent := exec.Command("go", "version")
	require.NoError(t, parent.Run())
	require.False(t, processLives(parent.Process.Pid))
}

func TestTheServerEndsWithItsContext(t *testing.T) {
	in, out := io.Pipe()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- Serve(ctx, in, io.Discard, Options{}) }()
	cancel()
	select {
	case err := <-ended:
		require.NoError(t, err)
	case <-time.After(patience):
		t.Fatal("the server did not end")
	}
	_, err := out.Write([]byte("x"))
	require.Error(t, err, "the input is closed")
}

func TestRequestsAtTheWrongTime(t *testing.T) {
	c := dial(t)
	require.Equal(t, serverNotInitialized, c.refused("textDocument/hover", at(sheetURI, 0, 0)))
	require.Equal(t, serverNotInitialized, c.refused("shutdown", nil))
	c.open(sheetURI, "sheet keeper\n") // dropped: a notification before initialize
	c.initialize()
	require.Equal(t, invalidParams, c.refused("textDocument/hover", at(sheetURI, 0, 0)), "the document is not open")
	require.Equal(t, invalidRequest, c.refused("initialize", m{"processId": nil, "rootUri": nil, "capabilities": m{}}))
	c.call("shutdown", nil)
	require.Equal(t, invalidRequest, c.refused("shutdown", nil))
	require.Equal(t, invalidRequest, c.refused("textDocument/hover", at(sheetURI, 0, 0)))
	c.notify("exit", nil)
	require.NoError(t, c.end())
}

func TestUnknownMessages(t *testing.T) {
	c := connect(t)
	c.notify("$/future", m{"x": 1})
	c.notify("motet/future", nil)
	c.notify("textDocument/didSave", m{"textDocument": m{"uri": sheetURI}})
	require.Equal(t, methodNotFound, c.refused("$/future", nil))
	require.Equal(t, methodNotFound, c.refused("textDocument/moniker", at(sheetURI, 0, 0)))
	require.NoError(t, c.stop())
}

func TestMessagesThatCannotBeRead(t *testing.T) {
	for _, row := range []struct {
		name, body string
		code       int
	}{
		{"no JSON", `{"jsonrpc":"2.0",`, parseError},
		{"not UTF-8 and no JSON", "\xff\xfe{}", parseError},
		{"a number", `7`, parseError},
		{"two values", `{"jsonrpc":"2.0","id":1,"method":"shutdown"} {}`, parseError},
		{"no version", `{"id":1,"method":"shutdown"}`, invalidRequest},
		{"an id that is an object", `{"jsonrpc":"2.0","id":{},"method":"shutdown"}`, invalidRequest},
		{"an empty batch", `[]`, invalidRequest},
		{"a batch that is cut off", `[{"jsonrpc":"2.0"`, invalidRequest},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := connect(t)
			c.send([]byte(row.body))
			var got *answer
			c.wait("an answer without an id", func() bool { got = c.answers["null"]; return got != nil })
			require.NotNil(t, got.fault)
			require.Equal(t, row.code, got.fault.Code, got.fault.Message)
			require.NoError(t, c.stop(), "the server goes on")
		})
	}
}

func TestParametersThatCannotBeRead(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "sheet keeper\n")
	for _, params := range []any{nil, m{}, []int{1}, m{"textDocument": 3}, m{"textDocument": m{"uri": ""}}} {
		require.Equal(t, invalidParams, c.refused("textDocument/hover", params), "%v", params)
		c.notify("textDocument/didChange", params)
		c.notify("textDocument/didOpen", params)
		c.notify("$/cancelRequest", params)
	}
	require.NoError(t, c.stop())
	require.Contains(t, c.log.String(), "textDocument/didChange")
}

func TestABatchIsAnsweredAsOne(t *testing.T) {
	c := connect(t)
	c.mu.Lock()
	c.methods["5"] = "shutdown"
	c.mu.Unlock()
	c.send([]byte(`[{"jsonrpc":"2.0","method":"$/x"},{"jsonrpc":"2.0","id":5,"method":"shutdown"},{"jsonrpc":"2.0","id":6,"method":"shutdown"},7]`))
	require.JSONEq(t, "null", string(c.await("5").result))
	require.Equal(t, invalidRequest, c.await("6").fault.Code)
	require.NotNil(t, c.await("null").fault, "7 is no message")
}

// The server is found by its panics in the log and not by its absence.
func TestAPanicCostsOneRequest(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "sheet keeper\n")
	require.Equal(t, internalError, c.refused("motet/test/panic", nil))
	require.Equal(t, internalError, c.refused("motet/test/panic-later", nil))
	c.notify("motet/test/panic", nil)
	require.NoError(t, c.stop())
	require.Contains(t, c.log.String(), "motet/test/panic-later failed: on purpose")
	require.Equal(t, 2, strings.Count(c.log.String(), "motet/test/panic failed"))
	require.Contains(t, c.log.String(), "session.go")
}

func TestACancelledRequestIsAnsweredOnce(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "sheet keeper\n")
	id := c.ask("motet/test/wait", nil)
	c.notify("$/cancelRequest", m{"id": c.seq})
	got := c.await(id)
	require.NotNil(t, got.fault)
	require.Equal(t, requestCancelled, got.fault.Code)
	c.notify("$/cancelRequest", m{"id": c.seq})
	c.notify("$/cancelRequest", m{"id": "no such"})
	require.NoError(t, c.stop(), "and the client saw no second answer")
}

func TestRequestsThatWaitEndWithTheStay(t *testing.T) {
	c := connect(t)
	c.ask("motet/test/wait", nil)
	require.NoError(t, c.out.Close())
	require.ErrorIs(t, c.end(), ErrNoShutdown)
}
