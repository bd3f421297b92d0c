package server

import (
	"context"
	"slices"
	"time"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// Diagnostics are pushed to clients that do not ask for them. One goroutine checks one document after the other, each
// time as it then is, so that checks of texts that nobody sees any more never pile up behind fast typing.

// longestPause is the longest that a check waits for more typing: one frame at 60 Hz.
const longestPause = time.Second / 60

// pushQueue says which documents the client must be told about. The session's mutex guards it.
type pushQueue struct {
	waiting  []uri.URI                   // keys, the next one first
	gone     map[uri.URI]uri.URI         // closed documents, whose diagnostics must go, with the client's spelling
	reads    map[uri.URI]map[string]bool // the files that the last check of a document read
	checking uri.URI                     // the document that is being checked
	stop     context.CancelFunc          // stops that check
	wake     chan struct{}               // holds one token while anything waits
	took     map[uri.URI]time.Duration   // how long the last check of a document took
}

func newPushQueue() pushQueue {
	return pushQueue{
		gone:  map[uri.URI]uri.URI{},
		reads: map[uri.URI]map[string]bool{},
		took:  map[uri.URI]time.Duration{},
		stop:  func() {},
		wake:  make(chan struct{}, 1),
	}
}

// changed queues a document whose text changed, and every open document that reads its file.
func (s *session) changed(key uri.URI, path string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.enqueue(path, key)
}

// closed queues the news that a document has no diagnostics any more, and every open document that read it, since
// those now see the file on disk.
func (s *session) closed(d *document) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.push.gone[d.key] = d.spelling
	delete(s.push.reads, d.key)
	delete(s.push.took, d.key)
	s.enqueue(d.path, d.key)
}

// enqueue puts key, where there is one, before all others, and the readers of a file behind. The mutex is held.
func (s *session) enqueue(path string, key ...uri.URI) {
	if s.client.pulls {
		return
	}
	q := &s.push
	for reader, files := range q.reads {
		if path != "" && files[path] && !slices.Contains(key, reader) {
			key = append(key, reader)
		}
	}
	if len(key) == 0 {
		return
	}
	if slices.Contains(key, q.checking) {
		q.stop()
	}
	q.waiting = slices.DeleteFunc(q.waiting, func(k uri.URI) bool { return slices.Contains(key, k) })
	q.waiting = append(key, q.waiting...)
	select {
	case q.wake <- struct{}{}:
	default: // a token lies there already
	}
}

// pushDiagnostics tells the client about every queued document until ctx ends.
func (s *session) pushDiagnostics(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.push.wake:
		}
		for s.pushNext(ctx) {
		}
	}
}

// pushNext tells the client about the first queued document, and is false where none is queued.
func (s *session) pushNext(ctx context.Context) bool {
	s.mu.Lock()
	if len(s.push.waiting) == 0 || ctx.Err() != nil {
		s.mu.Unlock()
		return false
	}
	pause := min(s.push.took[s.push.waiting[0]], longestPause)
	s.mu.Unlock()
	if longestPause/4 < pause {
		time.Sleep(pause)
	}

	s.mu.Lock()
	key := s.push.waiting[0]
	s.push.waiting = s.push.waiting[1:]
	d, open := s.world.documents[key]
	snap := snapshot{d, s.world}
	spelling := s.push.gone[key]
	delete(s.push.gone, key)
	if !open {
		s.mu.Unlock()
		s.publish(spelling, protocol.Optional[int32]{}, nil)
		return true
	}
	checkCtx, stop := context.WithCancel(ctx)
	defer stop()
	s.push.checking, s.push.stop = key, stop
	s.mu.Unlock()

	s.pushOne(checkCtx, snap)
	return true
}

// pushOne checks a document and publishes what it found, unless the document or a file that the check read has changed
// meanwhile; then it stands in the queue again.
func (s *session) pushOne(ctx context.Context, snap snapshot) {
	begun := time.Now()
	found, reads := s.check(ctx, snap)

	s.mu.Lock()
	s.push.checking, s.push.stop = "", func() {}
	current := s.world.documents[snap.key] == snap.document
	if current {
		s.push.took[snap.key] = time.Since(begun)
		s.push.reads[snap.key] = reads
		if !s.world.sees(snap.world, reads) {
			s.enqueue("", snap.key)
			current = false
		}
	}
	s.mu.Unlock()
	if current && ctx.Err() == nil {
		s.publish(snap.spelling, protocol.NewOptional(snap.version), found)
	}
}

// sees tells whether the files look the same in both worlds.
func (w *world) sees(other *world, files map[string]bool) bool {
	if w.disk != other.disk && 0 < len(files) {
		return false
	}
	for path := range files {
		mine, _ := w.opened(path)
		theirs, _ := other.opened(path)
		if mine != theirs {
			return false
		}
	}
	return true
}

// publish sends one document's diagnostics; an empty list is sent too, since it takes the old ones away.
func (s *session) publish(spelling uri.URI, version protocol.Optional[int32], found []protocol.Diagnostic) {
	if found == nil {
		found = []protocol.Diagnostic{}
	}
	s.notify(protocol.MethodTextDocumentPublishDiagnostics, &protocol.PublishDiagnosticsParams{
		URI: spelling, Version: version, Diagnostics: found,
	})
}
