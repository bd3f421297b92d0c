package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/lint"
)

// Text writes findings for people: where, which rule, the line with the place underlined, what is wrong, the places
// that belong to it, and the ways out.
type Text struct {
	Out   io.Writer
	Color bool
	Fixes bool // say which mends `--fix` applies

	some bool // something was written
}

// Mended writes what was mended in a file, a line each.
func (t *Text) Mended(done []Mended) {
	t.some = t.some || len(done) > 0
	for _, d := range done {
		t.print(t.paint(bold, fmt.Sprintf("%s:%d", Printable(d.Path), d.Line)), ": ", t.paint(green, "mended"), " ", t.paint(bold, d.Rule), ": ", Printable(d.Title), "\n")
	}
}

// Findings writes the findings of a file.
func (t *Text) Findings(found []Finding) {
	for i := range found {
		if t.some {
			t.print("\n")
		}
		t.some = true
		t.finding(&found[i])
	}
}

func (t *Text) finding(f *Finding) {
	style := levelStyle(f.Level)
	t.print(t.paint(bold, f.At.where()), ": ", t.paint(style, f.Level.String()), " ", t.paint(bold, f.Rule), "\n")
	margin := len(strconv.Itoa(f.At.line()))
	for i := range f.Related {
		margin = max(margin, len(strconv.Itoa(f.Related[i].At.line())))
	}
	t.excerpt("", f.At, margin, style)
	t.print("  ", Printable(f.Message), "\n")
	for i := range f.Related {
		r := &f.Related[i]
		t.print("    ", t.paint(bold, r.At.where()), ": ", Printable(r.Message), "\n")
		t.excerpt("    ", r.At, margin, faint)
	}
	for i := range f.Mends {
		m := &f.Mends[i]
		label := "mend"
		switch {
		case m.Held:
			label = "mend (left by --fix, since more would be reported then)"
		case m.Safe && t.Fixes:
			label = "mend (--fix)"
		}
		t.print("  ", t.paint(green, label), ": ", Printable(m.Title), m.preview(), "\n")
	}
}

// excerpt writes a line of the text with its number, and marks below it.
func (t *Text) excerpt(indent string, at Place, margin int, style string) {
	line, marks := at.excerpt()
	number := fmt.Sprintf("%*d", margin, at.line())
	gap := strings.Repeat(" ", margin)
	t.print(indent, "  ", t.paint(faint, number+" |"), strings.TrimRight(" "+line, " "), "\n")
	if marks != "" {
		t.print(indent, "  ", t.paint(faint, gap+" |"), " ", t.paintMarks(style, marks), "\n")
	}
}

// paintMarks leaves the blanks in front of the marks unpainted.
func (t *Text) paintMarks(style, marks string) string {
	lead := len(marks) - len(strings.TrimLeft(marks, " "))
	return marks[:lead] + t.paint(style, marks[lead:])
}

// preview shows a mend of one small edit, unless its title says it all.
func (m *Mend) preview() string {
	if len(m.Edits) != 1 {
		return ""
	}
	e := &m.Edits[0]
	was, now := e.cells()
	const small = 24
	if was == "" || now == "" || len(was) > small || len(now) > small || strings.Contains(e.Text, "\n") || strings.Contains(m.Title, "`"+now+"`") {
		return ""
	}
	return " (`" + Printable(was) + "` becomes `" + Printable(now) + "`)"
}

// cells are the whole cells that an edit changes, before and after it, since it may be about a few digits of one.
func (e *Edit) cells() (was, now string) {
	line, span := e.At.lineText()
	from := strings.LastIndexAny(line[:span.Start], " \t") + 1
	to := len(line)
	if n := strings.IndexAny(line[span.End:], " \t"); n >= 0 {
		to = span.End + n
	}
	if span.Len() == 0 || span.Len() < e.At.Span.Len() || strings.TrimSpace(e.Text) == "" {
		return "", ""
	}
	return oneSpaced(line[from:to]), oneSpaced(line[from:span.Start] + e.Text + line[span.End:to])
}

// oneSpaced is a text without the white space that lines up its columns.
func oneSpaced(text string) string { return strings.Join(strings.Fields(text), " ") }

// Summary writes the closing line.
func (t *Text) Summary(n Totals) {
	if t.some {
		t.print("\n")
	}
	t.print(n.sentence(), "\n")
	if n.Mendable > 0 && t.Fixes {
		t.print("`motet check --fix` applies the mends of ", strconv.Itoa(n.Mendable), " of them, as far as nothing gets worse\n")
	}
}

// Unchanged says that there is nothing to check.
func (t *Text) Unchanged(since string) {
	t.print("nothing to check: no sheet has changed since `", Printable(since), "`, nor what one rests on\n")
}

// sentence is what was checked and what was found.
func (n Totals) sentence() string {
	var what []string
	if n.Sheets > 0 {
		what = append(what, Count(n.Sheets, "sheet")+" with "+Count(n.Keys, "key"))
	}
	if n.Rigs > 0 {
		what = append(what, Count(n.Rigs, "rig"))
	}
	checked := "checked " + Count(n.Files, "file")
	if len(what) > 0 {
		checked += " (" + strings.Join(what, ", ") + ")"
	}
	var found []string
	for _, level := range []struct {
		n    int
		word string
	}{{n.Errors, "error"}, {n.Warnings, "warning"}, {n.Notes, "note"}} {
		if level.n > 0 {
			found = append(found, Count(level.n, level.word))
		}
	}
	switch {
	case len(found) == 0 && n.Accepted > 0:
		return checked + fmt.Sprintf(": nothing new to report (%d accepted)", n.Accepted)
	case len(found) == 0:
		return checked + ": nothing to report"
	case n.Accepted > 0:
		return checked + ": " + strings.Join(found, ", ") + fmt.Sprintf(" (and %d accepted)", n.Accepted)
	}
	return checked + ": " + strings.Join(found, ", ")
}

// Accepted writes, below the summary, what came of the accepted reports.
func (t *Text) Accepted(a *Accepted) {
	if a.Recorded {
		t.print("what was found is accepted from now on, by ", Printable(a.File), "\n")
	}
	if len(a.Gone) > 0 {
		t.print("accepted by ", Printable(a.File), ", and no longer found:\n")
	}
	for _, gone := range a.Gone {
		t.print("  ", Printable(gone), "\n")
	}
}

// The styles of a terminal that are used (ECMA-48, Select Graphic Rendition).
const (
	bold   = "1"
	faint  = "2"
	green  = "32"
	red    = "1;31"
	yellow = "1;33"
	cyan   = "1;36"
)

func levelStyle(level lint.Level) string {
	switch level {
	case lint.Error:
		return red
	case lint.Warning:
		return yellow
	}
	return cyan
}

func (t *Text) paint(style, text string) string {
	if !t.Color || text == "" {
		return text
	}
	return "\x1b[" + style + "m" + text + "\x1b[0m"
}

// print leaves errors to the writer, which keeps the first one.
func (t *Text) print(parts ...string) {
	for _, p := range parts {
		_, _ = io.WriteString(t.Out, p)
	}
}
