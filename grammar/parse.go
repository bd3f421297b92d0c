package grammar

import (
	"errors"
	"fmt"
	"strings"

	"github.com/alecthomas/participle/v2"
)

// parseBlock makes the tree of one block. The text is copied, so that a tree taken over into later versions of a file
// does not keep the whole earlier text alive.
func parseBlock(path string, raw rawBlock) *Block {
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
	p := blockParser{block: b, info: info}
	for i := range b.Lines {
		p.line(i)
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
	block *Block
	info  *BlockInfo // nil in the preamble and in an unknown block
	rows  rowReader
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
	if at == 0 && i != p.block.Open && l.Fault == nil && (l.Kind == EntryLine || l.Kind == RowLine || l.Kind == HeaderLine) {
		l.Fault = &Fault{
			Span: l.Content(), Note: true,
			Message: fmt.Sprintf("this line belongs to %s above, but is not indented; body lines start with two spaces", quote(p.info.Word)),
			Title:   "indent the line", Edits: []LineEdit{{Span{}, "  "}},
		}
	}
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
		if near := Nearest(l.Text[:word.End], blockWords()); near != "" {
			l.Fault.offer(word, near)
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
	fault := &Fault{Span: first.Span, Message: fmt.Sprintf("%s is not a line of %s", quoteShort(word), quote(p.info.Word))}
	if near := Nearest(word, words); near != "" {
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

// explain turns participle's error into a message for people: an atom that is nothing at all is named as such, and
// everything else is told by what stands there and what the line should look like.
func explain(err error, kind LineKindInfo, text string) *Fault {
	if fault := illegalAtom(text); fault != nil {
		return fault
	}
	var unexpected *participle.UnexpectedTokenError
	if !errors.As(err, &unexpected) {
		fault := &Fault{Span: Span{0, len(text)}, Message: err.Error()}
		var placed participle.Error
		if errors.As(err, &placed) {
			fault.Message = placed.Message()
			fault.Span.Start = placed.Position().Offset
		}
		return fault
	}
	token := unexpected.Unexpected
	if token.EOF() {
		end := len(strings.TrimRight(trimComment(text), " \t"))
		start := end
		for start > 0 && isAtomRune(rune(text[start-1])) {
			start--
		}
		return &Fault{Span: Span{start, end}, Message: fmt.Sprintf("the line ends too soon; write %s", usage(kind))}
	}
	span := Span{token.Pos.Offset, token.Pos.Offset + len(token.Value)}
	fault := &Fault{Span: span, Message: fmt.Sprintf("%s cannot stand here; write %s", quoteShort(token.Value), usage(kind))}
	if near := Nearest(token.Value, lowerWords(kind.Usage)); near != "" && near != token.Value {
		fault.offer(span, near)
	}
	return fault
}

func usage(kind LineKindInfo) string { return quote(kind.Usage) }

// lowerWords are the words of a usage that stand for themselves.
func lowerWords(usage string) []string {
	var words []string
	for _, w := range strings.FieldsFunc(usage, func(r rune) bool { return r == ' ' || r == ',' }) {
		if w == strings.ToLower(w) && Classify(w) == Word && len(w) > 2 {
			words = append(words, w)
		}
	}
	return words
}

func trimComment(text string) string {
	for at := 0; at < len(text); {
		t := nextToken(text, at)
		if t.Class == Comment {
			return text[:t.Span.Start]
		}
		at = t.Span.End
	}
	return text
}

// illegalAtom gives the fault of the first atom of a line that belongs to no class.
func illegalAtom(text string) *Fault {
	for at := 0; at < len(text); {
		t := nextToken(text, at)
		if t.Class == Illegal {
			message, instead := diagnoseAtom(text[t.Span.Start:t.Span.End])
			fault := &Fault{Span: t.Span, Message: message}
			if instead != "" {
				fault.Title = "write " + quoteShort(instead)
				fault.Edits = []LineEdit{{t.Span, instead}}
			}
			return fault
		}
		at = t.Span.End
	}
	return nil
}

// row reads a table's row: the first one names the columns, and where that one is broken the others are muted.
func (p *blockParser) row(i int, l *Line) {
	b := p.block
	p.rows.expect = (len(b.Lines) - i) * max(len(b.Columns), 1)
	cells, comment, ok := p.rows.read(l.Text)
	if !ok {
		p.comment(l)
		l.Kind, l.Fault = BadLine, explainRow(l.Text)
		b.Muted = b.Muted || b.Header < 0
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
	l.Kind = RowLine
	if l.Fault = checkRow(p.info, b.Columns, l.Text, cells); l.Fault != nil {
		l.Kind = BadLine
	}
}

// explainRow says why a row does not read, by the production that defines rows.
func explainRow(text string) *Fault {
	_, err := parseTableRow(text)
	if err == nil {
		return &Fault{Span: Span{0, len(text)}, Message: "a number of this row has too many digits to be kept exactly"}
	}
	return explain(err, LineKindInfo{Usage: "names, numbers, times and . for empty cells, with spaces between"}, text)
}

func parseTableRow(text string) (*TableRow, error) {
	parser, err := participle.ParserForProduction[TableRow](rootParser())
	if err != nil {
		return nil, err
	}
	return parser.ParseString("", text)
}
