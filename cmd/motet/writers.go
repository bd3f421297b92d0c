package main

import (
	"github.com/motet-sheet/motet/cmd/motet/report"
)

// findingsWriter is one of the forms of output.
type findingsWriter interface {
	// mended takes what --fix did to a file.
	mended(done []report.Mended)
	// checked takes one file after the other.
	checked(r result)
	// accepted takes what came of the accepted reports, just before close.
	accepted(a report.Accepted)
	close(problems []problem, n report.Totals)
}

func (f *checkFlags) writer(c *console) findingsWriter {
	var stat *report.Stat
	if f.Stat {
		stat = &report.Stat{}
	}
	switch f.Format {
	case "json":
		return &jsonWriter{report.JSON{Out: c.out, Stat: stat}}
	case "sarif":
		return &sarifWriter{report.SARIF{Out: c.out, Version: version()}}
	case "junit":
		return &junitWriter{report.JUnit{Out: c.out, Strict: f.Strict}}
	}
	return &textWriter{to: report.Text{Out: c.out, Color: c.color, Fixes: true}, stat: stat, since: f.Since}
}

type textWriter struct {
	to    report.Text
	stat  *report.Stat     // nil where it is not asked for
	known *report.Accepted // the same
	since string           // the revision; empty where none is asked for
}

func (w *textWriter) mended(done []report.Mended) { w.to.Mended(done) }

func (w *textWriter) checked(r result) {
	w.to.Findings(r.found)
	if w.stat != nil {
		w.stat.Add(r.path, r.motion, r.found)
	}
}

// close leaves out a summary of nothing: why there is nothing is told on standard error, but for --since, where that is
// all there is to say.
func (w *textWriter) close(problems []problem, n report.Totals) {
	if n.Files == 0 {
		if w.since != "" && len(problems) == 0 {
			w.to.Unchanged(w.since)
		}
		return
	}
	w.to.Summary(n)
	if w.known != nil {
		w.to.Accepted(w.known)
	}
	if w.stat != nil {
		w.to.Stat(w.stat)
	}
}

func (w *textWriter) accepted(a report.Accepted) { w.known = &a }

type jsonWriter struct{ to report.JSON }

func (w *jsonWriter) mended(done []report.Mended) { w.to.Mended(done) }

func (w *jsonWriter) checked(r result) {
	w.to.Findings(r.found)
	if w.to.Stat != nil {
		w.to.Stat.Add(r.path, r.motion, r.found)
	}
}

func (w *jsonWriter) accepted(a report.Accepted) { w.to.Accepted = &a }

func (w *jsonWriter) close(problems []problem, n report.Totals) { w.to.Close(failures(problems), n) }

// sarifWriter leaves out what was mended: a log holds what there is.
type sarifWriter struct{ to report.SARIF }

func (w *sarifWriter) mended([]report.Mended) {}

func (w *sarifWriter) checked(r result) { w.to.Findings(r.found) }

func (w *sarifWriter) accepted(report.Accepted) {}

func (w *sarifWriter) close(problems []problem, _ report.Totals) { w.to.Close(failures(problems)) }

// junitWriter leaves out what was mended: a log holds what there is.
type junitWriter struct{ to report.JUnit }

func (w *junitWriter) mended([]report.Mended) {}

func (w *junitWriter) checked(r result) { w.to.Checked(r.path, r.found) }

func (w *junitWriter) accepted(report.Accepted) {}

func (w *junitWriter) close(problems []problem, _ report.Totals) { w.to.Close(failures(problems)) }

func failures(problems []problem) []report.Failure {
	out := make([]report.Failure, len(problems))
	for i, p := range problems {
		out[i] = report.Failure{Path: p.path, Message: plainIO(p.err)}
	}
	return out
}
