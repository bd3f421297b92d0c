package server

import (
	"context"
	"slices"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// Diagnostics are pushed to clients that do not ask for them. One goroutine checks one document after the other, each
// time as it then is, so that checks of texts that nobody sees any more never pile up behind fast typing. It waits for
// no pause in the typing: while one check runs, further changes gather by themselves.

// pushQueue says which documents the client must be told about. The session's mutex guards it.
type pushQueue struct {
	waiting []uri.URI           // keys, the next one first
	closed  map[uri.URI]uri.URI // documents whose diagnostics must go, with the client's spelling
	wake    chan struct{}       // holds one token while anything waits
}

func newPushQueue() pushQueue {
	return pushQueue{closed: map[uri.URI]uri.URI{}, wake: make(chan struct{}, 1)}
}

// enqueue puts a document before or behind all others that wait. The mutex is held.
func (s *session) enqueue(key uri.URI, first bool) {
	if s.client.pulls {
		return
	}
	q := &s.push
	q.waiting = slices.DeleteFunc(q.waiting, func(k uri.URI) bool { return k == key })
	if first {
		q.waiting = slices.Insert(q.waiting, 0, key)
	} else {
		q.waiting = append(q.waiting, key)
	}
	select {
	case q.wake <- struct{}{}:
	default: // a token lies there already
	}
}

// takeBack makes the client forget the diagnostics of a document that was closed.
func (s *session) takeBack(d *document) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.push.closed[d.key] = d.spelling
	s.enqueue(d.key, true)
}

// pushDiagnostics tells the client about every queued document until ctx ends.
func (s *session) pushDiagnostics(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.push.wake:
		}
		for ctx.Err() == nil && s.pushNext() {
		}
	}
}

// pushNext tells the client about the first queued document, and is false where none is queued.
func (s *session) pushNext() bool {
	s.mu.Lock()
	if len(s.push.waiting) == 0 {
		s.mu.Unlock()
		return false
	}
	key := s.push.waiting[0]
	s.push.waiting = s.push.waiting[1:]
	d, open := s.world.documents[key]
	snap := snapshot{d, s.world.readings[key], s.world}
	spelling, closed := s.push.closed[key]
	delete(s.push.closed, key)
	s.mu.Unlock()

	switch {
	case open:
		s.pushOne(snap)
	case closed:
		s.publish(spelling, protocol.Optional[int32]{}, nil)
	}
	return true
}

// pushOne checks a document and publishes what it found. Where the document or a file that it uses has changed
// meanwhile, it stands in the queue again, and what was found is of no interest.
func (s *session) pushOne(snap snapshot) {
	defer s.logPanic("checking " + string(snap.spelling))
	found := s.diagnostics(snap)
	s.mu.Lock()
	current := s.world.readings[snap.key] == snap.reading
	s.mu.Unlock()
	if current {
		s.publish(snap.spelling, protocol.NewOptional(snap.version), found)
	}
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
