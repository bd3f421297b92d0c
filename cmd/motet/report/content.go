package report

import (
	"fmt"
	"hash/fnv"

	"github.com/motet-sheet/motet/grammar"
)

// Content is what a finding is about, whatever line it stands on: two findings with one content in one file are taken
// for the same.
type Content struct {
	Rule string
	In   string // the block, by the line that opens it, and in a table the column
	Line string // the text of the line, its white space made one and its comment left out
}

// Content tells what the finding is about.
func (f *Finding) Content() Content {
	c := Content{Rule: f.Rule}
	b := f.ref.Block
	if b == nil || f.ref.Line >= len(b.Lines) {
		return c
	}
	line := &b.Lines[f.ref.Line]
	c.Line = oneSpaced(withoutComment(line))
	if b.Open < len(b.Lines) {
		c.In = oneSpaced(withoutComment(&b.Lines[b.Open]))
	}
	if column := columnAt(b, line, f.ref.Span); column != "" {
		c.In += " / " + column
	}
	return c
}

// Print is a short print of the content, the same on every machine.
func (f *Finding) Print() string {
	c := f.Content()
	hash := fnv.New64a()
	_, _ = hash.Write([]byte(c.Rule + "\x00" + c.In + "\x00" + c.Line))
	return fmt.Sprintf("%016x", hash.Sum64())
}

func withoutComment(l *grammar.Line) string {
	if l.Kind == grammar.CommentLine {
		return l.Text
	}
	content := l.Content()
	return l.Text[content.Start:content.End]
}

// columnAt is the name of the column in which a cell of a table stands.
func columnAt(b *grammar.Block, l *grammar.Line, span grammar.Span) string {
	if l.Kind != grammar.RowLine || b.Header < 0 || b.Header >= len(b.Lines) {
		return ""
	}
	header := &b.Lines[b.Header]
	for i := range l.Cells {
		if l.Cells[i].Span.Start <= span.Start && span.Start < l.Cells[i].Span.End && i < len(header.Cells) {
			return header.CellText(i)
		}
	}
	return ""
}
