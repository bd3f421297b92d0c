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
	return fmt.Sprintf("%s:%d:%d", Printable(p.Path), p.line(), p.column(p.Span.Start))
}

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
}

// excerpt is the place's line as a terminal can show it, and the marks below what is meant. Where nothing stands, one
// mark shows where something is missing.
func (p Place) excerpt() (line, marks string) {
	text, span := p.lineText()
	cells, first, last := cellsOf(text, span)
	from, to := window(cells, first)
	var shown strings.Builder
	indent := width(cells[from:first])
	if from > 0 {
		shown.WriteString("…")
		indent++
	}
	for _, c := range cells[from:to] {
		shown.WriteString(c.text)
	}
	if to < len(cells) {
		shown.WriteString("…")
	}
	marked := max(width(cells[first:max(first, min(last, to))]), 1)
	return shown.String(), strings.Repeat(" ", indent) + strings.Repeat("^", marked)
}

// cellsOf cuts a line into what a reader sees as characters; the span is that of cells first up to last.
func cellsOf(text string, span grammar.Span) (cells []cell, first, last int) {
	column, state := 0, -1
	for at := 0; at < len(text); {
		cluster, _, wide, next := uniseg.FirstGraphemeClusterInString(text[at:], state)
		state = next
		shown := Printable(cluster)
		if shown != cluster {
			wide = uniseg.StringWidth(shown)
		}
		if cluster == "\t" {
			wide = tabStop - column%tabStop
			shown = strings.Repeat(" ", wide)
		}
		at += len(cluster)
		if at <= span.Start {
			first = len(cells) + 1
		}
		if at-len(cluster) < span.End {
			last = len(cells) + 1
		}
		cells = append(cells, cell{shown, wide})
		column += wide
	}
	return cells, first, last
}

func width(cells []cell) int {
	sum := 0
	for _, c := range cells {
		sum += c.width
	}
	return sum
}

// window gives the cells that are shown of a line: all, or of a long one those round cell first.
func window(cells []cell, first int) (from, to int) {
	if width(cells) <= widest {
		return 0, len(cells)
	}
	from = first
	for room := widest / 3; from > 0 && room > 0; {
		from--
		room -= cells[from].width
	}
	room := widest
	for to = from; to < len(cells) && room > 0; to++ {
		room -= cells[to].width
	}
	for from > 0 && room > 0 {
		from--
		room -= cells[from].width
	}
	return from, to
}

// Printable replaces what a terminal would act on instead of showing it, so that no file can move the cursor, change
// colours or turn the direction of what it prints.
func Printable(text string) string {
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
