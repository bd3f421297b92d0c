package server

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"maps"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
	"weak"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/stretchr/testify/require"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
)

// testClient is an editor without a screen: it speaks framed JSON-RPC over pipes to a server in the same process, with
// encoding/json and its own framing, so that nothing of the server's own plumbing vouches for itself. It checks every
// message that it gets against the protocol's meta-model.
type testClient struct {
	t          testing.TB
	out        *io.PipeWriter
	ended      chan error // what Serve returned
	log        lockedBuffer
	model      *metaModel
	kept       *kept
	lastTokens string // the id of the tokens that a benchmark has
	painted    map[string]tokenAnswer
	seq        int
	mu         sync.Mutex
	news       *sync.Cond
	answers    map[string]*answer // by id
	methods    map[string]string  // of requests that wait, by id
	pushes     []push             // in the order in which they came
	asked      []serverMessage    // requests and other notifications of the server
	down       bool               // nothing more comes
	replies    map[string]any     // to what the server asks, by method; null where there is none
	silent     bool               // it answers nothing
}

type answer struct {
	result json.RawMessage
	fault  *fault
}

type fault struct {
	Code    int
	Message string
}

type serverMessage struct {
	Method string
	Params json.RawMessage
}

type push struct {
	URI         string
	Version     *int
	Diagnostics []diagnostic
}

type place struct{ Line, Character int }

type stretch struct{ Start, End place }

type diagnostic struct {
	Range              stretch
	Severity           int
	Code               string
	Source             string
	Message            string
	Tags               []int
	RelatedInformation []struct {
		Location struct {
			URI   string
			Range stretch
		}
		Message string
	}
	Data            json.RawMessage
	CodeDescription *struct{ Href string }
}

type textEdit struct {
	Range   stretch
	NewText string
}

// m is a JSON object.
type m = map[string]any

// patience is how long a test waits for what should come at once. A test that passes waits for none of it, so it is long
// enough for a machine that has much else to do.
var patience time.Duration

var _ = func() bool {
	flag.DurationVar(&patience, "patience", time.Minute, "how long a test waits for what should come at once")
	return true
}()

// dial starts a server and connects to it.
func dial(t testing.TB, given ...func(*Options)) *testClient {
	t.Helper()
	alone.enter()
	fromClient, toServer := io.Pipe()
	fromServer, toClient := io.Pipe()
	c := &testClient{
		t: t, out: toServer, ended: make(chan error, 1), model: model(t),
		answers: map[string]*answer{}, methods: map[string]string{}, kept: &kept{seen: map[weak.Pointer[document]]bool{}},
	}
	c.news = sync.NewCond(&c.mu)
	o := Options{Version: "0.0.0-test", Log: &c.log, extra: maps.Clone(testMessages), judge: testJudge}
	o.extra["motet/test/keep"] = func(s *session, req *jsonrpc2.Request) (work, error) {
		for _, d := range s.world.documents {
			c.kept.note(d)
		}
		return nil, nil
	}
	for _, give := range given {
		give(&o)
	}
	ctx, cancel := context.WithCancel(context.Background())
	read := make(chan struct{})
	go func() {
		err := Serve(ctx, fromClient, toClient, o)
		// Who knows that the server has ended has also heard all that it said.
		_ = toClient.Close()
		<-read
		c.ended <- err
	}()
	go func() { defer close(read); c.read(bufio.NewReader(fromServer)) }()
	t.Cleanup(func() {
		_ = toServer.Close()
		select {
		case err := <-c.ended:
			c.ended <- err
		case <-time.After(patience):
			t.Error("the server did not end")
		}
		cancel()
		_ = toClient.Close()
		<-read
		alone.leave(t)
	})
	return c
}

// alone counts the clients that there are, and the goroutines before the first of them came. While there are several, one of
// them may start something that has nothing to do with the end of another.
var alone crowd

type crowd struct{ clients, before int }

func (c *crowd) enter() {
	if c.clients == 0 {
		c.before = runtime.NumGoroutine()
	}
	c.clients++
}

// leave looks, when the last client goes, whether they all have left nothing running.
func (c *crowd) leave(t testing.TB) {
	if c.clients--; c.clients == 0 {
		leakCheck(t, c.before)
	}
}

