package grammar

import "strconv"

// Cell is one cell of a table row.
type Cell struct {
	Span  Span
	Class Class
	Shape Mark    // of a Marked cell
	Value float64 // of a Number, Marked or Percent cell
	Slope *Slopes // of a cell with the mark @
	Time  *Time   // of a TimeAtom cell
}

// Mark is the shape mark of a key.
type Mark uint8

// The shape marks, and what the curve does at such a key.
const (
	NoMark     Mark = iota
	SmoothMark      // ~ smooth, as without a mark
	RestMark        // ^ rests: slope zero
	GoesMark        // > goes straight to the next key
	StaysMark       // = stays at this value until the next key
	SlopeMark       // @ has the slope that is written, or the two slopes in and out
)

const markRunes = "~^>=@"

// Rune is the character of the mark; 0 for none.
func (m Mark) Rune() byte {
	if m == NoMark {
		return 0
	}
	return markRunes[m-1]
}

// Slopes are a key's slopes as written, in units a beat.
type Slopes struct{ In, Out float64 }

// rowReader reads rows one after the other. Cells and times are carved from slabs, since a sheet is mostly rows and a
// row is mostly cells: 10 000 rows cost some 150 allocations. (Why rows are read by hand at all: participle needs 4 to
// 9 times what encoding/json takes for the same keys, this about a tenth; BenchmarkRows measures it.)
type rowReader struct {
	expect int // how many cells are probably still to come, so that a small table takes a small slab
	left   int // and how many rows, most of which have one time
	cells  []Cell
	times  []Time
	slopes []Slopes
}

// read gives the cells of a line and the span of its comment, or false when an atom of the line is not a cell.
func (r *rowReader) read(line string) (cells []Cell, comment Span, ok bool) {
	first := len(r.cells)
	for at := 0; at < len(line); {
		switch b := line[at]; b {
		case ' ', '\t':
			at++
			continue
		case '#':
			comment, at = Span{at, len(line)}, len(line)
			continue
		case '"':
			end := at + 1
			for end < len(line) && line[end] != '"' {
				end++
			}
			if end == len(line) {
				return nil, Span{}, false
			}
			first = r.next(first)
			cell := &r.cells[len(r.cells)-1]
			cell.Span, cell.Class = Span{at, end + 1}, String
			at = end + 1
		default:
			end := at + 1
			for end < len(line) && line[end] != ' ' && line[end] != '\t' && line[end] != '#' && line[end] != '"' {
				end++
			}
			first = r.next(first)
			cell := &r.cells[len(r.cells)-1]
			cell.Span = Span{at, end}
			if !r.fill(cell, line[at:end]) {
				return nil, Span{}, false
			}
			at = end
		}
	}
	return r.cells[first:len(r.cells):len(r.cells)], comment, true
}

// next adds an empty cell to the row that began at index first, and gives the index at which the row begins now: where
// the slab is full, the row moves to a new one. A slab comes empty, so the cell needs no writing.
func (r *rowReader) next(first int) int {
	if len(r.cells) == cap(r.cells) {
		row := r.cells[first:]
		r.cells = make([]Cell, len(row), max(min(r.expect, 1024), 2*len(row), 4))
		copy(r.cells, row)
		first = 0
	}
	r.cells = r.cells[:len(r.cells)+1]
	return first
}

// fill classifies an atom: numbers, marked numbers, times, and words and paths in ASCII by hand, which is nearly all of
// them, and the rest by the expressions of atoms.go.
func (r *rowReader) fill(cell *Cell, atom string) bool {
	b := atom[0]
	switch {
	case b == '.' && len(atom) == 1:
		cell.Class = Dot
		return true
	case b >= '0' && b <= '9', b == '-', b == '+':
		if r.fillNumber(cell, atom) {
			return true
		}
	default:
		switch word := asciiWord(atom); {
		case word == len(atom):
			cell.Class = Word
			return true
		case word > 0 && atom[word] == '/' && word+1+asciiWord(atom[word+1:]) == len(atom) && word+1 < len(atom):
			cell.Class = Path
			return true
		}
	}
	return r.fillSlowly(cell, atom)
}

// asciiWord gives the length of the word at the front of text, up to its end or a stroke; 0 where none stands or where
// it takes Unicode's tables to tell.
func asciiWord(text string) int {
	if !isASCIILetter(text, 0) {
		return 0
	}
	ends := true // whether a part of the word may end here
	for i := 0; i < len(text); i++ {
		switch b := text[i]; {
		case isASCIILetter(text, i), b >= '0' && b <= '9', b == '_':
			ends = true
		case b == '-':
			ends = false
		case b == '.' && ends:
			ends = false
			if i+1 < len(text) && text[i+1] == '.' {
				return 0
			}
		case b == '/' && ends:
			return i
		default:
			return 0
		}
	}
	if !ends {
		return 0
	}
	return len(text)
}

