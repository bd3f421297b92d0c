package watch

import (
	"context"
	"slices"
	"time"

	"github.com/fsnotify/fsnotify"
)

// settle is how long files must be quiet before they are read: a save is several changes, and half a file is none. An editor
// that empties a file and then writes it has done so within a fraction of this; where it takes longer, what follows is read
// as well, and nothing is lost but a frame or two.
const settle = 4 * time.Millisecond

// patience is how long files that don't become quiet are waited for.
const patience = 50 * time.Millisecond

// Follow reads the sheets again whenever a file in one of their folders changes, until the context ends.
func (p *Page) Follow(ctx context.Context) error {
	watcher, err := fsnotify.NewWatcher()
	if err != nil {
		return err
	}
	defer func() { _ = watcher.Close() }()
	p.look(watcher)
	quiet := time.NewTimer(time.Hour)
	quiet.Stop()
	var changed []string
	var first time.Time // of the changes that have not been read
	wait := func() {
		if first.IsZero() {
			first = time.Now()
		}
		quiet.Reset(min(settle, max(0, patience-time.Since(first))))
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case event, ok := <-watcher.Events:
			if !ok {
				return nil
			}
			if event.Op != fsnotify.Chmod {
				if !slices.Contains(changed, event.Name) {
					changed = append(changed, event.Name)
				}
				wait()
			}
		case err, ok := <-watcher.Errors:
			if !ok {
				return err
			}
			wait() // Changes may have been lost, so everything is read.
		case <-quiet.C:
			p.Refresh(changed...)
			p.look(watcher)
			changed, first = nil, time.Time{}
		}
	}
}

// look keeps to the folders that count now. A folder that has gone is not looked at; its parent tells when it comes back.
func (p *Page) look(watcher *fsnotify.Watcher) {
	folders, watched := p.reading().folders, watcher.WatchList()
	for _, folder := range folders {
		if !slices.Contains(watched, folder) {
			_ = watcher.Add(folder)
		}
	}
	for _, folder := range watched {
		if !slices.Contains(folders, folder) {
			_ = watcher.Remove(folder)
		}
	}
}
