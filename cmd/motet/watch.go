package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/server/watch"
)

const watchHelp = `
motet watch [FLAGS] [PATH…]

Shows sheets as they move, in the browser, and follows their files: save a sheet
in your editor, and the page plays it anew, at the same moment and from the same
side. Time runs down the page beside the sheet's text. PATH is a sheet or a
folder; without one, the current folder is watched. Ctrl-C ends it.

  --port N          the port on the loopback address; a free one when left out
  --no-open         don't open the browser, only print the address
  --editor COMMAND  what shows a line of a sheet, for clicks on the page; write
                    FILE and LINE in it, as in "emacsclient -n +LINE FILE"

Without --editor, clicks open the editor that $VISUAL or $EDITOR names, where it
has a window of its own.

Nobody but this machine can reach the page, its address has a token that is new
each time, and it loads nothing from elsewhere.

keys on the page:
  space              play, pause       f s t r     front, side, three-quarter,
  arrows             by a frame                    round
  Shift with arrows  by a beat         e           the seam over and over
  + -                faster, slower    g           the last version as a ghost
  v                  the whole family  a           the way of a joint
  o                  the row that is   b           a click on the beat
                     played, in the editor

exit codes:
  0  ended by you
  2  there is nothing to watch, or no port
`

type watchFlags struct {
	Paths  []string `arg:"" optional:""`
	Port   int
	NoOpen bool
	Editor string
}

func (f *watchFlags) run(c *console) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := f.watch(ctx, c); err != nil {
		c.complain("%s", plainIO(err))
		return exitFailed
	}
	return exitClean
}

func (f *watchFlags) watch(ctx context.Context, c *console) error {
	if f.Port < 0 || f.Port > 65535 {
		return fmt.Errorf("--port: `%d` is no port; write one from 1 to 65535", f.Port)
	}
	sources := &watching{paths: f.Paths}
	if _, _, err := sources.read(watch.Ask{}); err != nil {
		return err
	}
	opener, err := editorOpener(f.Editor, os.Getenv("VISUAL"), os.Getenv("EDITOR"))
	if err != nil {
		return err
	}
	listener, err := watch.Listen(f.Port)
	if err != nil {
		return fmt.Errorf("no page can be served: %w", err)
	}
	page := watch.New(sources.read, opener)
	server, address := page.Server(listener)
	server.BaseContext = func(net.Listener) context.Context { return ctx }
	c.print("watching; open " + address + "\nCtrl-C ends it\n")
	_ = c.out.Flush()
	if !f.NoOpen {
		open(address)
	}
	followed := make(chan error, 1)
	go func() {
		followed <- page.Follow(ctx)
		_ = server.Close()
	}()
	if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return <-followed
}

// open asks the desktop to show an address. Where there is none, the printed address has to do.
func open(address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	if cmd := exec.Command(name, args...); cmd.Start() == nil {
		go func() { _ = cmd.Wait() }()
	}
}

// watched reads all sheets among paths, and gives the folders of all files that they depend on.
func watched(paths []string) ([]watch.Sheet, []string, error) {
	return (&watching{paths: paths}).read(watch.Ask{})
}

// watching reads the sheets among paths again and again.
type watching struct {
	paths  []string
	disk   watch.Disk
	reader watch.Reader
}

// read gives the sheets as they are now, and the folders of all files that they depend on.
func (w *watching) read(ask watch.Ask) ([]watch.Sheet, []string, error) {
	all, err := newProjects()
	if err != nil {
		return nil, nil, err
	}
	for _, path := range ask.Changed {
		w.disk.Forget(path)
	}
	files, problems := findFiles(w.paths)
	if len(files) == 0 {
		for _, p := range problems {
			return nil, nil, fmt.Errorf("%s: %s", p.path, plainIO(p.err))
		}
	}
	var sheets []watch.Sheet
	var kept []string
	folders := map[string]bool{}
	for _, path := range files {
		folders[filepath.Dir(all.absolute(path))] = true
		p, name := all.of(path)
		key := all.shown(p, name)
		m, findings, known := w.reader.Last(key)
		if !known || !ask.May(all.absolute(path)) {
			trees := func(name string) (*grammar.File, error) { return w.disk.Tree(p.root, name) }
			file, err := trees(name)
			if err != nil || file.First(grammar.SheetBlock) == nil {
				continue // No sheet, or one that may be on its way; the next change tells.
			}
			m, findings = w.reader.Read(key, file, trees, func(folder string) []string { return w.disk.List(p.root, folder) })
		}
		for _, linked := range m.Linked {
			folders[filepath.Dir(filepath.Join(p.root, filepath.FromSlash(linked.Path)))] = true
		}
		kept = append(kept, key)
		sheets = append(sheets, watch.Sheet{Path: key, Root: p.root, Motion: m, Findings: findings})
	}
	if len(sheets) == 0 {
		return nil, nil, errors.New("there is no sheet among the files; name a sheet, or a folder with one")
	}
	w.reader.Keep(kept)
	return sheets, slices.Sorted(maps.Keys(folders)), nil
}