func isASCIILetter(text string, i int) bool {
	return i < len(text) && (text[i]|0x20) >= 'a' && (text[i]|0x20) <= 'z'
}

func (r *rowReader) fillNumber(cell *Cell, atom string) bool {
	value, n := scanNumber(atom)
	if n == 0 {
		return false
	}
	cell.Value = value
	if n == len(atom) {
		cell.Class = Number
		return true
	}
	switch b := atom[n]; {
	case b == '@':
		return r.fillSlopes(cell, atom[n+1:])
	case n+1 < len(atom):
		return r.fillTime(cell, atom)
	case b == '~' || b == '^' || b == '>' || b == '=':
		cell.Class, cell.Shape = Marked, markOf(b)
		return true
	case b == 'f' || b == 'b' || b == 's':
		return r.fillTime(cell, atom)
	case b == '%':
		cell.Class = Percent
		return true
	}
	return false
}

func markOf(b byte) Mark {
	for i := 0; i < len(markRunes); i++ {
		if markRunes[i] == b {
			return Mark(i + 1)
		}
	}
	return NoMark
}

// fillSlopes reads what stands behind @: one number, or two with a comma between.
func (r *rowReader) fillSlopes(cell *Cell, text string) bool {
	in, n := scanNumber(text)
	if n == 0 {
		return false
	}
	out := in
	if n < len(text) {
		if text[n] != ',' {
			return false
		}
		var m int
		if out, m = scanNumber(text[n+1:]); m == 0 || n+1+m != len(text) {
			return false
		}
	}
	if cap(r.slopes) == len(r.slopes) {
		r.slopes = make([]Slopes, 0, max(min(r.expect, 64), 1))
	}
	r.slopes = append(r.slopes, Slopes{in, out})
	cell.Class, cell.Shape, cell.Slope = Marked, SlopeMark, &r.slopes[len(r.slopes)-1]
	return true
}

func (r *rowReader) fillTime(cell *Cell, atom string) bool {
	if cap(r.times) == len(r.times) {
		r.times = make([]Time, 0, max(min(r.left, 256), 1))
	}
	// The time is read where it will stay, since it is large to copy.
	n := len(r.times)
	r.times = r.times[:n+1]
	t := &r.times[n]
	if !quickTime(atom, t) {
		parsed, ok := ParseTime(atom)
		if !ok {
			r.times = r.times[:n]
			return false
		}
		*t = parsed
	}
	cell.Class, cell.Value, cell.Time = TimeAtom, 0, t
	return true
}

// quickTime reads a time of whole frames, beats or seconds into t, which is 0; anything longer is left to [ParseTime].
func quickTime(atom string, t *Time) bool {
	var n int64
	last := len(atom) - 1
	if last == 0 || last > 17 {
		return false
	}
	for i := 0; i < last; i++ {
		b := atom[i]
		if b < '0' || b > '9' {
			return false
		}
		n = n*10 + int64(b-'0')
	}
	*t.term(atom[last]) = Whole(n)
	return true
}

// fillSlowly reads an atom by the expressions that define the classes.
func (r *rowReader) fillSlowly(cell *Cell, atom string) bool {
	cell.Value = 0
	switch cell.Class = Classify(atom); cell.Class {
	case Illegal, Fraction:
		return false
	case TimeAtom:
		return r.fillTime(cell, atom)
	case Number, Marked:
		return r.fillNumber(cell, atom)
	case Percent:
		return false // too large a number
	}
	return true
}

// powers of ten up to the largest that a float64 holds exactly, so that a decimal of at most 15 digits divided by one is
// the nearest float64 (W. D. Clinger, How to Read Floating Point Numbers Accurately, 1990: the fast case).
var powers = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// scanNumber reads the decimal at the front of text and gives its length, which is 0 where none stands.
func scanNumber(text string) (value float64, length int) {
	i := 0
	negative := false
	if i < len(text) && (text[i] == '-' || text[i] == '+') {
		negative = text[i] == '-'
		i++
	}
	start := i
	var digits int64
	for ; i < len(text) && text[i] >= '0' && text[i] <= '9'; i++ {
		digits = digits*10 + int64(text[i]-'0')
	}
	count := i - start
	if count == 0 {
		return 0, 0
	}
	places := 0
	if i+1 < len(text) && text[i] == '.' && text[i+1] >= '0' && text[i+1] <= '9' {
		point := i
		for i++; i < len(text) && text[i] >= '0' && text[i] <= '9'; i++ {
			digits = digits*10 + int64(text[i]-'0')
		}
		places = i - point - 1
	}
	if count+places > 15 {
		value, err := strconv.ParseFloat(text[:i], 64)
		if err != nil {
			return 0, 0
		}
		return value, i
	}
	value = float64(digits) / powers[places]
	if negative {
		value = -value
	}
	return value, i
}
