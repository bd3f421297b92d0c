package grammar

import "sort"

// Span is a stretch of text in bytes, from Start up to but not including End. Inside a line's nodes both count from
// the line's first byte; in answers of [File] they count from the file's first byte.
type Span struct{ Start, End int }

// Len is the number of bytes in s.
func (s Span) Len() int { return s.End - s.Start }

// Contains tells whether byte offset at lies in s; an offset just behind the last byte counts, since an editor's
// cursor stands there after typing.
func (s Span) Contains(at int) bool { return s.Start <= at && at <= s.End }

// Shift moves s by n bytes.
func (s Span) Shift(n int) Span { return Span{s.Start + n, s.End + n} }

// Cover is the smallest span that holds both s and t.
func (s Span) Cover(t Span) Span { return Span{min(s.Start, t.Start), max(s.End, t.End)} }

// Ref names a stretch of one line of a block. It stays good when text above the block changes, so a key of the motion
// can remember where it was written; [File.Locate] turns it into bytes of the file as it is now.
type Ref struct {
	Block *Block
	Line  int // index into Block.Lines
	Span  Span
}

// IsZero tells whether r names nothing.
func (r Ref) IsZero() bool { return r.Block == nil }

// Path is the file in which r stands.
func (r Ref) Path() string {
	if r.Block == nil {
		return ""
	}
	return r.Block.Path
}

// Text is what stands at r.
func (r Ref) Text() string {
	if r.Block == nil {
		return ""
	}
	text := r.Block.Lines[r.Line].Text
	return text[min(r.Span.Start, len(text)):min(r.Span.End, len(text))]
}

// Locate gives the bytes of f at which r stands, and false when r's block is not one of f's.
func (f *File) Locate(r Ref) (Span, bool) {
	at, ok := f.places[r.Block]
	if !ok {
		return Span{}, false
	}
	return r.Span.Shift(f.starts[at+r.Line]), true
}

// LineNumber gives the line of f, counted from 0, at which r stands, and false when r's block is not one of f's.
func (f *File) LineNumber(r Ref) (int, bool) {
	at, ok := f.places[r.Block]
	return at + r.Line, ok
}

// LineAt gives the line of f that holds byte offset at, counted from 0. Offsets outside the text give the nearest line.
func (f *File) LineAt(at int) int {
	line := sort.SearchInts(f.starts, at+1) - 1
	return max(line, 0)
}

// LineStart gives the byte offset of a line's first byte; a line past the last gives the end of the text.
func (f *File) LineStart(line int) int {
	if line < 0 {
		return 0
	}
	if line >= len(f.starts) {
		return len(f.Text)
	}
	return f.starts[line]
}

// LineCount is the number of lines of f, the last one counted even when it is empty.
func (f *File) LineCount() int { return len(f.starts) }

// RefAt gives the block line that holds byte offset at, with the offset inside that line as an empty span. Behind the
// last line end that is the last line; in an empty text it is no line, and the Ref is zero.
func (f *File) RefAt(at int) Ref {
	line := f.LineAt(at)
	for i, b := range f.Blocks {
		first := f.places[b]
		if line < first+len(b.Lines) || i == len(f.Blocks)-1 && len(b.Lines) > 0 {
			in := min(line-first, len(b.Lines)-1)
			col := max(at-f.starts[first+in], 0)
			return Ref{b, in, Span{col, col}}
		}
	}
	return Ref{}
}
