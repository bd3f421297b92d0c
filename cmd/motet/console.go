package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"

	"golang.org/x/term"

	"github.com/motet-sheet/motet/cmd/motet/report"
)

// console is where a command reads, prints and complains.
type console struct {
	in       io.Reader
	out      *bufio.Writer
	raw      io.Writer // what out writes to, for a command that keeps a conversation
	err      io.Writer
	color    bool // on out
	progress bool // err is a terminal, so it may show what changes
}

func newConsole(stdin io.Reader, stdout, stderr io.Writer) *console {
	plain := os.Getenv("NO_COLOR") != "" || os.Getenv("TERM") == "dumb"
	return &console{
		in:       stdin,
		out:      bufio.NewWriterSize(stdout, 8<<10),
		raw:      stdout,
		err:      stderr,
		color:    !plain && isTerminal(stdout),
		progress: os.Getenv("TERM") != "dumb" && isTerminal(stderr),
	}
}

// isTerminal tells whether a stream, to be read or written, is a terminal.
func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// print writes to standard output; what goes wrong shows in close.
func (c *console) print(text string) { _, _ = c.out.WriteString(text) }

// errorf writes to standard error.
func (c *console) errorf(format string, args ...any) { _, _ = fmt.Fprintf(c.err, format, args...) }

// complain says on standard error why something was not done, in one line, whatever a file is called.
func (c *console) complain(format string, args ...any) {
	_ = c.out.Flush()
	c.errorf("motet: %s\n", report.Printable(fmt.Sprintf(format, args...)))
}

// lost tells whether something could not be written to standard output, which close will complain of.
func (c *console) lost() bool {
	_, err := c.out.Write(nil)
	return err != nil
}

// close writes out what is left. A reader that has seen enough and closed the pipe is no fault; a full disk is one.
func (c *console) close() int {
	err := c.out.Flush()
	switch {
	case err == nil || errors.Is(err, io.ErrClosedPipe):
		return exitClean
	case errors.Is(err, syscall.EPIPE):
		return exitUnheard
	}
	c.errorf("motet: the output can't be written: %s\n", plainIO(err))
	return exitFailed
}
