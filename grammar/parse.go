package grammar

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// parseBlock makes the tree of a raw block, taking over rows of the block that stood in its place, nil for none. The text is
// copied, so that a tree taken over into later versions of a file does not keep the whole earlier text alive.
func parseBlock(path string, raw rawBlock, before *Block) *Block {
	b := &Block{Path: path, Open: raw.open, Header: -1, text: strings.Clone(raw.text)}
	b.splitLines()
	info := blockOf()[raw.word]
	switch {
	case raw.word == "":
		b.Kind, b.Open = Preamble, -1
	case info == nil:
		b.Kind = UnknownBlock
	default:
		b.Kind = info.Kind
	}
	p := blockParser{block: b, info: info, before: before}
	for i := range b.Lines {
		if row := p.rowBefore(i); row != nil {
			l := &b.Lines[i]
			l.Kind, l.Cells, l.Comment = RowLine, row.Cells, row.Comment
			continue
		}
		p.line(i)
	}
	b.Plain = true
	for i := range b.Lines { // lines are large, and not to be copied
		l := &b.Lines[i]
		b.Plain = b.Plain && l.Fault == nil && l.Allow == nil && l.Kind != BadLine && l.Kind != MutedLine
	}
	return b
}

func (b *Block) splitLines() {
	count := strings.Count(b.text, "\n")
	if b.text != "" && !strings.HasSuffix(b.text, "\n") {
		count++
	}
	b.Lines = make([]Line, count)
	at := 0
	for i := range b.Lines {
		end := lineEnd(b.text, at)
		b.Lines[i].Text, b.Lines[i].at = trimLineEnd(b.text[at:end]), at
		at = end
	}
}

type blockParser struct {
	block  *Block
	info   *BlockInfo // nil in the preamble and in an unknown block
	rows   rowReader
	before *Block // that stood in the block's place in an old tree; nil for none
	anew   int    // rows that were read though others could stay
}

// rowsStay tells whether rows of the block that stood in this one's place say the same here.
func (p *blockParser) rowsStay() bool {
	b, old := p.block, p.before
	return old != nil && p.info != nil && p.info.IsTable() && b.Kind == old.Kind && !b.Muted && b.Header >= 0 && old.Header >= 0 &&
		b.Lines[b.Header].Text == old.Lines[old.Header].Text
}

// rowBefore gives a row with the text of a line, of the block that stood in this one's place: the same number of lines below
// the block's first or above its last, in a table with the same columns. What a row says goes by these alone. Rows with a fault,
// or with a comment that allows something, are read anew.
func (p *blockParser) rowBefore(i int) *Line {
	if !p.rowsStay() {
		return nil
	}
	b, old := p.block, p.before
	for _, at := range [2]int{i, i - len(b.Lines) + len(old.Lines)} {
		if at < 0 || at >= len(old.Lines) {
			continue
		}
		if row := &old.Lines[at]; row.Kind == RowLine && row.Fault == nil && row.Allow == nil && row.Text == b.Lines[i].Text {
			return row
		}
	}
	return nil
}

func (p *blockParser) line(i int) {
	l := &p.block.Lines[i]
	at := runLength(l.Text, isSpace)
	switch {
	case at == len(l.Text):
		l.Kind = BlankLine
	case l.Text[at] == '#':
		l.Kind, l.Comment = CommentLine, Span{at, len(l.Text)}
		l.Allow = parseAllow(l.Text, l.Comment)
	case isMergeMark(l.Text):
		l.Kind = BadLine
		l.Fault = &Fault{Span: l.Content(), Message: "this is the mark of a merge that is not done; keep what is right of the two sides, and delete the lines with the marks"}
	case i == p.block.Open:
		p.opener(l)
	case p.block.Muted:
		l.Kind = MutedLine
		p.comment(l)
	case p.info == nil:
		p.homeless(l)
	case p.info.IsTable():
		p.row(i, l)
	default:
		p.entry(l)
	}
	p.commentMeant(i, l)
	p.further(i, l)
	p.strayOpener(i, l)
	if at == 0 && i != p.block.Open && l.Fault == nil && (l.Kind == EntryLine || l.Kind == RowLine || l.Kind == HeaderLine) {
		l.Fault = &Fault{
			Span: l.Content(), Note: true,
			Message: fmt.Sprintf("this line belongs to %s above, but is not indented; body lines start with two spaces", quote(p.info.Word)),
			Title:   "indent the line", Edits: []LineEdit{{Span{}, "  "}},
		}
	}
}

