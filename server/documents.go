package server

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/server/watch"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// document is an open text as it was after one message. It never changes; a change of the text makes another.
type document struct {
	textMap
	key      uri.URI // one spelling for all spellings of the address
	spelling uri.URI // the client's own, which it gets back
	path     string  // of the file, and empty where the document is none
	root     string  // the folder of its project; empty where the document is no file
	name     string  // the path from there, with slashes: what trees and messages call it
	version  int32
	tree     func() *grammar.File // parses the text when first asked

	parsed *atomic.Pointer[grammar.File] // what tree gave, for the next version to start from
}

// parse promises the tree of the document, made from the newest tree that an earlier version has made.
func (d *document) parse(before *grammar.File) {
	d.parsed = new(atomic.Pointer[grammar.File])
	d.parsed.Store(before)
	text, name, parsed := d.text, d.name, d.parsed
	d.tree = sync.OnceValue(func() *grammar.File {
		tree := grammar.Reparse(before, name, text)
		parsed.Store(tree)
		return tree
	})
}

// world is all that was open at one moment. It never changes; each message that opens, changes or closes something
// makes another, and shares what stayed the same.
type world struct {
	documents map[uri.URI]*document
	readings  map[uri.URI]*reading // of the documents
	folders   []string             // that the client has open
	disk      *watch.Disk
	judge     judge
	least     lint.Level // that the user wants to be told of
}

// snapshot is what a request is about: a document, and the world in which it stood when the request came.
type snapshot struct {
	*document
	*reading
	world *world
}

// now is the world as it is. What works beside the reader may change it too, as new settings do.
func (s *session) now() *world {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.world
}

// snapshot gives the open document of an address in any spelling. The request's own decoder has brought it into the
// key's spelling already.
func (s *session) snapshot(key uri.URI) (snapshot, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, ok := s.world.documents[key]
	return snapshot{d, s.world.readings[key], s.world}, ok
}

// changeWorld puts a changed copy in the world's place. Readings that have been made and do not use the files that
// changed are taken over; the client hears of what the others find, those of the documents in first before all.
func (s *session) changeWorld(change func(*world), first uri.URI, files ...string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	next := *s.world
	next.documents = maps.Clone(s.world.documents)
	change(&next)
	next.readings = make(map[uri.URI]*reading, len(next.documents))
	for key, d := range next.documents {
		old := s.world.readings[key]
		if s.world.documents[key] != d || slices.ContainsFunc(files, old.uses) {
			if old != nil && old.told.Load() && key != first {
				s.refresh.outdate()
			}
			old = newReading(d, &next, old)
			s.enqueue(key, key == first)
		}
		next.readings[key] = old
	}
	s.world = &next
	s.live.touch()
}

func (s *session) didOpen(req *jsonrpc2.Request) error {
	var params protocol.DidOpenTextDocumentParams
	if err := decode(req, &params); err != nil {
		return err
	}
	// The protocol package's URI is the address in one spelling; the client's own stands in the message alone.
	var spelt struct {
		TextDocument struct {
			URI string `json:"uri"`
		} `json:"textDocument"`
	}
	if err := decode(req, &spelt); err != nil {
		return err
	}
	item := params.TextDocument
	key := uri.URI(strings.Clone(string(item.URI)))
	d := &document{
		textMap:  newTextMap(strings.ToValidUTF8(strings.Clone(item.Text), string('\ufffd')), s.client.units),
		key:      key,
		spelling: uri.URI(strings.Clone(spelt.TextDocument.URI)),
		path:     pathOf(key),
		version:  item.Version,
	}
	d.settle(s.now().folders)
	d.parse(nil)
	s.put(d, d.path, filepath.Dir(d.path))
	return nil
}

func (s *session) didChange(req *jsonrpc2.Request) error {
	var params protocol.DidChangeTextDocumentParams
	if err := decode(req, &params); err != nil {
		return err
	}
	old, ok := s.snapshot(params.TextDocument.URI)
	if !ok {
		return fmt.Errorf("%s was changed and is not open", params.TextDocument.URI)
	}
	if params.TextDocument.Version <= old.version {
		// Messages come in order, so the change is good; only its number is odd.
		s.log.Printf("%s: version %d came after version %d", old.spelling, params.TextDocument.Version, old.version)
	}
	next := *old.document
	next.version = params.TextDocument.Version
	for _, change := range params.ContentChanges {
		next.textMap = next.apply(change)
	}
	next.parse(old.parsed.Load())
	s.put(&next, next.path)
	return nil
}

// apply is the text after one change of a notification; the next change counts from there.
func (m textMap) apply(change protocol.TextDocumentContentChangeEvent) textMap {
	switch c := change.(type) {
	case *protocol.TextDocumentContentChangePartial:
		return m.replaced(c.Range, strings.ToValidUTF8(c.Text, string('\ufffd')))
	case *protocol.TextDocumentContentChangeWholeDocument:
		return newTextMap(strings.ToValidUTF8(strings.Clone(c.Text), string('\ufffd')), m.units)
	}
	return m
}

func (s *session) didClose(req *jsonrpc2.Request) error {
	var params protocol.DidCloseTextDocumentParams
	if err := decode(req, &params); err != nil {
		return err
	}
	old, ok := s.snapshot(params.TextDocument.URI)
	if !ok {
		return fmt.Errorf("%s was closed and is not open", params.TextDocument.URI)
	}
	s.changeWorld(func(w *world) { delete(w.documents, old.key) }, "", old.path, filepath.Dir(old.path))
	s.takeBack(old.document)
	s.painted.drop(old.key)
	return nil
}

// put makes d the newest state of its document; changed are the files and folders that look different from now on.
func (s *session) put(d *document, changed ...string) {
	s.changeWorld(func(w *world) { w.documents[d.key] = d }, d.key, changed...)
}

func (s *session) didChangeFolders(req *jsonrpc2.Request) error {
	var params protocol.DidChangeWorkspaceFoldersParams
	if err := decode(req, &params); err != nil {
		return err
	}
	s.changeWorld(func(w *world) {
		folders := slices.Clone(w.folders)
		for _, folder := range params.Event.Removed {
			gone := pathOf(folder.URI)
			folders = slices.DeleteFunc(folders, func(f string) bool { return f == gone })
		}
		for _, folder := range params.Event.Added {
			folders = addFolder(folders, folder.URI)
		}
		w.folders = folders
		w.rename()
	}, "")
	return nil
}

// rename gives the documents the names that they have under the world's folders.
func (w *world) rename() {
	for key, d := range w.documents {
		renamed := *d
		if renamed.settle(w.folders); renamed.root != d.root {
			renamed.parse(nil)
			w.documents[key] = &renamed
		}
	}
}

// settle finds the project that the document belongs to.
func (d *document) settle(folders []string) {
	d.root, d.name = "", untitled
	if d.path != "" {
		d.root = projectRoot(d.path, folders)
		d.name = nameIn(d.root, d.path)
	}
}

func addFolder(folders []string, address uri.URI) []string {
	path := pathOf(address)
	if path == "" || slices.Contains(folders, path) {
		return folders
	}
	return append(folders, path)
}

// pathOf is the file that an address names, and empty where it names none.
func pathOf(address uri.URI) string {
	if !address.IsFile() {
		return ""
	}
	return filepath.Clean(strings.Clone(address.FsPath()))
}
