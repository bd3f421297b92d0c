package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// message is a message of the language server protocol with its header.
func message(text string) string { return fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(text), text) }

const initialize = `{"jsonrpc":"2.0","id":1,"method":"initialize","params":{"capabilities":{},"processId":null,"rootUri":null}}`

func TestServeEndsByTheOrderOfGoodbyes(t *testing.T) {
	shutdown := message(initialize) + message(`{"jsonrpc":"2.0","method":"initialized","params":{}}`) + message(`{"jsonrpc":"2.0","id":2,"method":"shutdown"}`)
	tests := map[string]struct {
		in     string
		code   int
		stderr string
	}{
		"shutdown and exit":  {shutdown + message(`{"jsonrpc":"2.0","method":"exit"}`), exitClean, ""},
		"exit alone":         {message(initialize) + message(`{"jsonrpc":"2.0","method":"exit"}`), exitFound, "motet: the client left without asking for shutdown\n"},
		"nothing":            {"", exitFound, "motet: the client left without asking for shutdown\n"},
		"shutdown and hurry": {shutdown, exitClean, ""},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			code := run([]string{"serve", "--stdio"}, io.NopCloser(strings.NewReader(test.in)), &stdout, &stderr)
			assert.Equal(t, test.code, code)
			assert.Equal(t, test.stderr, stderr.String())
			if test.in != "" {
				assert.Contains(t, stdout.String(), `"name":"motet"`)
				assert.True(t, strings.HasPrefix(stdout.String(), "Content-Length: "), "the protocol owns standard output")
			}
		})
	}
}

// TestHelpTellsEveryFlag holds the help texts, which are written by hand, to the flags.
func TestHelpTellsEveryFlag(t *testing.T) {
	for _, cmd := range commands() {
		t.Run(cmd.name, func(t *testing.T) {
			assert.True(t, strings.HasPrefix(cmd.help, "\nmotet "+cmd.name), "the first line is how it is used")
			assert.Contains(t, cmd.help, "exit code")
			for line := range strings.Lines(cmd.help) {
				assert.LessOrEqual(t, len([]rune(line)), 81, "a terminal has 80 columns: %s", line)
			}
			parser, err := kong.New(cmd.flags(), kong.NoDefaultHelp())
			require.NoError(t, err)
			flags := map[string]bool{}
			for _, flag := range parser.Model.Flags {
				flags["--"+flag.Name] = true
				assert.Contains(t, cmd.help, "\n  --"+flag.Name, "the help lists the flag")
			}
			for line := range strings.Lines(cmd.help) {
				if strings.HasPrefix(line, "  --") {
					assert.True(t, flags[strings.Fields(line)[0]], "there is such a flag: %s", line)
				}
			}
		})
	}
}

func TestInOrderGivesEachResultOnceAndInOrder(t *testing.T) {
	files := make([]string, 500)
	for i := range files {
		files[i] = fmt.Sprint(i)
	}
	next := 0
	for i, got := range inOrder(files, func(path string) string { return "did " + path }) {
		require.Equal(t, next, i)
		require.Equal(t, fmt.Sprintf("did %d", i), got)
		next++
	}
	assert.Equal(t, len(files), next)
}

func TestInOrderStopsWithItsReader(t *testing.T) {
	// A goroutine that is left behind would make the bubble report a deadlock.
	synctest.Test(t, func(t *testing.T) {
		did := make(chan string, 500)
		for i := range inOrder(make([]string, 500), func(path string) string { did <- path; return path }) {
			if i == 2 {
				break
			}
		}
		synctest.Wait()
		assert.Less(t, len(did), 100, "work stops soon after the reader")
	})
	for range inOrder(nil, func(path string) string { return path }) {
		t.Error("nothing comes of nothing")
	}
}

func TestProgressComesLateAndGoes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var shown bytes.Buffer
		p := newProgress(&console{err: &shown, progress: true}, 300)
		p.done(1)
		p.clear()
		assert.Empty(t, shown.String(), "short work shows nothing")
		time.Sleep(progressAfter)
		p.done(2)
		p.done(3)
		assert.Equal(t, "\r\x1b[K2 of 300 files", shown.String(), "not more often than the eye reads")
		p.clear()
		p.clear()
		assert.Equal(t, "\r\x1b[K2 of 300 files\r\x1b[K", shown.String())

		shown.Reset()
		p = newProgress(&console{err: &shown}, 300)
		time.Sleep(progressAfter)
		p.done(2)
		p.clear()
		assert.Empty(t, shown.String(), "a file gets none")
	})
}

// broken is a writer that fails.
type broken struct{ err error }

func (b broken) Write([]byte) (int, error) { return 0, b.err }

func TestOutputThatCannotBeWritten(t *testing.T) {
	var stderr bytes.Buffer
	assert.Equal(t, exitClean, run([]string{"version"}, nil, broken{io.ErrClosedPipe}, &stderr), "a reader that left is no fault")
	assert.Empty(t, stderr.String())
	assert.Equal(t, exitFailed, run([]string{"version"}, nil, broken{errors.New("the tape is full")}, &stderr))
	assert.Equal(t, "motet: the output can't be written: the tape is full\n", stderr.String())
}

// TestTextAndJSONTellTheSame compares the two outputs on the sheets that break each rule.
func TestTextAndJSONTellTheSame(t *testing.T) {
	t.Chdir("../../testdata")
	var text, object, stderr bytes.Buffer
	require.Equal(t, exitFound, run([]string{"check", "broken"}, nil, &text, &stderr))
	require.Equal(t, exitFound, run([]string{"check", "--json", "broken"}, nil, &object, &stderr))
	require.Empty(t, stderr.String())
	var told struct {
		Findings []struct {
			Path, Rule, Level, Message string
			Span                       struct{ Start struct{ Line, Column int } }
			Mends                      []struct{ Title string }
		}
		Totals struct{ Errors, Warnings, Notes int }
	}
	require.NoError(t, json.Unmarshal(object.Bytes(), &told))
	require.Len(t, told.Findings, told.Totals.Errors+told.Totals.Warnings+told.Totals.Notes)
	rest := text.String()
	for _, f := range told.Findings {
		for _, part := range []string{
			fmt.Sprintf("%s:%d:%d: %s %s\n", f.Path, f.Span.Start.Line, f.Span.Start.Column, f.Level, f.Rule),
			"\n  " + f.Message + "\n",
		} {
			at := strings.Index(rest, part)
			require.GreaterOrEqual(t, at, 0, "the text says %q after what stands before it", part)
			rest = rest[at:]
		}
		for _, m := range f.Mends {
			at := strings.Index(rest, ": "+m.Title)
			require.GreaterOrEqual(t, at, 0, "the text offers %q", m.Title)
			rest = rest[at:]
		}
	}
}
