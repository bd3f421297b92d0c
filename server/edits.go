package server

import (
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// textEdits turns edits of a document into the client's.
func (m textMap) textEdits(all []grammar.Edit) []protocol.TextEdit {
	out := make([]protocol.TextEdit, len(all))
	for i, e := range all {
		out[i] = protocol.TextEdit{Range: m.rangeOf(e.Span.Start, e.Span.End), NewText: e.Text}
	}
	return out
}

// lookAhead is how many lines are searched for the next line that two texts share. Mends move a line by a few lines at
// most; where more lines differ in a row, they are replaced one by one.
const lookAhead = 64

// lineEdits gives edits that turn the old text into the new one, in rising order and apart from each other. Lines that
// both texts share stay, and of a line that changed only the part that changed is replaced, so that cursors, folds and
// marks of an editor stay where they are. The work is in proportion to the lines, and to lookAhead squared for each
// stretch that differs.
func lineEdits(before, after string) []grammar.Edit {
	a, b := splitLines(before), splitLines(after)
	var out []grammar.Edit
	for i, j, at := 0, 0, 0; i < len(a) || j < len(b); {
		if i < len(a) && j < len(b) && a[i] == b[j] {
			at += len(a[i])
			i, j = i+1, j+1
			continue
		}
		di, dj := nextShared(a[i:], b[j:])
		old, text := a[i:i+di], b[j:j+dj]
		for 0 < len(old) && 0 < len(text) {
			out = appendEdit(out, insideLine(at, old[0], text[0]))
			at += len(old[0])
			old, text = old[1:], text[1:]
		}
		rest := strings.Join(old, "")
		out = appendEdit(out, replacing(at, at+len(rest), strings.Join(text, "")))
		at += len(rest)
		i, j = i+di, j+dj
	}
	return out
}

// appendEdit joins an edit to the one before it where both touch, since an editor may not take two edits at one place.
func appendEdit(out []grammar.Edit, e grammar.Edit) []grammar.Edit {
	if e.Span.Len() == 0 && e.Text == "" {
		return out
	}
	if last := len(out) - 1; 0 <= last && out[last].Span.End == e.Span.Start {
		out[last].Span.End = e.Span.End
		out[last].Text += e.Text
		return out
	}
	return append(out, e)
}

func replacing(start, end int, text string) grammar.Edit {
	return grammar.Edit{Span: grammar.Span{Start: start, End: end}, Text: text}
}

// insideLine is the edit that turns one line into another, without what both begin and end with.
func insideLine(at int, old, text string) grammar.Edit {
	head := 0
	for head < len(old) && head < len(text) && old[head] == text[head] {
		head++
	}
	for 0 < head && (insideCharacter(old, head) || insideCharacter(text, head)) {
		head--
	}
	tail := 0
	for tail < len(old)-head && tail < len(text)-head && old[len(old)-1-tail] == text[len(text)-1-tail] {
		tail++
	}
	for 0 < tail && (insideCharacter(old, len(old)-tail) || insideCharacter(text, len(text)-tail)) {
		tail--
	}
	return replacing(at+head, at+len(old)-tail, text[head:len(text)-tail])
}

// insideCharacter tells whether an offset lies inside a UTF-8 sequence, or between \r and \n, where no position points.
func insideCharacter(text string, at int) bool {
	if at <= 0 || len(text) <= at {
		return false
	}
	return !utf8.RuneStart(text[at]) || text[at-1] == '\r' && text[at] == '\n'
}

// nextShared is how far each text goes on until both have a line in common, the nearest such place being taken.
func nextShared(a, b []string) (di, dj int) {
	a, b = a[:min(len(a), lookAhead)], b[:min(len(b), lookAhead)]
	for sum := 1; sum < len(a)+len(b); sum++ {
		for i := max(0, sum-len(b)+1); i <= sum && i < len(a); i++ {
			if a[i] == b[sum-i] {
				return i, sum - i
			}
		}
	}
	return len(a), len(b)
}

// splitLines cuts a text behind each line end.
func splitLines(text string) []string {
	lines := strings.SplitAfter(text, "\n")
	if lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	return lines
}
