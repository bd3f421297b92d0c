package report

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/rivo/uniseg"

	"github.com/motet-sheet/motet/grammar"
)

// widest is the most terminal cells that are shown of a line; longer ones are cut round the place that is meant.
const widest = 120

// tabStop is how far apart a terminal's tab stops are.
const tabStop = 8

// line is the number of the place's line, counted from 1.
func (p Place) line() int { return p.File.LineAt(p.Span.Start) + 1 }

// column counts the characters (Unicode code points) up to an offset in its line, from 1.
func (p Place) column(offset int) int {
	start := p.File.LineStart(p.File.LineAt(offset))
	return utf8.RuneCountInString(p.File.Text[start:max(offset, start)]) + 1
}

// where is the place as editors and terminals take it: FILE:LINE:COLUMN.
func (p Place) where() string {
	return fmt.Sprintf("%s:%d:%d", printable(p.Path), p.line(), p.column(p.Span.Start))
}

// text is what stands there.
func (p Place) text() string { return p.File.Text[p.Span.Start:p.Span.End] }

// lineText is the place's line without its end, and the place as a span of it.
func (p Place) lineText() (string, grammar.Span) {
	at := p.File.LineAt(p.Span.Start)
	start := p.File.LineStart(at)
	line := strings.TrimRight(p.File.Text[start:p.File.LineStart(at+1)], "\r\n")
	from := min(max(p.Span.Start-start, 0), len(line))
	return line, grammar.Span{Start: from, End: min(max(p.Span.End-start, from), len(line))}
}

// cell is one character as a reader sees it, with the cells that it takes on a terminal.
type cell struct {
	text  string
	width int
	mark  bool
}

// excerpt is the place's line as a terminal can show it, and the marks below what is meant.
func (p Place) excerpt() (line, marks string) {
	text, span := p.lineText()
	cells, first, last := cellsOf(text, span)
	cells, cutFront, cutBack := window(cells, first, last)
	var shown, below strings.Builder
	if cutFront {
		shown.WriteString("…")
		below.WriteString(" ")
	}
	for _, c := range cells {
		shown.WriteString(c.text)
		mark := " "
		if c.mark {
			mark = "^"
		}
		below.WriteString(strings.Repeat(mark, c.width))
	}
	if cutBack {
		shown.WriteString("…")
	}
	if span.Len() == 0 {
		// Something is missing here: one mark where it would stand.
		at := 0
		for _, c := range cells[:min(first, len(cells))] {
			at += c.width
		}
		if cutFront {
			at++
		}
		return shown.String(), strings.Repeat(" ", at) + "^"
	}
	return shown.String(), strings.TrimRight(below.String(), " ")
}

// cellsOf cuts a line into what a reader sees as characters; the span is that of cells first up to last.
func cellsOf(text string, span grammar.Span) (cells []cell, first, last int) {
	first, last = -1, -1
	column, state := 0, -1
	for at := 0; at < len(text); {
		var cluster string
		var width int
		cluster, _, width, state = uniseg.FirstGraphemeClusterInString(text[at:], state)
		shown := printable(cluster)
		if shown != cluster {
			width = uniseg.StringWidth(shown)
		}
		if cluster == "\t" {
			width = tabStop - column%tabStop
			shown = strings.Repeat(" ", width)
		}
		end := at + len(cluster)
		mark := at < span.End && span.Start < end
		if first < 0 && (mark || at >= span.Start) {
			first = len(cells)
		}
		if mark {
			last = len(cells) + 1
		}
		cells = append(cells, cell{shown, width, mark})
		column += width
		at = end
	}
	if first < 0 {
		first = len(cells)
	}
	return cells, first, max(last, first)
}

// window leaves of a long line what stands round cells first up to last. Of the line's front as much is kept as fits.
func window(cells []cell, first, last int) (kept []cell, cutFront, cutBack bool) {
	total := 0
	for _, c := range cells {
		total += c.width
	}
	if total <= widest {
		return cells, false, false
	}
	from, room := first, widest/3
	for from > 0 && room > 0 {
		from--
		room -= cells[from].width
	}
	to, room := from, widest
	for to < len(cells) && room > 0 {
		room -= cells[to].width
		to++
	}
	if to == len(cells) {
		for from > 0 && room > 0 {
			from--
			room -= cells[from].width
		}
	}
	kept = cells[from:to]
	return kept, from > 0, to < len(cells)
}

// printable replaces what a terminal would act on instead of showing it, so that no file can move the cursor, change
// colours or turn the direction of what it prints.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\u200d' || unicode.IsPrint(r):
			return r
		case r < ' ':
			return r + '\u2400' // Unicode's pictures of control characters
		case r == 0x7f:
			return '\u2421'
		case unicode.IsSpace(r):
			return ' '
		}
		return utf8.RuneError
	}, text)
}
