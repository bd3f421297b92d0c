package grammar

import (
	"regexp"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Class says what an atom is. An atom is a run of characters without white space, '#' or '"'; its class follows from
// the whole run, so that nothing glued is ever ambiguous.
type Class uint8

// The classes of atoms, strings and comments, in the order in which an atom is tried.
const (
	Illegal   Class = iota // none of the others: the error says what is wrong with it
	Dot                    // . an empty cell
	Number                 // -2.4 +4 0.75
	Marked                 // 1.5^ -2@8: a number with a shape mark
	TimeAtom               // 36f 2b 3/2b 0.75s 4b-1f
	Percent                // 60%
	Quantity               // 80bpm 0.3cm 24000/1001fps
	Word                   // hips arm.left on-left
	Path                   // hips/tilt
	Pattern                // arm.* */lift *
	RangeAtom              // -12..12 0b..4b 0.6..2.5Hz
	Direction              // +x -z
	Easing                 // 0.3,0,0.1,1
	Limits                 // 0.01cm,0.05deg,0.05% 600keys 0.4deg,8x
	Fraction               // 24000/1001
	Unit                   // % where it stands alone
	String                 // "quayfolk.motet"
	Comment                // # to the end of the line
	Space
)

var classNames = [...]string{
	"Illegal", "Dot", "Number", "Marked", "Time", "Percent", "Quantity", "Word", "Path", "Pattern", "Range",
	"Direction", "Easing", "Limits", "Fraction", "Unit", "String", "Comment", "Space",
}

// String is the name that the class has in the grammar's productions.
func (c Class) String() string { return classNames[c] }

// Classify tells what an atom is. The classes are told apart by hand, since the expressions that would say the same
// (expressions.go; a test holds the two to each other) take longer to compile than a sheet takes to check.
func Classify(atom string) Class {
	if atom == "" {
		return Illegal
	}
	switch first := atom[0]; {
	case isDigit(first) || (len(atom) > 1 && isSign(first) && isDigit(atom[1])):
		if class := classifyNumber(atom); class != Illegal {
			return class
		}
	case atom == ".":
		return Dot
	case atom == "%":
		return Unit
	case len(atom) == 2 && isSign(first) && atom[1] >= 'x' && atom[1] <= 'z':
		return Direction
	default:
		if class := classifyWord(atom); class != Illegal {
			return class
		}
	}
	if isPattern(atom) {
		return Pattern
	}
	return Illegal
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

func isSign(b byte) bool { return b == '-' || b == '+' }

// classifyNumber tells what an atom is that begins with a digit, or with one behind a sign.
func classifyNumber(atom string) Class {
	number := numberLength(atom)
	rest := atom[number:]
	switch {
	case rest == "":
		return Number
	case rest == "%":
		return Percent
	case isMark(rest):
		return Marked
	case isTime(atom):
		return TimeAtom
	case isGlued(rest):
		return Quantity
	case isRange(atom):
		return RangeAtom
	}
	if whole := digitsLength(atom); whole > 0 && whole < len(atom) && atom[whole] == '/' {
		behind := atom[whole+1:]
		switch n := digitsLength(behind); {
		case n == 0:
			return Illegal
		case n == len(behind):
			return Fraction
		case isGlued(behind[n:]):
			return Quantity
		}
		return Illegal
	}
	return classifyList(atom)
}

// classifyList tells an easing from several limits, or from one that is a count.
func classifyList(atom string) Class {
	numbers, limits, counts, parts := true, true, 0, 0
	for part := range strings.SplitSeq(atom, ",") {
		n := numberLength(part)
		numbers = numbers && n > 0 && n == len(part)
		limits = limits && n > 0 && (isGlued(part[n:]) || isCount(part[n:]))
		if n > 0 && isCount(part[n:]) {
			counts++
		}
		parts++
	}
	switch {
	case numbers && parts == 4:
		return Easing
	case limits && (parts > 1 || counts > 0):
		return Limits
	}
	return Illegal
}

// digitsLength is the length of the digits at the front of text.
func digitsLength(text string) int {
	n := 0
	for n < len(text) && isDigit(text[n]) {
		n++
	}
	return n
}

// numberLength is the length of the decimal at the front of text, its sign included; 0 where none stands.
func numberLength(text string) int {
	start := 0
	if text != "" && isSign(text[0]) {
		start = 1
	}
	n := digitsLength(text[start:])
	if n == 0 {
		return 0
	}
	n += start
	if n < len(text) && text[n] == '.' {
		if places := digitsLength(text[n+1:]); places > 0 {
			n += 1 + places
		}
	}
	return n
}

// isMark tells whether text is a shape mark, with its slopes where it is @.
func isMark(text string) bool {
	if text[0] != '@' {
		return len(text) == 1 && strings.Contains("~^>=", text)
	}
	in, out, two := strings.Cut(text[1:], ",")
	return isNumber(in) && (!two || isNumber(out))
}

func isNumber(text string) bool { return text != "" && numberLength(text) == len(text) }

// isTime tells whether text is a time, or a sum of times.
func isTime(text string) bool {
	for at := 0; at < len(text); {
		if isSign(text[at]) {
			at++
		} else if at > 0 {
			return false
		}
		whole := digitsLength(text[at:])
		if whole == 0 {
			return false
		}
		if at += whole; at+1 < len(text) && (text[at] == '.' || text[at] == '/') && isDigit(text[at+1]) {
			at += 1 + digitsLength(text[at+1:])
		}
		if at == len(text) || (text[at] != 'f' && text[at] != 'b' && text[at] != 's') {
			return false
		}
		at++
	}
	return text != ""
}

// isGlued tells whether text is a unit as it may be glued to a number.
func isGlued(text string) bool {
	switch text {
	case "%", "s", "f":
		return true
	}
	for _, unit := range [...]string{"cm", "deg", "hz", "bpm", "fps", "cm/s", "deg/s"} {
		if strings.EqualFold(text, unit) {
			return true
		}
	}
	return false
}

// isCount tells whether text is a unit of which only limits are given: what a clip may have, or how many times a thing may
// be another.
func isCount(text string) bool {
	for _, unit := range counts {
		if strings.EqualFold(text, unit) {
			return true
		}
	}
	return false
}

// isRange tells whether text is two numbers or times with .. between, the second with a unit where it is a number.
func isRange(text string) bool {
	from, to, ok := strings.Cut(text, "..")
	if !ok || !(isNumber(from) || isTime(from)) {
		return false
	}
	if isTime(to) || isNumber(to) {
		return true
	}
	n := numberLength(to)
	return n > 0 && isGlued(to[n:])
}

// classifyWord tells a word from a path; anything else is Illegal.
func classifyWord(atom string) Class {
	control, channel, path := strings.Cut(atom, "/")
	switch {
	case !isWord(control) || (path && !isWord(channel)):
		return Illegal
	case path:
		return Path
	}
	return Word
}

// isWord tells whether text is a word: it begins with a letter, no part between points is empty, and none ends in -.
func isWord(text string) bool {
	last := '.'
	for i, r := range text {
		switch {
		case i == 0 && !unicode.IsLetter(r):
			return false
		case r == '.':
			if last == '.' || last == '-' {
				return false
			}
		case !isWordRune(r):
			return false
		}
		last = r
	}
	return last != '.' && last != '-'
}

// isWordRune tells whether a word may have r in it. A byte that is no UTF-8 comes as the replacement character, which is
// none of these.
func isWordRune(r rune) bool {
	return r == '_' || r == '-' || unicode.In(r, unicode.L, unicode.M, unicode.N)
}

// isPattern tells whether text is a word or a path with * in it, whose parts need not be whole words.
func isPattern(text string) bool {
	control, channel, path := strings.Cut(text, "/")
	if control == "" || (path && channel == "") {
		return false
	}
	starred := false
	for i, r := range text {
		switch {
		case r == '*':
			starred = true
		case r == '/' && i == len(control), r == '.', isWordRune(r):
		default:
			return false
		}
	}
	return starred
}

// Token is one atom, string, comment or stretch of white space of a line. A comment runs to the end of its line, and a
// string without its closing quote is Illegal.
type Token struct {
	Class Class
	Span  Span
}

// Tokens splits a line, without its line end, into all its tokens, white space and comment included; put together
// again they are the line.
func Tokens(line string) []Token {
	var out []Token
	for at := 0; at < len(line); {
		t := nextToken(line, at)
		out = append(out, t)
		at = t.Span.End
	}
	return out
}

func nextToken(line string, at int) Token {
	rest := line[at:]
	switch first, _ := utf8.DecodeRuneInString(rest); {
	case isSpace(first):
		return Token{Space, Span{at, at + runLength(rest, isSpace)}}
	case first == '#':
		return Token{Comment, Span{at, len(line)}}
	case first == '"':
		if end := strings.IndexByte(rest[1:], '"'); end >= 0 {
			return Token{String, Span{at, at + end + 2}}
		}
		return Token{Illegal, Span{at, len(line)}}
	}
	end := at + runLength(rest, isAtomRune)
	return Token{Classify(line[at:end]), Span{at, end}}
}

// White space is the space and the tab; a no-break space is part of an atom, and so gets an error that names it.
func isSpace(r rune) bool { return r == ' ' || r == '\t' }

func isAtomRune(r rune) bool { return !isSpace(r) && r != '#' && r != '"' }

func runLength(s string, in func(rune) bool) int {
	for i, r := range s {
		if !in(r) {
			return i
		}
	}
	return len(s)
}

// expression promises a regular expression to whoever asks first.
func expression(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}
