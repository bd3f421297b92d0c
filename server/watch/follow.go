package watch

import (
	"context"
	"slices"
	"time"

	"github.com/fsnotify/fsnotify"
)

// settle is how long files must be quiet before they are read: a save is several changes, and half a file is none.
const settle = 12 * time.Millisecond

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
	for {
		select {
		case <-ctx.Done():
			return nil
		case event, ok := <-watcher.Events:
			if !ok {
				return nil
			}
			if event.Op != fsnotify.Chmod {
				quiet.Reset(settle)
			}
		case err, ok := <-watcher.Errors:
			if !ok {
				return err
			}
			quiet.Reset(settle) // Changes may have been lost, so everything is read.
		case <-quiet.C:
			p.Refresh()
			p.look(watcher)
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
