package grammar

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Edit replaces a stretch of a text, counted in bytes of the text as it was before any edit. A span without length is
// an insertion.
type Edit struct {
	Span Span
	Text string
}

// Apply makes edits in a text, whatever order they come in; insertions at one place keep their order and stand before
// what replaces the text behind that place. It fails, and changes nothing, when an edit reaches outside the text or when
// two edits overlap.
func Apply(text string, edits []Edit) (string, error) {
	sorted := slices.Clone(edits)
	slices.SortStableFunc(sorted, func(a, b Edit) int {
		if a.Span.Start != b.Span.Start {
			return a.Span.Start - b.Span.Start
		}
		return min(a.Span.Len(), 1) - min(b.Span.Len(), 1)
	})
	var out strings.Builder
	at := 0
	for _, e := range sorted {
		switch s := e.Span; {
		case s.Start < 0 || s.End < s.Start || len(text) < s.End:
			return "", fmt.Errorf("an edit of bytes %d to %d does not lie in a text of %d bytes", s.Start, s.End, len(text))
		case s.Start < at:
			return "", fmt.Errorf("an edit of bytes %d to %d overlaps one that ends at byte %d; make them one after the other", s.Start, s.End, at)
		}
		out.WriteString(text[at:e.Span.Start])
		out.WriteString(e.Text)
		at = e.Span.End
	}
	out.WriteString(text[at:])
	return out.String(), nil
}

// narrow leaves out of an edit what it replaces by the same at its two ends, without cutting a character or a line end
// in two. The answer is false where nothing is left.
func narrow(text string, e Edit) (Edit, bool) {
	old := text[e.Span.Start:e.Span.End]
	if old == e.Text {
		return Edit{}, false
	}
	front := 0
	for front < min(len(old), len(e.Text)) && old[front] == e.Text[front] {
		front++
	}
	for front > 0 && (cuts(old, front) || cuts(e.Text, front)) {
		front--
	}
	back := 0
	for back < min(len(old), len(e.Text))-front && old[len(old)-1-back] == e.Text[len(e.Text)-1-back] {
		back++
	}
	for back > 0 && (cuts(old, len(old)-back) || cuts(e.Text, len(e.Text)-back)) {
		back--
	}
	return Edit{Span{e.Span.Start + front, e.Span.End - back}, e.Text[front : len(e.Text)-back]}, true
}

// cuts tells whether a character or a line end reaches across byte offset at.
func cuts(text string, at int) bool {
	if at <= 0 || len(text) <= at {
		return false
	}
	return !utf8.RuneStart(text[at]) || text[at] == '\n' && text[at-1] == '\r'
}
