package server

import (
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// card is what a hover says, before it is put into the client's markup.
type card struct {
	span  grammar.Span // of the line that it is about
	title string       // a name or a number of the sheet, as it is written
	tells string       // what the title is, in a few words
	curve string       // a sparkline; empty for none
	shows []picture    // drawn only for who asked for pictures
	lines []string
}

func (c *card) add(line string) {
	if line != "" {
		c.lines = append(c.lines, line)
	}
}

// plain is the card without any markup.
func (c *card) plain() string {
	var out []string
	out = append(out, strings.TrimSpace(c.title+"  "+c.tells))
	if c.curve != "" {
		out = append(out, c.curve)
	}
	return strings.Join(append(out, c.lines...), "\n")
}

// markdown is the card as CommonMark. The sparkline is code, so that its bars keep their width.
func (c *card) markdown() string { return c.withPictures(nil) }

// withPictures is the card as CommonMark with pictures in it, as [drawings] gives them; a curve that is drawn needs no
// sparkline.
func (c *card) withPictures(drawings []string) string {
	var out strings.Builder
	out.WriteString(strings.TrimSpace(code(c.title) + " " + escaped(c.tells)))
	if 0 < len(drawings) {
		out.WriteString("\n\n" + strings.Join(drawings, "\n\n"))
	} else if c.curve != "" {
		out.WriteString("\n\n```text\n" + c.curve + "\n```")
	}
	for i, line := range c.lines {
		if i == 0 {
			out.WriteString("\n\n")
		} else {
			out.WriteString("  \n") // two spaces: a line break inside the paragraph
		}
		out.WriteString(escaped(line))
	}
	return out.String()
}

// code is an inline code span; names and numbers of a sheet hold no backtick.
func code(text string) string {
	text = strings.ReplaceAll(text, "`", "'")
	if text == "" {
		return ""
	}
	return "`" + text + "`"
}

// escaped takes the meaning from characters that CommonMark reads as markup (CommonMark 0.31, backslash escapes).
// Backticks stay: cards use them for names.
func escaped(text string) string {
	var out strings.Builder
	inCode := false
	for _, r := range text {
		if r == '`' {
			inCode = !inCode
		} else if !inCode && strings.ContainsRune(`\*_{}[]<>()#+!|~&`, r) {
			out.WriteByte('\\')
		}
		out.WriteRune(r)
	}
	return out.String()
}