// isMergeMark tells whether a line is one of those by which version control parts two sides that it could not merge.
func isMergeMark(line string) bool {
	const width = 7
	if len(line) < width || !strings.ContainsRune("<=>|", rune(line[0])) || strings.Trim(line[:width], line[:1]) != "" {
		return false
	}
	return len(line) == width || line[width] == ' '
}

// comment finds the comment of a line that is more than one.
func (p *blockParser) comment(l *Line) {
	for at := 0; at < len(l.Text); {
		t := nextToken(l.Text, at)
		if t.Class == Comment {
			l.Comment = t.Span
			l.Allow = parseAllow(l.Text, t.Span)
		}
		at = t.Span.End
	}
}

func (p *blockParser) opener(l *Line) {
	p.comment(l)
	if p.info == nil {
		word := nextToken(l.Text, 0).Span
		l.Kind = BadLine
		l.Fault = &Fault{Span: word, Message: fmt.Sprintf("%s does not open a block", quoteShort(l.Text[:word.End]))}
		if near := suggest(l.Text[:word.End], blockWords()); near != "" {
			l.Fault.offer(word, near)
			p.block.Meant = blockOf()[near].Kind
		} else {
			l.Fault.Message += "; a line in column 1 begins with one of " + strings.Join(blockWords(), " ") + ", and body lines are indented"
		}
		p.block.Muted = true
		return
	}
	l.Kind = OpenerLine
	if l.Stmt, l.Fault = p.statement(p.info.Opener, l); l.Fault != nil {
		l.Kind = BadLine
		return
	}
	p.block.Opener = l.Stmt
}

// homeless is a line above the first block.
func (p *blockParser) homeless(l *Line) {
	p.comment(l)
	l.Kind = BadLine
	if fault := foreignComment(l.Text, l.Content().Start); fault != nil {
		l.Fault = fault
		return
	}
	p.block.Muted = true // one missing line is one error
	if isUTF16(l.Text) {
		l.Fault = &Fault{Span: l.Content(), Message: "this is not UTF-8 text but UTF-16; save the file as UTF-8"}
		return
	}
	if !utf8.ValidString(l.Text) {
		l.Fault = &Fault{Span: l.Content(), Message: "this is not UTF-8 text; save the file as UTF-8, or, where it is a picture or a clip, give it its own ending"}
		return
	}
	if l.Fault = indentedOpener(l); l.Fault != nil {
		return
	}
	l.Fault = &Fault{Span: l.Content(), Message: "this line belongs to no block; open one above it, such as `sheet NAME` or `track CONTROL`"}
}

func (p *blockParser) entry(l *Line) {
	p.comment(l)
	content := l.Content()
	first := nextToken(l.Text, content.Start)
	word := l.Text[first.Span.Start:first.Span.End]
	l.Kind = EntryLine
	kind, ok := p.info.lineKind(word)
	if !ok {
		l.Fault = p.unknownEntry(l, first)
	} else {
		l.Stmt, l.Fault = p.statement(kind, l)
	}
	if l.Fault != nil {
		l.Kind, l.Stmt = BadLine, nil
	}
}

func (p *blockParser) unknownEntry(l *Line, first Token) *Fault {
	if fault := illegalAtom(l.Text); fault != nil {
		return fault
	}
	words := make([]string, len(p.info.Lines))
	for i, kind := range p.info.Lines {
		words[i] = kind.Word
	}
	word := l.Text[first.Span.Start:first.Span.End]
	if fault := indentedOpener(l); fault != nil {
		return fault
	}
	fault := &Fault{Span: first.Span, Message: fmt.Sprintf("%s is not a line of %s", quoteShort(word), quote(p.info.Word))}
	if near := suggest(word, words); near != "" {
		fault.offer(first.Span, near)
	} else {
		fault.Message += "; its lines begin with " + strings.Join(words, " ")
	}
	return fault
}

