package grammar

import (
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Byte offsets and columns of characters that take one to four bytes; the sizes are those of the Unicode Standard's
// encoding forms (section 3.9): é 2 bytes and 1 unit, 😀 4 bytes and 2 units, a combining accent 2 bytes and 1 unit.
func TestPositions(t *testing.T) {
	const text = "\ufeff# é\r\nx😀e\u0301 y\n\nlast"
	f := Parse("x.motet", text)
	for name, c := range map[string]struct {
		before             string // the text up to the offset
		line               int
		utf8, utf16, utf32 int
	}{
		"before the mark":        {"", 0, 0, 0, 0},
		"behind the mark":        {"\ufeff", 0, 0, 0, 0},
		"before é":               {"\ufeff# ", 0, 2, 2, 2},
		"behind é":               {"\ufeff# é", 0, 4, 3, 3},
		"inside a line end":      {"\ufeff# é\r", 0, 4, 3, 3},
		"a line's start":         {"\ufeff# é\r\n", 1, 0, 0, 0},
		"behind 😀":               {"\ufeff# é\r\nx😀", 1, 5, 3, 2},
		"before a combined mark": {"\ufeff# é\r\nx😀e", 1, 6, 4, 3},
		"behind a combined mark": {"\ufeff# é\r\nx😀e\u0301", 1, 8, 5, 4},
		"a line's end":           {"\ufeff# é\r\nx😀e\u0301 y", 1, 10, 7, 6},
		"an empty line":          {"\ufeff# é\r\nx😀e\u0301 y\n", 2, 0, 0, 0},
		"the end":                {text, 3, 4, 4, 4},
	} {
		t.Run(name, func(t *testing.T) {
			for unit, want := range map[ColumnUnit]int{UTF8: c.utf8, UTF16: c.utf16, UTF32: c.utf32} {
				line, column := f.Position(len(c.before), unit)
				assert.Equal(t, [2]int{c.line, want}, [2]int{line, column}, "unit %d", unit)
				line, column = f.Position(f.Offset(c.line, want, unit), unit)
				assert.Equal(t, [2]int{c.line, want}, [2]int{line, column}, "there and back, unit %d", unit)
			}
		})
	}
	smile := len("\ufeff# é\r\nx")
	line, column := f.Position(smile+2, UTF16)
	assert.Equal(t, [2]int{1, 1}, [2]int{line, column}, "inside the bytes of 😀")
	assert.Equal(t, smile, f.Offset(1, 2, UTF16), "between the halves of 😀")
	assert.Equal(t, smile, f.Offset(1, 3, UTF8), "inside the bytes of 😀")
	assert.Equal(t, len("\ufeff# é"), f.Offset(0, 99, UTF16), "past a line's end")
	assert.Equal(t, len(text), f.Offset(9, 0, UTF16), "past the last line")
	assert.Equal(t, len("\ufeff"), f.Offset(-1, -1, UTF16), "before the text")
	assert.Equal(t, 0, Parse("x.motet", "").Offset(0, 5, UTF8), "an empty text")
	line, _ = f.Position(len(text)+9, UTF8)
	assert.Equal(t, 3, line)
}

// The columns of every character's start agree with the standard library's encoders.
func TestPositionsAgreeWithTheEncoders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("ab é😀手\u0301\n\r#"))).Draw(t, "text")
		f := Parse("x.motet", text)
		for at, r := range text {
			line, _ := f.Position(at, UTF8)
			before := text[f.LineStart(line):at]
			if !utf8.ValidString(before) || r == '\n' {
				continue
			}
			for unit, want := range map[ColumnUnit]int{UTF8: len(before), UTF16: len(utf16.Encode([]rune(before))), UTF32: utf8.RuneCountInString(before)} {
				_, column := f.Position(at, unit)
				if at-f.LineStart(line) <= len(f.lineText(line)) {
					require.Equal(t, want, column, "byte %d of %q", at, text)
					require.Equal(t, at, f.Offset(line, column, unit), "byte %d of %q", at, text)
				}
			}
		}
	})
}
