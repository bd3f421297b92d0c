package main

import (
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"
)

// unfinished are the files and folders that are being written beside those whose place they will take. When motet is told
// to stop, they go before it does.
var unfinished temporaries

// temporaries knows what has to go when the program is stopped. It listens for that only while there is something.
type temporaries struct {
	mu    sync.Mutex
	paths map[string]bool
	end   func() // stops listening
}

// begin has a file or folder made, which create names, and which is settled when it is finished or given up.
func (t *temporaries) begin(create func() (path string, err error)) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.end == nil {
		t.end = t.listen()
	}
	path, err := create()
	if err == nil {
		if t.paths == nil {
			t.paths = map[string]bool{}
		}
		t.paths[path] = true
	}
	t.rest()
	return err
}

// rest stops listening when nothing is left to be removed.
func (t *temporaries) rest() {
	if len(t.paths) == 0 && t.end != nil {
		t.end()
		t.end = nil
	}
}

// settle puts what is written into its place by move, which is not stopped between its steps, and then removes what is left
// under the temporary name. A nil move puts it nowhere.
func (t *temporaries) settle(path string, move func() error) (err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if move != nil {
		err = move()
	}
	_ = os.RemoveAll(path)
	delete(t.paths, path)
	t.rest()
	return err
}

// listen waits for a signal that ends programs, removes what is unfinished, and lets the signal end this one. What the
// program was started to ignore, as nohup does, it goes on to ignore.
func (t *temporaries) listen() (end func()) {
	told, done := make(chan os.Signal, 1), make(chan struct{})
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGPIPE} {
		if !signal.Ignored(s) {
			signal.Notify(told, s)
		}
	}
	go func() {
		var s os.Signal
		select {
		case s = <-told:
		case <-done:
			select {
			case s = <-told: // it came at the last moment
			default:
				return
			}
		}
		t.removeAll() // and keep the lock, so that nothing else is begun or complained of
		dieOf(s)
	}()
	return func() {
		signal.Stop(told)
		close(done)
	}
}

// removeAll removes what is unfinished, for good: it never gives the lock back.
func (t *temporaries) removeAll() {
	t.mu.Lock()
	for path := range t.paths {
		// Somebody may still be putting files into a folder, which keeps it from being removed; without it, none can be.
		for range 100 {
			if os.RemoveAll(path) == nil {
				break
			}
			time.Sleep(time.Millisecond)
		}
	}
}

// dieOf ends the program as a signal does, so that whoever has started it can tell.
func dieOf(s os.Signal) {
	signal.Reset(s)
	if self, err := os.FindProcess(os.Getpid()); err == nil && s != syscall.SIGPIPE && self.Signal(s) == nil {
		time.Sleep(time.Second) // it comes before that
	}
	code := exitFailed
	if number, ok := s.(syscall.Signal); ok {
		code = 128 + int(number)
	}
	os.Exit(code)
}
