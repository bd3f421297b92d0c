// Package grammar is the motion sheet as text: its atoms and lines, the parser that never fails, spans, exact time, and
// the canonical form.
//
// A statement is a line. Each line is parsed by its own production (productions.go), table rows by a hand-written
// reader held to the same language (rows.go), and blocks are folded from lines in plain Go (fold.go). So a line that
// does not parse costs that line and nothing else: the tree always stands, and errors are data in it.
package grammar

// File is the tree of one text. It never changes once made, and may be shared between goroutines.
type File struct {
	Path   string
	Text   string
	Blocks []*Block // in the order of the text; the first may be the Preamble

	starts []int          // the first byte of each line
	places map[*Block]int // the first line of each block
}

// Block is one block and its lines. It knows nothing of what stands around it, so that an edit elsewhere in the file
// leaves it as it is.
type Block struct {
	Path    string
	Kind    BlockKind
	Opener  Statement // nil where the opening line does not parse, and in the preamble
	Open    int       // the opening line's index into Lines; comments right above it come before it
	Lines   []Line
	Columns []Column // of a table whose first row is good
	Header  int      // that row's index into Lines; -1 where there is none
	// Muted says that the rows could not be judged, since the opening line or the row of column names is broken: one
	// mistake is one error.
	Muted bool
	// Plain says that no line has a Fault or an Allow, and none went unjudged: there is nothing to look for in them.
	Plain bool
	Meant BlockKind // of an UnknownBlock, the kind that its opening word is probably a slip for; Preamble where that is none

	text string // of all lines with their ends
}

// LineKind says what a line is.
type LineKind uint8

// The kinds of lines.
const (
	BlankLine   LineKind = iota
	CommentLine          // a comment and nothing else
	OpenerLine           // opens its block
	EntryLine            // a header line or a list's entry: Stmt
	HeaderLine           // a table's column names: Cells
	RowLine              // a table's row: Cells
	BadLine              // does not parse: Fault says why
	MutedLine            // was not judged, since its block's opening line or column names are broken
)

// Line is one line of a block. Spans count from the line's first byte.
type Line struct {
	Text    string // without the line end
	Kind    LineKind
	Stmt    Statement // of OpenerLine and EntryLine
	Cells   []Cell    // of HeaderLine and RowLine
	Comment Span      // empty where there is none
	Allow   *Allow
	Fault   *Fault // what is wrong with a BadLine; a note on one that is good all the same

	at int // the line's first byte, counted from the block's
}

// CellText is the text of a cell of the line.
func (l *Line) CellText(i int) string { return l.Text[l.Cells[i].Span.Start:l.Cells[i].Span.End] }

// FirstWord is the atom that the line begins with, which says what it is about; white space ends it, be it spaces or
// tabs. It is empty on a blank line.
func (l *Line) FirstWord() string {
	start := runLength(l.Text, isSpace)
	return l.Text[start : start+runLength(l.Text[start:], isAtomRune)]
}

// Content is the span of what stands on the line, without white space around it and without its comment.
func (l *Line) Content() Span {
	end := len(l.Text)
	if l.Comment != (Span{}) {
		end = l.Comment.Start
	}
	start := 0
	for start < end && isSpace(rune(l.Text[start])) {
		start++
	}
	for end > start && isSpace(rune(l.Text[end-1])) {
		end--
	}
	return Span{start, end}
}

// Fault is what is wrong with a line.
type Fault struct {
	Span    Span
	Message string
	Title   string     // of the mend, a verb phrase; empty where there is none
	Edits   []LineEdit // the mend
	Note    bool       // the line is read all the same
	Guess   bool       // something else than the mend may well be meant
	Unit    string     // behind a value that has none of its own, where that is the fault
	Others  []LineMend // what else may be meant
}

// LineMend is one more way to put a line right.
type LineMend struct {
	Title string
	Edits []LineEdit
}

// LineEdit replaces a stretch of a line.
type LineEdit struct {
	Span Span
	Text string
}

// offer adds the mend "write THIS" to a fault; an empty text offers nothing.
func (f *Fault) offer(span Span, text string) {
	if text == "" {
		return
	}
	f.Message += "; did you mean " + quote(text) + "?"
	f.Title = "write " + quote(text)
	f.Edits = []LineEdit{{span, text}}
}

// Allow is a comment `# allow RULE: reason`. Where Reason is empty the comment has no effect and is reported.
type Allow struct {
	Span   Span // of the comment from its #
	Rule   string
	At     Span // of the rule's name
	Reason string
}

// First gives the file's first block of a kind, or nil.
func (f *File) First(kind BlockKind) *Block {
	for _, b := range f.Blocks {
		if b.Kind == kind {
			return b
		}
	}
	return nil
}

// Ref gives the stretch of one of b's lines.
func (b *Block) Ref(line int, span Span) Ref { return Ref{b, line, span} }

// RefLine gives the content of one of b's lines.
func (b *Block) RefLine(line int) Ref { return Ref{b, line, b.Lines[line].Content()} }

// Entries gives the parsed statements of b's body with their lines' indices.
func (b *Block) Entries() func(yield func(int, Statement) bool) {
	return func(yield func(int, Statement) bool) {
		for i := range b.Lines {
			if b.Lines[i].Kind == EntryLine && !yield(i, b.Lines[i].Stmt) {
				return
			}
		}
	}
}

// Rows gives the indices of b's good rows; none where the table's column names are broken.
func (b *Block) Rows() func(yield func(int) bool) {
	return func(yield func(int) bool) {
		for i := range b.Lines {
			if b.Lines[i].Kind == RowLine && !yield(i) {
				return
			}
		}
	}
}

// ColumnIndex is the index of the column of that name, or -1.
func (b *Block) ColumnIndex(name string) int {
	for i := range b.Columns {
		if NameKey(b.Columns[i].Name) == NameKey(name) {
			return i
		}
	}
	return -1
}
