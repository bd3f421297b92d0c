package grammar

import (
	"cmp"
	"slices"
	"strings"
)

// Format writes a file in the canonical form: the one way to write its motion, so that two people's sheets differ only
// where their motion does. What it says stays as it is, and so does what it can't read: comments are kept, a line that
// does not parse stays as it is byte for byte, and so do line ends and the byte order mark. Formatting twice is the same
// as once.
//
// Body lines are indented by two spaces, one blank line stands between blocks, and cells stand on fixed stops. Rows
// stand in the order of their times, provided that all rows of their block parse and that the times can be compared
// without knowing more than this file; rows at one time keep their order. Comments above a row travel with it.
//
// What is no text ([IsText]) stays as it is: blanks at the end of a line of a picture are none.
func Format(f *File) string {
	if !IsText(f.Text) {
		return f.Text
	}
	var out strings.Builder
	out.Grow(len(f.Text) + len(f.Text)/8)
	out.WriteString(f.Text[:f.markLength()])
	for _, p := range printFile(f) {
		out.WriteString(p.text)
	}
	return out.String()
}

// IsText is false for what no sheet can be, such as a picture that was given a sheet's name,
// or text in UTF-16: it has bytes that are zero, or begins with a byte order mark of UTF-16. Single bytes that are no UTF-8
// don't count, since each costs its own line only.
func IsText(text string) bool {
	return !isUTF16(text) && strings.IndexByte(text, 0) < 0
}

func isUTF16(text string) bool {
	return strings.HasPrefix(text, "\xff\xfe") || strings.HasPrefix(text, "\xfe\xff")
}

// FormatEdits are the edits that bring f's text into the canonical form, in the order of the text: one for each line
// that changes, from the first character that does to the last, and one for each stretch of rows that change places.
// Applied to the text they give what [Format] gives.
func FormatEdits(f *File) []Edit {
	if !IsText(f.Text) {
		return nil
	}
	var edits []Edit
	add := func(e Edit) {
		if e, changes := narrow(f.Text, e); changes {
			edits = append(edits, e)
		}
	}
	printed := printFile(f)
	below := lowestBelow(printed, f.LineCount())
	next := 0 // the first source line not dealt with
	var text strings.Builder
	last := -1
	for i, p := range printed {
		text.WriteString(p.text)
		if last = max(last, p.source); p.source < 0 || below[i+1] <= last {
			continue
		}
		add(Edit{Span{f.LineStart(next), f.LineStart(last + 1)}, text.String()})
		next = last + 1
		text.Reset()
	}
	add(Edit{Span{f.LineStart(next), len(f.Text)}, text.String()})
	return edits
}

// lowestBelow gives, for each printed line, the lowest source line among those from there on.
func lowestBelow(printed []printedLine, none int) []int {
	lowest := make([]int, len(printed)+1)
	lowest[len(printed)] = none
	for i := len(printed) - 1; i >= 0; i-- {
		lowest[i] = lowest[i+1]
		if source := printed[i].source; source >= 0 {
			lowest[i] = min(lowest[i], source)
		}
	}
	return lowest
}

// printedLine is a line of the canonical text.
type printedLine struct {
	source int    // the line of the file that it was made from, or -1
	text   string // with its line end
}

// markLength is the length of the byte order mark.
func (f *File) markLength() int { return len(f.Text) - len(strings.TrimPrefix(f.Text, byteOrderMark)) }

const byteOrderMark = "\ufeff"

func printFile(f *File) []printedLine {
	clock := clockOf(f)
	usual := "\n"
	if f.LineCount() > 1 {
		usual = f.lineEndOf(0, usual)
	}
	out := make([]printedLine, 0, f.LineCount()+len(f.Blocks))
	add := func(source int, text string) {
		out = append(out, printedLine{source, text + f.lineEndOf(source, usual)})
	}
	gap := -1 // a blank line at the end of the block above, to stand between the two
	for _, b := range f.Blocks {
		first, lastBody := f.places[b], b.lastBodyLine()
		lines, below := arrange(b, clock)
		for i, l := range lines {
			if l.blank >= 0 {
				add(first+l.blank, "")
			} else if i == 0 && len(out) > 0 {
				add(gap, "")
			}
			add(first+l.line, printLine(b, l.line, lastBody))
		}
		gap = -1
		if below >= 0 {
			gap = first + below
		}
	}
	return out
}

// lineEndOf is the line end of a line of f, and the usual one for a line that has none.
func (f *File) lineEndOf(line int, usual string) string {
	if line < 0 {
		return usual
	}
	switch text := f.Text[f.LineStart(line):f.LineStart(line+1)]; {
	case strings.HasSuffix(text, "\r\n"), strings.HasSuffix(text, "\r"): // the last line may lack the line feed
		return "\r\n"
	case strings.HasSuffix(text, "\n"):
		return "\n"
	}
	return usual
}

// keptLine is a line of a block that is printed, and the blank line to print above it, or -1.
type keptLine struct{ line, blank int }