// testMessages are messages that only the tests' server knows.
var testMessages = map[string]func(*session, *jsonrpc2.Request) (work, error){
	"motet/test/panic": func(*session, *jsonrpc2.Request) (work, error) { panic("on purpose") },
	"motet/test/panic-later": func(*session, *jsonrpc2.Request) (work, error) {
		return func(context.Context) (any, error) { panic("on purpose") }, nil
	},
	"motet/test/wait": func(*session, *jsonrpc2.Request) (work, error) {
		return func(ctx context.Context) (any, error) { <-ctx.Done(); return nil, ctx.Err() }, nil
	},
	"motet/test/tree": func(s *session, req *jsonrpc2.Request) (work, error) { return about(s, req, sameTree) },
	"motet/test/text": func(s *session, req *jsonrpc2.Request) (work, error) {
		return about(s, req, func(_ context.Context, snap snapshot, _ *protocol.HoverParams) (any, error) {
			return jsonrpc2.RawMessage(encode(state{snap.text, string(snap.spelling), snap.path, int(snap.version)})), nil
		})
	},
}

// A tree that took over what an edit left alone must be the one that the whole text gives.
func sameTree(_ context.Context, snap snapshot, _ *protocol.HoverParams) (any, error) {
	got, want := snap.tree(), grammar.Parse(snap.name, snap.text)
	same := got.Path == want.Path && got.Text == want.Text && got.LineCount() == want.LineCount() && reflect.DeepEqual(got.Blocks, want.Blocks)
	for i := range want.Blocks {
		g, w := got.Blocks[min(i, len(got.Blocks)-1)], want.Blocks[i]
		if same && 0 < len(w.Lines) {
			at, begins := got.Locate(g.RefLine(0))
			wantAt, wantBegins := want.Locate(w.RefLine(0))
			same = at == wantAt && begins == wantBegins
		}
	}
	return same, nil
}

// kept counts the versions of documents that are still in memory.
type kept struct {
	mu   sync.Mutex
	seen map[weak.Pointer[document]]bool
}

func (k *kept) note(d *document) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.seen[weak.Make(d)] = true
}

func (k *kept) count() (n int) {
	runtime.GC()
	k.mu.Lock()
	defer k.mu.Unlock()
	for p := range k.seen {
		if p.Value() != nil {
			n++
		}
	}
	return n
}

// testJudge is the rules, but for the sheet that makes them panic.
func testJudge(ctx context.Context, m *motion.Motion, earlier *lint.Memory) ([]lint.Finding, *lint.Memory, error) {
	if m.Sheet != nil && m.Sheet.Name == "whirlpool" {
		panic("on purpose")
	}
	return lint.CheckAgain(ctx, m, earlier)
}

// state is a document as the server has it.
type state struct {
	Text, URI, Path string
	Version         int
}

func (c *testClient) state(uri string) state {
	c.t.Helper()
	return parse[state](c.t, c.call("motet/test/text", m{"textDocument": m{"uri": uri}}))
}

// leakCheck fails where more goroutines run than before, after they had time to end.
func leakCheck(t testing.TB, before int) {
	for deadline := time.Now().Add(patience); before < runtime.NumGoroutine(); time.Sleep(time.Millisecond) {
		if time.Now().After(deadline) {
			stacks := make([]byte, 1<<20)
			t.Errorf("%d goroutines before, %d after:\n%s", before, runtime.NumGoroutine(), stacks[:runtime.Stack(stacks, true)])
			return
		}
	}
}

// connect dials and initializes. What capabilities say is added to those of a plain modern client.
func connect(t testing.TB, capabilities ...m) *testClient {
	t.Helper()
	c := dial(t)
	c.initialize(capabilities...)
	return c
}

// answerWith makes the client give an answer to what the server asks.
func (c *testClient) answerWith(method string, reply any) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.replies == nil {
		c.replies = map[string]any{}
	}
	c.replies[method] = reply
}

func (c *testClient) initialize(capabilities ...m) json.RawMessage {
	c.t.Helper()
	all := m{}
	for _, more := range capabilities {
		merge(all, more)
	}
	params := m{"processId": nil, "rootUri": nil, "capabilities": all}
	for _, key := range []string{"rootUri", "processId", "workspaceFolders", "trace", "initializationOptions"} {
		if value, ok := all[key]; ok {
			params[key] = value
			delete(all, key)
		}
	}
	result := c.call("initialize", params)
	c.notify("initialized", m{})
	return result
}

// merge adds what more says; it shares no object with more, which other tests use too.
func merge(into, more m) {
	for k, v := range more {
		object, isObject := v.(m)
		if !isObject {
			into[k] = v
			continue
		}
		old, wasObject := into[k].(m)
		if !wasObject {
			old = m{}
			into[k] = old
		}
		merge(old, object)
	}
}

