package main

import (
	"context"
	"errors"
	"os"
	"os/signal"
	"syscall"

	"github.com/motet-sheet/motet/server"
)

const serveHelp = `
motet serve

Speaks the language server protocol on standard input and output, for an editor
that starts it. What goes wrong is told on standard error. It ends when the
editor says so, when its input ends, and when the editor's process is gone.

  --stdio       taken for editors that always say it; there is no other way
  --log FILE    what goes wrong is added to FILE, and not told on standard error
  --trace       each message is told there too, with the time that it took

exit codes:
  0  the editor said goodbye in the order that the protocol asks for
  1  the editor left without
  2  the conversation failed
`

type serveFlags struct {
	Stdio bool
	Log   string
	Trace bool
}

func (f *serveFlags) run(c *console) int {
	if os.Getenv("GOGC") == "" {
		keepHeadroom()
	}
	options := server.Options{Name: "motet", Version: version(), Log: c.err, Trace: f.Trace, ExportClip: exportClip}
	if f.Log != "" {
		file, err := os.OpenFile(f.Log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
		if err != nil {
			c.complain("the log can't be written: %v", err)
			return exitFailed
		}
		defer func() { _ = file.Close() }()
		options.Log = file
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	err := server.Serve(ctx, c.in, c.raw, options)
	switch {
	case err == nil:
		return exitClean
	case errors.Is(err, server.ErrNoShutdown), errors.Is(err, server.ErrParentGone):
		c.complain("%v", err)
		return exitFound
	}
	c.complain("%v", err)
	return exitFailed
}