// statement parses a line by its production, and then asks the statement whether its values make sense.
func (p *blockParser) statement(kind LineKindInfo, l *Line) (Statement, *Fault) {
	stmt, err := kind.parse(l.Text)
	if err != nil {
		return nil, explain(err, kind, l.Text)
	}
	if checked, ok := stmt.(interface{ check(line string) *Fault }); ok {
		if fault := checked.check(l.Text); fault != nil {
			return nil, fault
		}
	}
	return stmt, nil
}

// row reads a table's row: the first one names the columns, and where that one is broken the others are muted.
func (p *blockParser) row(i int, l *Line) {
	b := p.block
	left := len(b.Lines) - i
	// Where rows stay mostly one is read anew, beside the names of the columns; and a slab lasts as long as any of its rows.
	if p.rowsStay() || p.before != nil && b.Header < 0 {
		left = min(left, max(p.anew, 1))
		p.anew++
	}
	p.rows.expect, p.rows.left = left*max(len(b.Columns), 1), left
	cells, comment, ok := p.rows.read(l.Text)
	if !ok {
		p.comment(l)
		l.Kind, l.Fault = BadLine, explainRow(l.Text, len(b.Columns))
		b.Muted = b.Muted || b.Header < 0 && foreignComment(l.Text, l.Content().Start) == nil
		return
	}
	l.Cells, l.Comment = cells, comment
	if comment != (Span{}) {
		l.Allow = parseAllow(l.Text, comment)
	}
	if b.Header < 0 {
		l.Kind = HeaderLine
		if b.Columns, l.Fault = readHeader(p.info, l.Text, cells); l.Fault != nil {
			l.Kind, b.Muted = BadLine, true
		}
		b.Header = i
		return
	}
	if b.Columns[0].Kind == TimeColumn && l.CellText(0) == b.Columns[0].Name {
		l.Kind, b.Muted = BadLine, true
		l.Fault = &Fault{Span: l.Content(), Message: fmt.Sprintf("these are the names of columns, but %s above has its own; the line that opens their table, such as `track CONTROL`, is missing above them", quote(p.info.Word))}
		return
	}
	l.Kind = RowLine
	if l.Fault = checkRow(p.info, b.Columns, l.Text, cells); l.Fault != nil {
		l.Kind = BadLine
		if fault := indentedOpener(l); fault != nil {
			l.Fault = fault
		}
	}
}

// strayOpener holds back what stands below a line of the body that would open a block if it were not indented: that is the
// other block's body.
func (p *blockParser) strayOpener(i int, l *Line) {
	if l.Kind == BadLine && i != p.block.Open && p.info != nil && indentedOpener(l) != nil {
		p.block.Muted = true
	}
}

// further lets a mend of a body line put right all its slips.
func (p *blockParser) further(i int, l *Line) {
	if l.Kind != BadLine || i == p.block.Open || p.info == nil || p.info.IsTable() && p.block.Header < 0 {
		return
	}
	l.Fault.mendFurther(l.Text, func(text string) *Fault { return p.reread(i, text) })
}

// reread gives what is wrong with another text in a line's place.
func (p *blockParser) reread(i int, text string) *Fault {
	again := Line{Text: text}
	switch {
	case strings.HasPrefix(strings.TrimLeftFunc(text, isSpace), "#"):
		return nil
	case i == p.block.Open:
		_, fault := p.statement(p.info.Opener, &again)
		return fault
	case !p.info.IsTable():
		p.entry(&again)
		return again.Fault
	}
	cells, _, ok := (&rowReader{expect: len(p.block.Columns)}).read(text)
	switch {
	case !ok:
		return explainRow(text, len(p.block.Columns))
	case p.block.Header < 0 || p.block.Header == i:
		_, fault := readHeader(p.info, text, cells)
		return fault
	}
	return checkRow(p.info, p.block.Columns, text, cells)
}

func parseTableRow(text string) (*TableRow, error) {
	parser, err := rowParser()
	if err != nil {
		return nil, err
	}
	return parser.ParseString("", text)
}