// Capabilities of clients.
var (
	pulls    = m{"textDocument": m{"diagnostic": m{"relatedInformation": true, "dataSupport": true}}}
	markdown = m{"textDocument": m{"hover": m{"contentFormat": []string{"markdown", "plaintext"}}}}
	rich     = m{"textDocument": m{"publishDiagnostics": m{"relatedInformation": true, "dataSupport": true, "tagSupport": m{"valueSet": []int{1, 2}}}}}
)

func counts(units string) m { return m{"general": m{"positionEncodings": []string{units}}} }

// send writes one message as it is.
func (c *testClient) send(body []byte) {
	if _, err := c.out.Write(framed(body)); err != nil {
		c.t.Errorf("the server does not read: %v", err)
	}
}

func framed(body []byte) []byte {
	return fmt.Appendf(nil, "Content-Length: %d\r\n\r\n%s", len(body), body)
}

func (c *testClient) notify(method string, params any) {
	c.send(encode(m{"jsonrpc": "2.0", "method": method, "params": params}))
}

// ask sends a request and gives its id, for await.
func (c *testClient) ask(method string, params any) string {
	c.mu.Lock()
	c.seq++
	id := strconv.Itoa(c.seq)
	c.methods[id] = method
	c.mu.Unlock()
	message := m{"jsonrpc": "2.0", "id": c.seq, "method": method}
	if params != nil {
		message["params"] = params
	}
	c.send(encode(message))
	return id
}

// await gives the answer to a request.
func (c *testClient) await(id string) *answer {
	c.t.Helper()
	var got *answer
	c.wait("the answer to "+c.methods[id], func() bool { got = c.answers[id]; return got != nil })
	return got
}

// drop forgets answers; who asks a hundred thousand things must not keep them all.
func (c *testClient) drop(ids []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, id := range ids {
		delete(c.answers, id)
		delete(c.methods, id)
	}
}

// call gives a request's result, and fails the test where there is an error instead.
func (c *testClient) call(method string, params any) json.RawMessage {
	c.t.Helper()
	a := c.await(c.ask(method, params))
	if a.fault != nil {
		c.t.Fatalf("%s: %+v\n%s", method, *a.fault, c.log.String())
	}
	return a.result
}

// refused gives the code with which a request is refused.
func (c *testClient) refused(method string, params any) int {
	c.t.Helper()
	a := c.await(c.ask(method, params))
	require.NotNil(c.t, a.fault, "%s was answered with %s", method, a.result)
	return a.fault.Code
}

// wait holds until a condition on what came from the server is true.
func (c *testClient) wait(what string, done func() bool) {
	c.t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	timer := time.AfterFunc(patience, func() { c.mu.Lock(); c.down = true; c.mu.Unlock(); c.news.Broadcast() })
	defer timer.Stop()
	for !done() {
		if c.down {
			c.t.Fatalf("%s did not come\n%s", what, c.log.String())
		}
		c.news.Wait()
	}
}

func (c *testClient) open(uri string, text string) {
	c.notify("textDocument/didOpen", m{"textDocument": m{"uri": uri, "languageId": "motet", "version": 1, "text": text}})
}

func (c *testClient) change(uri string, version int, changes ...m) {
	c.notify("textDocument/didChange", m{"textDocument": m{"uri": uri, "version": version}, "contentChanges": changes})
}

func (c *testClient) close(uri string) {
	c.notify("textDocument/didClose", m{"textDocument": m{"uri": uri}})
}

// whole replaces the whole text.
func whole(text string) m { return m{"text": text} }

// part replaces a range.
func part(line, character, toLine, toCharacter int, text string) m {
	return m{"range": span(line, character, toLine, toCharacter), "text": text}
}

func span(line, character, toLine, toCharacter int) m {
	return m{"start": m{"line": line, "character": character}, "end": m{"line": toLine, "character": toCharacter}}
}

func at(uri string, line, character int) m {
	return m{"textDocument": m{"uri": uri}, "position": m{"line": line, "character": character}}
}

// diagnosticsOf waits for the diagnostics of a version of a document; version 0 is a closed one.
func (c *testClient) diagnosticsOf(uri string, version int) []diagnostic {
	c.t.Helper()
	var found push
	c.wait(fmt.Sprintf("diagnostics of %s version %d", uri, version), func() bool {
		for _, p := range c.pushes {
			if p.URI == uri && (p.Version == nil && version == 0 || p.Version != nil && *p.Version == version) {
				found = p
				return true
			}
		}
		return false
	})
	return found.Diagnostics
}

