package main

import (
	"time"

	"github.com/motet-sheet/motet/cmd/motet/report"
)

// progress tells on a terminal how far long work has come.
type progress struct {
	console *console
	total   int
	next    time.Time // no sooner than then
	shown   bool
}

// A line of progress comes only with work that lasts, and then a few times a second.
const (
	progressAfter = 400 * time.Millisecond
	progressEvery = 100 * time.Millisecond
)

func newProgress(c *console, total int) *progress {
	return &progress{console: c, total: total, next: time.Now().Add(progressAfter)}
}

// done says that so many files are done.
func (p *progress) done(n int) {
	if !p.console.progress || time.Now().Before(p.next) {
		return
	}
	p.next = time.Now().Add(progressEvery)
	p.shown = true
	p.console.errorf("\r\x1b[K%d of %s", n, report.Count(p.total, "file"))
}

// clear takes the line of progress away, so that what is printed next stands alone.
func (p *progress) clear() {
	if p.shown {
		p.shown = false
		p.console.errorf("\r\x1b[K")
	}
}
