package server

import (
	"context"
	"slices"
	"time"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// Diagnostics are pushed to clients that do not ask for them. One goroutine checks one document after the other, each
// time as it then is. A change of the document that is being checked ends the check, so that none is ever finished for a
// text that nobody sees any more. There is no wait beyond the work itself for documents whose check takes less than a
// frame of the screen; before those that take longer there is a short pause, for more to be typed.

// pushQueue says which documents the client must be told about. The session's mutex guards it.
type pushQueue struct {
	waiting []uri.URI           // keys, the next one first
	closed  map[uri.URI]uri.URI // documents whose diagnostics must go, with the client's spelling
	wake    chan struct{}       // holds one token while anything waits

	checking uri.URI            // the document that is being checked, empty for none
	giveUp   context.CancelFunc // ends that check

	// took is how long the last check of each document took, but for its first, which has nothing to take over and says
	// nothing about those after it. It belongs to the goroutine that pushes.
	took map[uri.URI]time.Duration

	others others // it belongs to that goroutine too
}

func newPushQueue() pushQueue {
	return pushQueue{closed: map[uri.URI]uri.URI{}, took: map[uri.URI]time.Duration{}, wake: make(chan struct{}, 1)}
}

// enqueue puts a document before or behind all others that wait. The mutex is held.
func (s *session) enqueue(key uri.URI, first bool) {
	if s.client.pulls {
		return
	}
	q := &s.push
	if q.checking == key && q.giveUp != nil {
		q.giveUp()
	}
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
		for ctx.Err() == nil && s.pushNext(ctx) {
		}
	}
}

// pushNext tells the client about the first queued document, and is false where none is queued.
func (s *session) pushNext(ctx context.Context) bool {
	checking, giveUp := context.WithCancel(ctx)
	defer giveUp()
	s.mu.Lock()
	if len(s.push.waiting) == 0 {
		s.push.checking, s.push.giveUp = "", nil
		s.mu.Unlock()
		return false
	}
	key := s.push.waiting[0]
	s.push.waiting = s.push.waiting[1:]
	s.push.checking, s.push.giveUp = key, giveUp
	d, open := s.world.documents[key]
	snap := snapshot{d, s.world.readings[key], s.world}
	spelling, closed := s.push.closed[key]
	delete(s.push.closed, key)
	s.mu.Unlock()

	switch {
	case open:
		s.pushOne(checking, snap)
	case closed:
		delete(s.push.took, key)
		s.publish(spelling, protocol.Optional[int32]{}, nil)
	}
	return true
}

// frame is how long a screen shows one picture, at 60 Hz.
const frame = time.Second / 60

// pushOne checks a document and publishes what it found. Where the document or a file that it uses changes meanwhile, ctx
// ends; the document stands in the queue again then, and what was found is of no interest.
func (s *session) pushOne(ctx context.Context, snap snapshot) {
	defer s.logPanic("checking " + string(snap.spelling))
	if last := s.push.took[snap.key]; last > frame {
		select {
		case <-ctx.Done():
			return
		case <-time.After(min(last/4, frame)):
		}
	}
	s.push.others.begin()
	begun := time.Now()
	way := &makingWay{ctx, s.asked, &s.push.others, begun, frame}
	if way.Err() != nil {
		return
	}
	snap.tree() // which a question needs as well
	if way.Err() != nil {
		return
	}
	found, err := s.diagnostics(way, snap)
	if err != nil {
		return
	}
	if _, again := s.push.took[snap.key]; again {
		s.push.took[snap.key] = time.Since(begun) - (frame - way.left)
	} else {
		s.push.took[snap.key] = 0
	}
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