// arrange gives the lines of a block in the order in which they are printed, and a blank line from below the last of
// them, or -1.
func arrange(b *Block, clock clock) (lines []keptLine, below int) {
	lines = make([]keptLine, 0, len(b.Lines))
	blank := -1
	for i := range b.Lines {
		if b.Lines[i].Kind == BlankLine {
			if blank < 0 {
				blank = i
			}
			continue
		}
		lines = append(lines, keptLine{i, blank})
		blank = -1
	}
	sortRows(b, lines, clock)
	lastBody := b.lastBodyLine()
	for i := range lines {
		line := lines[i].line
		if i == 0 {
			// A stray byte order mark must not come to stand at the file's start, where it would be read as one.
			if !strings.HasPrefix(b.Lines[line].Text, byteOrderMark) {
				lines[i].blank = -1
			}
		} else if above := lines[i-1].line; (above == b.Open || above == b.Header) && line <= lastBody {
			lines[i].blank = -1
		}
	}
	return lines, blank
}

// lastBodyLine is the last line that is neither blank nor a comment.
func (b *Block) lastBodyLine() int {
	for i := len(b.Lines) - 1; i >= 0; i-- {
		if kind := b.Lines[i].Kind; kind != BlankLine && kind != CommentLine {
			return i
		}
	}
	return -1
}

// sortRows puts a table's rows in the order of their times, each with the comments above it.
func sortRows(b *Block, lines []keptLine, clock clock) {
	if len(b.Columns) == 0 || b.Columns[0].Kind != TimeColumn {
		return
	}
	var moved []timedRow
	first := -1
	for i, l := range lines {
		switch b.Lines[l.line].Kind {
		case BadLine, MutedLine:
			return
		case HeaderLine:
			first = i + 1
		case RowLine:
			moved = append(moved, timedRow{*b.Lines[l.line].Cells[0].Time, lines[first : i+1]})
			first = i + 1
		}
	}
	if !clock.sort(moved) {
		return
	}
	sorted := make([]keptLine, 0, len(lines))
	for _, row := range moved {
		sorted = append(sorted, row.lines...)
	}
	copy(lines[slices.IndexFunc(lines, func(l keptLine) bool { return l.line == b.Header })+1:], sorted)
}

// timedRow is a row with the comments above it.
type timedRow struct {
	at    Time
	lines []keptLine
}

// clock is what a file says about the lengths of its frames and beats.
type clock struct {
	rate, beat Rat // frames a second, and frames a beat
	known      bool
}

// clockOf reads the rate and the beat from a sheet's header. They are not known where the file has no sheet or several,
// where a header line is broken or written twice, or where they come from a base in another file.
func clockOf(f *File) clock {
	c := clock{rate: Whole(24)}
	var rates, beats, bases int
	var tempo *TempoLine
	var length *BeatLine
	sheet := f.First(SheetBlock)
	for _, b := range f.Blocks {
		if sheet == nil || b.Kind == SheetBlock && b != sheet || b.Kind == UnknownBlock {
			return clock{}
		}
	}
	for i := range sheet.Lines {
		if kind := sheet.Lines[i].Kind; kind == BadLine || kind == MutedLine {
			return clock{}
		}
		switch l := sheet.Lines[i].Stmt.(type) {
		case *RateLine:
			c.rate, rates = l.Exact(), rates+1
		case *TempoLine:
			tempo, beats = l, beats+1
		case *BeatLine:
			length, beats = l, beats+1
		case *FromLine:
			bases++
		}
	}
	if rates > 1 || beats > 1 || bases > 0 && (rates == 0 || beats == 0) {
		return clock{}
	}
	switch {
	case tempo != nil:
		c.beat = c.rate.Mul(Whole(60)).Div(tempo.Exact())
	case length != nil:
		c.beat = length.Beat.Time.In(c.rate, Rat{})
	default:
		c.beat = c.rate
	}
	c.known = c.rate.OK() && c.beat.OK() && c.rate.Sign() > 0 && c.beat.Sign() > 0
	return c
}

// sort puts rows in the order of their times, equal ones in the order that they have; it is false, and does nothing,
// where the order is not certain. Without a clock the order of two times is certain when neither the beats nor the
// seconds nor the frames of one are more than the other's while others are less: then it holds at every rate and tempo.
func (c clock) sort(rows []timedRow) bool {
	sorted := slices.Clone(rows)
	if c.known {
		for _, row := range rows {
			if !row.at.In(c.rate, c.beat).OK() {
				return false
			}
		}
		slices.SortStableFunc(sorted, func(a, b timedRow) int {
			return a.at.In(c.rate, c.beat).Cmp(b.at.In(c.rate, c.beat))
		})
	} else {
		slices.SortStableFunc(sorted, func(a, b timedRow) int {
			return cmp.Or(a.at.Beats.Cmp(b.at.Beats), a.at.Seconds.Cmp(b.at.Seconds), a.at.Frames.Cmp(b.at.Frames))
		})
		for i := 1; i < len(sorted); i++ {
			if a, b := sorted[i-1].at, sorted[i].at; a.Seconds.Cmp(b.Seconds) > 0 || a.Frames.Cmp(b.Frames) > 0 {
				return false
			}
		}
	}
	copy(rows, sorted)
	return true
}
