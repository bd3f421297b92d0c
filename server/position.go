package server

import (
	"sort"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"go.lsp.dev/protocol"
)

// units is what a client counts when it numbers the characters of a line. The protocol packages, the documents and the
// packages below all speak bytes; only this file knows the other two.
type units string

const (
	utf8Units  = units(protocol.PositionEncodingKindUTF8)
	utf16Units = units(protocol.PositionEncodingKindUTF16)
	utf32Units = units(protocol.PositionEncodingKindUTF32)
)

// chooseUnits takes the first of the client's encodings that the server knows, and UTF-16, which the protocol makes
// the default, where the client names none.
func chooseUnits(offered []protocol.PositionEncodingKind) units {
	for _, o := range offered {
		switch u := units(o); u {
		case utf8Units, utf16Units, utf32Units:
			return u
		}
	}
	return utf16Units
}

// textMap translates between byte offsets of one text and the client's positions in it. It never changes, so that
// many requests may share it.
type textMap struct {
	text   string
	starts []int // the offset at which each line begins; the first is 0
	units  units
}

// newTextMap finds the lines of text. A line ends at \n, \r\n or a lone \r, as the protocol says, which is not quite
// what the grammar says: there a lone \r is a character. So lines are counted twice, and each count serves its own side.
func newTextMap(text string, u units) textMap {
	starts := make([]int, 1, 2+len(text)/24)
	for at := 0; ; {
		next := strings.IndexByte(text[at:], '\n')
		line := text[at:]
		if 0 <= next {
			line = text[at : at+next]
		}
		for from := 0; ; {
			cr := strings.IndexByte(line[from:], '\r')
			if cr < 0 || 0 <= next && from+cr == len(line)-1 {
				break
			}
			from += cr + 1
			starts = append(starts, at+from)
		}
		if next < 0 {
			return textMap{text, starts, u}
		}
		at += next + 1
		starts = append(starts, at)
	}
}

// offsetOf gives the byte offset of a position. A line past the last gives the end of the text, a character past the
// end of its line the end of that line's content, and a character inside a surrogate pair or inside a UTF-8 sequence
// the start of the whole character.
func (m textMap) offsetOf(p protocol.Position) int {
	offset, _ := m.offsetInside(p)
	return offset
}

// offsetInside is offsetOf that also tells whether the position stood between the two halves of a surrogate pair.
func (m textMap) offsetInside(p protocol.Position) (offset int, split bool) {
	if uint64(len(m.starts)) <= uint64(p.Line) {
		return len(m.text), false
	}
	start, line := m.line(int(p.Line))
	want := int(min(uint64(p.Character), uint64(len(line))))
	if m.units == utf8Units {
		return start + characterStart(line, want), false
	}
	// Nearly every line of a sheet is ASCII, where all three units count alike.
	at := asciiPrefix(line[:want])
	counted := at
	for at < len(line) && counted < want {
		r, size := utf8.DecodeRuneInString(line[at:])
		width := m.width(r)
		if want < counted+width {
			return start + at, true
		}
		at, counted = at+size, counted+width
	}
	return start + at, false
}

// positionOf gives the position of a byte offset. Offsets outside the text give its nearest end, and one inside a
// character gives that character's start; one between \r and \n gives the end of the line's content.
func (m textMap) positionOf(offset int) protocol.Position {
	offset = min(max(offset, 0), len(m.text))
	number := sort.SearchInts(m.starts, offset+1) - 1
	start, line := m.line(number)
	want := characterStart(line, min(offset-start, len(line)))
	character := want
	if m.units != utf8Units {
		at := asciiPrefix(line[:want])
		character = at
		for _, r := range line[at:want] {
			character += m.width(r)
		}
	}
	return protocol.Position{Line: uint32(number), Character: uint32(character)}
}

// rangeOf gives the range of the bytes from start up to end.
func (m textMap) rangeOf(start, end int) protocol.Range {
	return protocol.Range{Start: m.positionOf(start), End: m.positionOf(end)}
}

// line is the content of a line, without its line end, and the offset at which it begins.
func (m textMap) line(number int) (start int, content string) {
	start, end := m.starts[number], len(m.text)
	if number+1 < len(m.starts) {
		end = m.starts[number+1]
	}
	content = m.text[start:end]
	content = strings.TrimSuffix(content, "\n")
	content = strings.TrimSuffix(content, "\r")
	return start, content
}

// width is how many units one character takes. Bytes that are no UTF-8 count as the one replacement character that
// the client shows for them.
func (m textMap) width(r rune) int {
	if m.units == utf16Units && 0xFFFF < r {
		return 2
	}
	return 1
}

// characterStart is the start of the character that holds byte at, and at itself between two characters and among
// bytes that are no UTF-8.
func characterStart(text string, at int) int {
	for back := 1; back < utf8.UTFMax && back <= at; back++ {
		if _, size := utf8.DecodeRuneInString(text[at-back:]); back < size {
			return at - back
		}
	}
	return at
}

// asciiPrefix counts the ASCII bytes that text begins with.
func asciiPrefix(text string) int {
	for i := range len(text) {
		if utf8.RuneSelf <= text[i] {
			return i
		}
	}
	return len(text)
}

// replaced is the map of the text after a client's change of range r to inserted: see replace. Only where the text changes lines
// are looked for; those behind it move.
func (m textMap) replaced(r protocol.Range, inserted string) textMap {
	text, start, behind := m.replace(r, inserted)
	oldEnd, end := len(m.text)-behind, len(text)-behind
	// A line begins behind what the byte before it says, and where that is \r the byte at it; so up to start and from behind
	// the end on all is as it was.
	before := max(sort.SearchInts(m.starts, start), 1)
	after := m.starts[sort.SearchInts(m.starts, oldEnd+1):]
	starts := make([]int, before, before+len(after)+strings.Count(inserted, "\n")+2)
	copy(starts, m.starts)
	for at := max(start, 1); at <= end; at++ {
		if text[at-1] == '\n' || text[at-1] == '\r' && (at == len(text) || text[at] != '\n') {
			starts = append(starts, at)
		}
	}
	for _, at := range after {
		starts = append(starts, at+end-oldEnd)
	}
	return textMap{text, starts, m.units}
}

// replace is the text after a client's change of range r to inserted, where it begins to differ, and how many bytes at its end
// are as they were. A range that cuts a surrogate pair leaves the replacement character for the half that stays: the client's
// text holds half a pair there, which no UTF-8 text can, but both count one unit, so all later positions still mean the same
// place.
func (m textMap) replace(r protocol.Range, inserted string) (text string, start, behind int) {
	start, startSplit := m.offsetInside(r.Start)
	end, endSplit := m.offsetInside(r.End)
	if end < start {
		start, startSplit, end, endSplit = end, endSplit, start, startSplit
	}
	first, _ := utf8.DecodeRuneInString(m.text[start:])
	last, size := utf8.DecodeRuneInString(m.text[end:])
	head, tail := m.text[:start], m.text[end:]
	switch {
	case startSplit && endSplit && inserted == "":
		high, _ := utf16.EncodeRune(first)
		_, low := utf16.EncodeRune(last)
		return head + string(utf16.DecodeRune(high, low)) + tail[size:], start, len(tail) - size
	case startSplit && endSplit:
		inserted, tail = halfPair+inserted+halfPair, tail[size:]
	case startSplit:
		inserted = halfPair + inserted
	case endSplit:
		inserted, tail = inserted+halfPair, tail[size:]
	}
	return head + inserted + tail, start, len(tail)
}

// halfPair stands for half a surrogate pair.
const halfPair = string(utf8.RuneError)
