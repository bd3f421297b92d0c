package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/server/watch"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// showPageCommand shows the live page at the moment of a place in a sheet, and gives the page's address. Its arguments are
// the document's address and a position in it; without a position the page opens where it is, and without an address at the
// sheet that comes first.
const showPageCommand = "motet.showPage"

// livePage is the page of a session, which follows what is typed. It is served from the first time that it is asked for
// until the session ends.
type livePage struct {
	mu      sync.Mutex // guards the two lines below
	page    *watch.Page
	address string

	reader watch.Reader  // of the sheets that are not open
	stale  chan struct{} // holds a token while the world has changed since the page was told
	places placeMap
}

// placeMap is where the page's sheets are, by what the page calls them.
type placeMap struct {
	mu sync.Mutex
	by map[string]uri.URI
}

func newLivePage() *livePage { return &livePage{stale: make(chan struct{}, 1)} }

// touch tells the page that the world has changed. It never waits.
func (l *livePage) touch() {
	select {
	case l.stale <- struct{}{}:
	default: // a token lies there already
	}
}

// showPage prepares the command.
func (s *session) showPage(arguments []protocol.LSPAny) (work, error) {
	if len(arguments) > 2 {
		return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "`%s` takes an address and a position, but got %d arguments", showPageCommand, len(arguments))
	}
	var at protocol.Position
	if len(arguments) == 2 {
		if err := protocol.Unmarshal([]byte(arguments[1]), &at); err != nil {
			return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "the second argument of `%s` is no position: %v", showPageCommand, err)
		}
	}
	var snap snapshot
	if len(arguments) > 0 {
		var document protocol.TextDocumentIdentifier
		if err := protocol.Unmarshal([]byte(`{"uri":`+string(arguments[0])+`}`), &document); err != nil {
			return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "the first argument of `%s` is no address: %v", showPageCommand, err)
		}
		var ok bool
		if snap, ok = s.snapshot(document.URI); !ok {
			return nil, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "%s is not open", document.URI)
		}
	}
	return func(context.Context) (any, error) {
		page, address, err := s.startPage()
		if err != nil {
			return nil, refused("the page can't be served: %v", err)
		}
		shown := false
		if snap.document != nil {
			page.Refresh()
			path := pageName(s.now(), snap.document)
			frames, ok := watch.MomentAt(snap.motion(), int(at.Line))
			if ok = ok && len(arguments) == 2; ok {
				shown = page.Show(path, frames)
				address += watch.Fragment(path, frames)
			}
		}
		if yes := true; !shown {
			s.showDocument(&protocol.ShowDocumentParams{URI: uri.URI(address), External: &yes})
		}
		answer, err := json.Marshal(address)
		return protocol.LSPAny(answer), err
	}, nil
}

// showDocument asks the client to show something, and does not wait for it: a client may answer only once it has the answer
// to its own request. A client that can't show anything is not asked, since the command's answer says the same.
func (s *session) showDocument(params *protocol.ShowDocumentParams) {
	if s.client.showsDocuments {
		s.start("showing a document", func(ctx context.Context) { s.ask(ctx, protocol.MethodWindowShowDocument, params) })
	}
}

// startPage serves the page, if it is not served yet, on an address that only this machine has.
func (s *session) startPage() (*watch.Page, string, error) {
	l := s.live
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.page != nil || s.life.Err() != nil {
		return l.page, l.address, s.life.Err()
	}
	listener, err := watch.Listen(0)
	if err != nil {
		return nil, "", err
	}
	var opener watch.Opener
	if s.client.showsDocuments {
		opener = s.openLine
	}
	l.page = watch.New(s.pageSheets, opener)
	server, address := l.page.Server(listener)
	l.address = address
	server.ErrorLog = s.log
	server.BaseContext = func(net.Listener) context.Context { return s.life }
	s.start("serving the page", func(ctx context.Context) {
		if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			s.log.Print(fmt.Errorf("the page is no longer served: %w", err))
		}
	})
	s.start("telling the page", func(ctx context.Context) {
		defer func() { _ = server.Close() }()
		for {
			select {
			case <-ctx.Done():
				return
			case <-l.stale:
				l.page.Refresh()
			}
		}
	})
	return l.page, l.address, nil
}

// openLine shows a line of one of the page's sheets in the editor.
func (s *session) openLine(path string, line int) error {
	s.live.places.mu.Lock()
	address, ok := s.live.places.by[path]
	s.live.places.mu.Unlock()
	if !ok {
		return errors.New("its file is not known")
	}
	at, yes := protocol.Position{Line: uint32(line)}, true
	s.showDocument(&protocol.ShowDocumentParams{
		URI: address, TakeFocus: &yes, Selection: &protocol.Range{Start: at, End: at},
	})
	return nil
}

// pageName is what the page calls a document: its path in its project, or its address where it is no file.
func pageName(w *world, d *document) string {
	if d.path == "" {
		return string(d.spelling)
	}
	for _, other := range w.documents {
		if other.name == d.name && other.root != d.root {
			return d.path // two projects have one of that name
		}
	}
	return d.name
}

// pageSheets are the sheets that the page shows: the open ones as they are typed, and those that lie in the folders of open
// sheets as they are on disk.
func (s *session) pageSheets(watch.Ask) ([]watch.Sheet, []string, error) {
	w := s.now()
	var sheets []watch.Sheet
	places, closed := map[string]uri.URI{}, []string{}
	folders := map[string]*lookout{} // the folders of open sheets, by path
	for key, d := range w.documents {
		if d.tree().First(grammar.SheetBlock) == nil {
			continue
		}
		r := w.readings[key]
		name := pageName(w, d)
		places[name] = d.spelling
		sheets = append(sheets, watch.Sheet{Path: name, Root: d.root, Motion: r.motion(), Findings: func() []lint.Finding {
			found, err := r.findings(s.life)
			if err != nil {
				return nil // the session ends
			}
			return found
		}})
		if d.path != "" {
			folders[filepath.Dir(d.path)] = newLookout(d, w)
		}
	}
	for folder, look := range folders {
		for _, name := range look.list(nameIn(look.root, folder)) {
			full := filepath.Join(look.root, filepath.FromSlash(name))
			if _, open := opened(w.documents, full); open {
				continue
			}
			tree, err := look.tree(name)
			if err != nil || tree.First(grammar.SheetBlock) == nil {
				continue
			}
			motion, findings := s.live.reader.Read(full, tree, look.tree, look.list)
			shown := pageName(w, &document{path: full, root: look.root, name: name})
			places[shown] = uri.File(full)
			closed = append(closed, full)
			sheets = append(sheets, watch.Sheet{Path: shown, Root: look.root, Motion: motion, Findings: findings})
		}
	}
	s.live.reader.Keep(closed)
	s.live.places.mu.Lock()
	s.live.places.by = places
	s.live.places.mu.Unlock()
	slices.SortFunc(sheets, func(a, b watch.Sheet) int { return strings.Compare(a.Path, b.Path) })
	if len(sheets) == 0 {
		return nil, nil, errors.New("no sheet is open")
	}
	return sheets, nil, nil
}
