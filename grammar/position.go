package grammar

import (
	"unicode/utf16"
	"unicode/utf8"
)

// ColumnUnit is what a column counts: the bytes of UTF-8, the 16-bit units of UTF-16, or characters (UTF-32).
type ColumnUnit uint8

// The units of columns.
const (
	UTF8 ColumnUnit = iota
	UTF16
	UTF32
)

// size is how many units a character takes.
func (u ColumnUnit) size(r rune, bytes int) int {
	switch u {
	case UTF8:
		return bytes
	case UTF16:
		return max(utf16.RuneLen(r), 1) // a byte that is no UTF-8 counts as one replacement character
	}
	return 1
}

// Position gives the line and column of byte offset at, both counted from 0. A column inside a character, or in a line
// end, is that of the character's start, or of the line end's. Offsets outside the text give its ends; a byte order
// mark is before the first column.
func (f *File) Position(at int, unit ColumnUnit) (line, column int) {
	at = min(max(at, f.LineStart(0)), len(f.Text))
	line = f.LineAt(at)
	text := f.lineText(line)
	stop := min(at-f.LineStart(line), len(text))
	for i := 0; i < stop; {
		r, bytes := utf8.DecodeRuneInString(text[i:])
		if i += bytes; i > stop {
			break
		}
		column += unit.size(r, bytes)
	}
	return line, column
}

// Offset gives the byte offset of a line and column, both counted from 0. A column inside a character gives the
// character's start, one past the end of its line the end of the line's content, and a line past the last the end of the
// text; what is less than 0 counts as 0.
func (f *File) Offset(line, column int, unit ColumnUnit) int {
	if line >= f.LineCount() {
		return len(f.Text)
	}
	line = max(line, 0)
	text, at := f.lineText(line), 0
	for at < len(text) {
		r, bytes := utf8.DecodeRuneInString(text[at:])
		size := unit.size(r, bytes)
		if column < size {
			break
		}
		column -= size
		at += bytes
	}
	return f.LineStart(line) + at
}

// lineText is a line without its end.
func (f *File) lineText(line int) string {
	return trimLineEnd(f.Text[f.LineStart(line):f.LineStart(line+1)])
}
