package watch

import (
	"context"
	"os"
	"path/filepath"
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
	if p.look(watcher) {
		wait()
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
			changed, first = nil, time.Time{}
			if p.look(watcher) {
				wait()
			}
		}
	}
}

// look keeps to the folders that count now. In place of a folder that has gone, the nearest one above it is looked at, which
// tells when it comes back.
//
// It tells whether a folder is new: what happened there before it was looked at has been missed, so all has to be read again.
func (p *Page) look(watcher *fsnotify.Watcher) (more bool) {
	var folders []string
	for _, folder := range p.reading().folders {
		for !isFolder(folder) && folder != filepath.Dir(folder) {
			folder = filepath.Dir(folder)
		}
		folders = append(folders, folder)
	}
	watched := watcher.WatchList()
	for _, folder := range folders {
		if !slices.Contains(watched, folder) {
			more = watcher.Add(folder) == nil || more
		}
	}
	for _, folder := range watched {
		if !slices.Contains(folders, folder) {
			_ = watcher.Remove(folder)
		}
	}
	return more
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}
