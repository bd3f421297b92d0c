package server

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// rival is a language server in a process of its own, ours or another, driven as an editor does. Times are taken when a
// whole message has come, before it is decoded.
type rival struct {
	t        testing.TB
	cmd      *exec.Cmd
	in       io.WriteCloser
	settings m // by section, for workspace/configuration
	pulls    bool
	seq      int
	version  int

	mu      sync.Mutex
	news    *sync.Cond
	answers map[int]arrived
	pushed  []arrived // publications of diagnostics
	err     error     // why no more comes
}

// arrived is a message and when it had come.
type arrived struct {
	when    time.Time
	version int // of a publication; -1 where it has none
	fault   string
	result  json.RawMessage
}

func startRival(t testing.TB, settings m, command ...string) *rival {
	t.Helper()
	cmd := exec.CommandContext(context.Background(), command[0], command[1:]...)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	r := &rival{t: t, cmd: cmd, in: in, settings: settings, answers: map[int]arrived{}}
	r.news = sync.NewCond(&r.mu)
	go r.read(bufio.NewReaderSize(out, 1<<16))
	t.Cleanup(func() {
		_ = in.Close()
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	return r
}

func (r *rival) read(in *bufio.Reader) {
	for {
		length := -1
		for {
			line, err := in.ReadString('\n')
			if err != nil {
				r.end(err)
				return
			}
			if line = strings.TrimSpace(line); line == "" {
				break
			}
			if value, ok := strings.CutPrefix(strings.ToLower(line), "content-length:"); ok {
				length, _ = strconv.Atoi(strings.TrimSpace(value))
			}
		}
		body := make([]byte, max(length, 0))
		if _, err := io.ReadFull(in, body); err != nil {
			r.end(err)
			return
		}
		r.take(body, time.Now())
	}
}

func (r *rival) end(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.err = err
	r.news.Broadcast()
}

// take sorts a message in, and answers what the server asks.
func (r *rival) take(body []byte, when time.Time) {
	var message struct {
		ID     json.RawMessage
		Method string
		Result json.RawMessage
		Error  *struct{ Message string }
		Params struct {
			Version *int
			Items   []struct{ Section string }
		}
	}
	if err := json.Unmarshal(body, &message); err != nil {
		r.end(err)
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	defer r.news.Broadcast()
	switch {
	case message.Method == "":
		id, _ := strconv.Atoi(string(message.ID))
		a := arrived{when: when, result: message.Result}
		if message.Error != nil {
			a.fault = message.Error.Message
		}
		r.answers[id] = a
	case message.Method == "textDocument/publishDiagnostics":
		version := -1
		if message.Params.Version != nil {
			version = *message.Params.Version
		}
		r.pushed = append(r.pushed, arrived{when: when, version: version})
	case message.ID != nil:
		var result any
		if message.Method == "workspace/configuration" {
			sections := []any{}
			for _, item := range message.Params.Items {
				sections = append(sections, r.settings[item.Section])
			}
			result = sections
		}
		go r.write(m{"jsonrpc": "2.0", "id": message.ID, "result": result})
	}
}

func (r *rival) write(messages ...m) time.Time {
	var out []byte
	for _, message := range messages {
		body, err := json.Marshal(message)
		require.NoError(r.t, err)
		out = append(out, fmt.Sprintf("Content-Length: %d\r\n\r\n", len(body))...)
		out = append(out, body...)
	}
	sent := time.Now()
	_, _ = r.in.Write(out) // where the server is gone, the reader says so
	return sent
}

func note(method string, params any) m {
	return m{"jsonrpc": "2.0", "method": method, "params": params}
}

// ask makes a request's message and gives its id.
func (r *rival) ask(method string, params any) (m, int) {
	r.seq++
	return m{"jsonrpc": "2.0", "id": r.seq, "method": method, "params": params}, r.seq
}

var errSlow = errors.New("no answer in time")

// until waits for something to have come.
func (r *rival) until(limit time.Duration, done func() bool) error {
	alarm := time.AfterFunc(limit, func() { r.news.Broadcast() })
	defer alarm.Stop()
	deadline := time.Now().Add(limit)
	r.mu.Lock()
	defer r.mu.Unlock()
	for !done() {
		if r.err != nil {
			return r.err
		}
		if time.Now().After(deadline) {
			return errSlow
		}
		r.news.Wait()
	}
	return nil
}

// answerTo waits for the answer to a request.
func (r *rival) answerTo(id int, limit time.Duration) (a arrived, err error) {
	err = r.until(limit, func() bool {
		var ok bool
		a, ok = r.answers[id]
		return ok
	})
	if err == nil && a.fault != "" {
		err = errors.New(a.fault)
	}
	return a, err
}

// pushedFor waits for the diagnostics of the newest version; where the server gives no versions, for any behind the first
// seen ones.
func (r *rival) pushedFor(version, seen int, limit time.Duration) (a arrived, err error) {
	err = r.until(limit, func() bool {
		for _, p := range r.pushed[seen:] {
			if p.version == version || p.version < 0 {
				a = p
				return true
			}
		}
		return false
	})
	return a, err
}

func (r *rival) seen() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.pushed)
}

// peakMiB is the most memory that the process had in its own so far; 0 where the system does not say.
func (r *rival) peakMiB() float64 {
	data, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", r.cmd.Process.Pid))
	_, rest, _ := strings.Cut(string(data), "VmHWM:")
	fields := strings.Fields(rest)
	if len(fields) == 0 {
		return 0
	}
	kib, _ := strconv.ParseFloat(fields[0], 64)
	return kib / 1024
}
