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

  --stdio    taken for editors that always say it; there is no other way

exit codes:
  0  the editor said goodbye in the order that the protocol asks for
  1  the editor left without
  2  the conversation failed
`

type serveFlags struct {
	Stdio bool
}

func (*serveFlags) run(c *console) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	err := server.Serve(ctx, c.in, c.raw, server.Options{Name: "motet", Version: version(), Log: c.err})
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