// settles waits until the last diagnostics of a document are of these rules at these places.
func (c *testClient) settles(uri, want string) {
	c.t.Helper()
	c.wait(fmt.Sprintf("diagnostics of %s: %q", uri, want), func() bool {
		for _, p := range slices.Backward(c.pushes) {
			if p.URI == uri {
				return rules(p.Diagnostics) == want
			}
		}
		return false
	})
}

// heard is what the server has asked and told of its own accord so far, but for diagnostics.
func (c *testClient) heard() []serverMessage {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.asked)
}

// forget drops the pushes that came so far.
func (c *testClient) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.pushes = nil
}

// stop asks the server to leave and gives what Serve returned; all that it said has come then.
func (c *testClient) stop() error {
	c.t.Helper()
	c.call("shutdown", nil)
	c.notify("exit", nil)
	return c.end()
}

// end waits for Serve to return.
func (c *testClient) end() error {
	c.t.Helper()
	select {
	case err := <-c.ended:
		c.ended <- err
		return err
	case <-time.After(patience):
		c.t.Fatal("the server did not end")
		return nil
	}
}

func (c *testClient) read(in *bufio.Reader) {
	for {
		body, err := readFrame(in)
		if err != nil {
			c.mu.Lock()
			c.down = true
			c.mu.Unlock()
			c.news.Broadcast()
			return
		}
		c.receive(body)
		c.news.Broadcast()
	}
}

func readFrame(in *bufio.Reader) ([]byte, error) {
	length := -1
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return nil, err
		}
		line = strings.TrimSuffix(line, "\r\n")
		if line == "" {
			break
		}
		if value, ok := strings.CutPrefix(line, "Content-Length: "); ok {
			if length, err = strconv.Atoi(value); err != nil {
				return nil, err
			}
		}
	}
	body := make([]byte, max(length, 0))
	_, err := io.ReadFull(in, body)
	return body, err
}

func (c *testClient) receive(body []byte) {
	if bytes.HasPrefix(body, []byte("[")) {
		var batch []json.RawMessage
		if err := json.Unmarshal(body, &batch); err != nil {
			c.t.Error(err)
		}
		for _, member := range batch {
			c.receive(member)
		}
		return
	}
	var message struct {
		ID     json.RawMessage
		Method string
		Params json.RawMessage
		Result json.RawMessage
		Error  *fault
	}
	if err := json.Unmarshal(body, &message); err != nil {
		c.t.Errorf("the server sent what is no JSON: %v: %s", err, body)
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if message.Method == "" {
		id := string(message.ID)
		if c.answers[id] != nil && id != "null" {
			c.t.Errorf("request %s was answered twice", id)
		}
		c.answers[id] = &answer{message.Result, message.Error}
		if c.model != nil && message.Error == nil && !strings.HasPrefix(c.methods[id], "motet/") {
			if err := c.model.checkResult(c.methods[id], message.Result); err != nil {
				c.t.Errorf("%s: %v\n%s", c.methods[id], err, message.Result)
			}
		}
		return
	}
	if c.model != nil {
		if err := c.model.checkParams(message.Method, message.Params); err != nil {
			c.t.Errorf("%s: %v\n%s", message.Method, err, message.Params)
		}
	}
	if message.Method == "textDocument/publishDiagnostics" {
		var p push
		if err := json.Unmarshal(message.Params, &p); err != nil {
			c.t.Error(err)
		}
		c.pushes = append(c.pushes, p)
		return
	}
	c.asked = append(c.asked, serverMessage{message.Method, message.Params})
	if message.ID != nil && !c.silent {
		reply := c.replies[message.Method]
		// The reader must not wait for the server to read; that the test may be over by then is no matter.
		go func() { _, _ = c.out.Write(framed(encode(m{"jsonrpc": "2.0", "id": message.ID, "result": reply}))) }()
	}
}

func encode(v any) []byte {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(v); err != nil {
		panic(err)
	}
	return bytes.TrimSuffix(out.Bytes(), []byte("\n"))
}

func parse[T any](t testing.TB, raw json.RawMessage) T {
	t.Helper()
	var v T
	require.NoError(t, json.Unmarshal(raw, &v), "%s", raw)
	return v
}

type lockedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}
