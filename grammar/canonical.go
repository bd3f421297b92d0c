package grammar

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
)

const indent = "  "

// printLine writes one line of a block in the canonical form. lastBody is the last line of the block that is more than
// a comment: a comment in column 1 below it heads what comes next, and stays where it is.
func printLine(b *Block, line, lastBody int) string {
	l := &b.Lines[line]
	switch l.Kind {
	case CommentLine:
		text := printComment(l)
		if l.Comment.Start == 0 && (b.Kind == Preamble || line < b.Open || lastBody < line) {
			return text
		}
		return indent + text
	case OpenerLine:
		return printPieces("", pieces(l), nil, 0, printComment(l))
	case EntryLine:
		cells := pieces(l)
		stops, comment := entryStops(b.Kind, cells[0])
		return printPieces(indent, cells, stops, comment, printComment(l))
	case HeaderLine, RowLine:
		return printRow(b, l)
	}
	return l.Text
}

func printComment(l *Line) string {
	return strings.TrimRight(l.Text[l.Comment.Start:l.Comment.End], " \t\r")
}

// entryStops are the columns, counted from the indent, at which the second and further pieces of a header line or of a
// list's entry stand, as far as they have one, and the column of a comment behind it.
func entryStops(kind BlockKind, first string) (stops []int, comment int) {
	switch kind {
	case PoseBlock, QuiverBlock, BreathBlock:
		return []int{18}, 30
	case PlantBlock:
		return []int{14}, 30
	case ChangeBlock:
		if first != "without" {
			return []int{10, 22}, 30
		}
	}
	return []int{10}, 26
}

// printPieces sets pieces at their stops; one without a stop, or whose stop is passed, follows the one before it after
// one space. A comment stands at its column, or two spaces behind the last piece.
func printPieces(indent string, pieces []string, stops []int, commentAt int, comment string) string {
	var out strings.Builder
	out.WriteString(indent)
	at := 0
	for i, piece := range pieces {
		if i > 0 {
			stop := 0
			if i <= len(stops) {
				stop = stops[i-1]
			}
			at += pad(&out, max(stop-at, 1))
		}
		out.WriteString(piece)
		at += columns(piece)
	}
	if comment != "" {
		pad(&out, max(commentAt-at, 2))
		out.WriteString(comment)
	}
	return out.String()
}

func pad(out *strings.Builder, n int) int {
	for range n {
		out.WriteByte(' ')
	}
	return n
}

// printRow sets the cells of a row at the stops of their columns, and a comment at the stop behind the last cell.
func printRow(b *Block, l *Line) string {
	cells := make([]string, len(l.Cells))
	stops := make([]int, len(l.Cells))
	stop := 0
	for i := range cells {
		cells[i] = l.CellText(i)
		if l.Kind == RowLine {
			cells[i] = printCell(b.Columns[i].Kind, cells[i])
		}
		stop += b.Columns[i].Width
		stops[i] = stop
	}
	return printPieces(indent, cells, stops, stop, printComment(l))
}

func printCell(kind ColumnKind, text string) string {
	switch kind {
	case TimeColumn:
		return printTime(text)
	case UnitColumn:
		return unitName(text)
	case LimitColumn:
		parts := strings.Split(text, ",")
		for i, part := range parts {
			number, unit := cutUnit(part)
			parts[i] = number + unit
		}
		return strings.Join(parts, ",")
	}
	return text
}

// pieces are the atoms of a header line or an entry in their canonical spelling, a number and its unit together.
func pieces(l *Line) []string {
	var out []string
	canTakeUnit := false
	for at := 0; at < len(l.Text); {
		t := nextToken(l.Text, at)
		at = t.Span.End
		text := l.Text[t.Span.Start:t.Span.End]
		if t.Class == Space || t.Class == Comment {
			continue
		}
		if unit := unitName(text); canTakeUnit && isUnit(unit) {
			out[len(out)-1] += withSpace(unit)
			canTakeUnit = false
			continue
		}
		canTakeUnit = false
		switch t.Class {
		case Number, Fraction:
			canTakeUnit = true
		case TimeAtom:
			text = printTime(text)
		case Quantity:
			number, unit := cutUnit(text)
			text = number + withSpace(unit)
		case RangeAtom:
			canTakeUnit = true
			text = printRange(text)
		}
		out = append(out, text)
	}
	return out
}

func isUnit(text string) bool {
	for _, unit := range units {
		if unit == text {
			return true
		}
	}
	return false
}

// cutUnit parts a number, which may be a fraction, and its unit in the spelling of the language.
func cutUnit(text string) (number, unit string) {
	at := strings.LastIndexAny(text, "0123456789") + 1
	return text[:at], unitName(text[at:])
}

// withSpace sets a space before those units that are read as words of their own.
func withSpace(unit string) string {
	switch unit {
	case "fps", "bpm", "Hz":
		return " " + unit
	}
	return unit
}

// printTime writes a time in its canonical spelling. A sum that comes to nothing keeps the unit that it began with,
// since 0 alone can't stand everywhere.
func printTime(text string) string {
	t, ok := ParseTime(text)
	switch {
	case !ok:
		return text
	case !t.IsZero():
		return t.String()
	}
	if unit := strings.IndexAny(text, "fbs"); unit >= 0 {
		return "0" + text[unit:unit+1]
	}
	return "0"
}

func printRange(text string) string {
	left, right, _ := strings.Cut(text, "..")
	if _, _, ok := ParseTimes(text); ok {
		return printTime(left) + ".." + printTime(right)
	}
	number, unit := cutUnit(right)
	return left + ".." + number + withSpace(unit)
}

// columns is the number of columns that text takes where every character has the same width: two for a wide character
// of East Asian scripts (Unicode Standard Annex 11), none for a mark that stands on the one before it.
func columns(text string) int {
	n := 0
	for i := 0; i < len(text); i++ {
		if text[i] >= utf8.RuneSelf {
			return wideColumns(text)
		}
		n++
	}
	return n
}

func wideColumns(text string) int {
	n := 0
	for _, r := range text {
		switch kind := width.LookupRune(r).Kind(); {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case kind == width.EastAsianWide || kind == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}
