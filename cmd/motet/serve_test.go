package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
)

// A clip that an editor asks for is the one that the command line writes, of the text that stands in the editor.
func TestServeExportsWhatTheEditorShows(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS(filepath.Join("..", "..", "testdata", "quay"))))
	sheet := filepath.Join(folder, "keeper.motet")
	text, err := os.ReadFile(sheet)
	require.NoError(t, err)
	edited := strings.Replace(string(text), "sheet keeper-wait", "sheet keeper-waits", 1)
	require.NotEqual(t, string(text), edited)
	address := "file://" + filepath.ToSlash(sheet)
	in := framed(t,
		`{"id":1,"method":"initialize","params":{"processId":null,"rootUri":null,"capabilities":{}}}`,
		`{"method":"initialized","params":{}}`,
		`{"method":"textDocument/didOpen","params":{"textDocument":{"uri":"`+address+`","languageId":"motet","version":1,"text":`+quoted(t, edited)+`}}}`,
		`{"id":2,"method":"workspace/executeCommand","params":{"command":"motet.exportClip","arguments":["`+address+`"]}}`)
	answers := awaited{text: `"id":2`, came: make(chan struct{})}
	reader, writer := io.Pipe()
	done := make(chan int)
	go func() {
		done <- (&serveFlags{}).run(newConsole(reader, &answers, io.Discard))
	}()
	_, err = writer.Write(in)
	require.NoError(t, err)
	clip := filepath.Join(folder, "keeper.glb")
	<-answers.came // the file stands before the answer goes out, and an exit would overtake it
	_, err = writer.Write(framed(t, `{"id":3,"method":"shutdown"}`, `{"method":"exit"}`))
	require.NoError(t, err)
	require.Equal(t, exitClean, <-done)
	require.Contains(t, answers.String(), "keeper.glb")

	require.NoError(t, os.WriteFile(sheet, []byte(edited), 0o600))
	m, _, _, err := resolveSheet(sheet)
	require.NoError(t, err)
	take, err := exchange.NewTake(m, exchange.TakeWish{})
	require.NoError(t, err)
	want, err := exchange.WriteGLB([]*exchange.Take{take})
	require.NoError(t, err)
	got, err := os.ReadFile(clip)
	require.NoError(t, err)
	require.Equal(t, want, got)
}

// awaited keeps what is written, and tells when a text has come.
type awaited struct {
	text string
	came chan struct{}

	mu  sync.Mutex
	all strings.Builder
}

func (a *awaited) Write(p []byte) (int, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	before := strings.Contains(a.all.String(), a.text)
	a.all.Write(p)
	if !before && strings.Contains(a.all.String(), a.text) {
		close(a.came)
	}
	return len(p), nil
}

func (a *awaited) String() string {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.all.String()
}

func quoted(t *testing.T, text string) string {
	t.Helper()
	out, err := json.Marshal(text)
	require.NoError(t, err)
	return string(out)
}

func framed(t *testing.T, messages ...string) []byte {
	t.Helper()
	var out bytes.Buffer
	for _, m := range messages {
		body := `{"jsonrpc":"2.0",` + strings.TrimPrefix(m, "{")
		require.True(t, json.Valid([]byte(body)), body)
		fmt.Fprintf(&out, "Content-Length: %d\r\n\r\n%s", len(body), body)
	}
	return out.Bytes()
}

func TestAnExportThatIsNotDoneWritesNothing(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS(filepath.Join("..", "..", "testdata", "quay"))))
	m, _, _, err := resolveSheet(filepath.Join(folder, "keeper.motet"))
	require.NoError(t, err)
	mine := filepath.Join(folder, "mine.glb")
	require.NoError(t, os.WriteFile(mine, []byte("glTF, but not one of motet's"), 0o600))
	rig, _, _, err := resolveSheet(filepath.Join(folder, "quayfolk.motet"))
	require.NoError(t, err)
	broken := filepath.Join(folder, "broken.motet")
	require.NoError(t, os.WriteFile(broken, []byte("sheet broken\n  from keeper-wait in \"keeper.motet\"\n\ntrack nobody\n  at  x\n  1b  2\n"), 0o600))
	unsound, _, _, err := resolveSheet(broken)
	require.NoError(t, err)
	never := func(string) {}

	_, err = exportClip(t.Context(), m, mine, never)
	require.ErrorContains(t, err, "motet did not make it; write under another name")
	_, err = exportClip(t.Context(), rig, filepath.Join(folder, "rig.glb"), never)
	require.ErrorContains(t, err, "has no sheet")
	_, err = exportClip(t.Context(), unsound, filepath.Join(folder, "broken.glb"), never)
	require.ErrorContains(t, err, "broken.motet:4")
	_, err = exportClip(t.Context(), m, filepath.Join(folder, "nowhere", "keeper.glb"), never)
	require.ErrorContains(t, err, "there is no such file or folder")
	_, err = exportClip(t.Context(), m, folder+".glb", never)
	require.NoError(t, err)
	require.NoError(t, os.Remove(folder+".glb"))

	for _, step := range []string{"reading the sheet", "fitting keys", "writing keeper.glb"} {
		ctx, cancel := context.WithCancel(t.Context())
		_, err = exportClip(ctx, m, filepath.Join(folder, "keeper.glb"), func(begun string) {
			if begun == step {
				cancel()
			}
		})
		require.ErrorIs(t, err, context.Canceled, step)
		cancel()
	}
	made, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	require.NoError(t, err)
	require.Equal(t, []string{mine}, made)
	left, err := filepath.Glob(filepath.Join(folder, ".motet*"))
	require.NoError(t, err)
	require.Empty(t, left)
}
