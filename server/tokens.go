package server

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// tokenKind is an index into tokenTypes.
type tokenKind uint32

// The kinds of tokens, by what an editor's colours make of them.
const (
	keywordToken tokenKind = iota
	commentToken
	stringToken
	numberToken
	timeToken
	markToken
	sheetToken
	controlToken
	channelToken
	poseToken
	layerToken
	easeToken
	ruleToken
	choiceToken
)

// tokenTypes are the protocol's names of the kinds (LSP 3.18, SemanticTokenTypes), which editors have colours for.
var tokenTypes = []string{
	"keyword", "comment", "string", "number", "label", "operator", "class", "variable", "property", "enum", "interface",
	"function", "macro", "enumMember",
}

// tokenModifiers has the one modifier in use, for names that come into being.
var tokenModifiers = []string{"declaration"}

var tokenOfName = map[nameKind]tokenKind{
	bodyName: controlToken, channelName: channelToken, poseName: poseToken, layerName: layerToken, easeName: easeToken,
	quiverName: layerToken, breathName: layerToken, sheetName: sheetToken, rigName: sheetToken, familyName: sheetToken, morphName: controlToken,
}

// painter gathers the tokens of lines in the protocol's form: five numbers each, places counted from the token before.
type painter struct {
	snap   snapshot
	data   []uint32
	line   uint32
	column uint32
	begins int // the line of the document at which the block begins; 0 where lines are counted from the block
	// odd says that the client's lines are not the grammar's, or that a byte order mark stands before the first.
	odd bool
}

// blockTokens are the tokens of a block, its lines counted from its own first.
type blockTokens struct {
	data []uint32
	last uint32 // the line of the last token
}

// tokens are the coloured tokens of the whole text. Blocks that an edit left alone are taken over from before.
func (snap snapshot) tokens(before map[*grammar.Block]blockTokens) (data []uint32, now map[*grammar.Block]blockTokens) {
	tree := snap.tree()
	if snap.odd() {
		return snap.tokensOf(0, tree.LineCount()), nil
	}
	now = make(map[*grammar.Block]blockTokens, len(tree.Blocks))
	size := 0
	for _, b := range tree.Blocks {
		t, ok := before[b]
		if !ok {
			p := painter{snap: snap}
			p.block(b, 0, len(b.Lines))
			t = blockTokens{p.data, p.line}
		}
		now[b] = t
		size += len(t.data)
	}
	data = make([]uint32, 0, size)
	first, line := uint32(0), uint32(0)
	for _, b := range tree.Blocks {
		if t := now[b]; 0 < len(t.data) {
			at := len(data)
			data = append(data, t.data...)
			data[at] += first - line
			line = first + t.last
		}
		first += uint32(len(b.Lines))
	}
	return data, now
}

// odd tells whether places of the client's are not simply those of the grammar's lines.
func (snap snapshot) odd() bool {
	return len(snap.starts) != snap.tree().LineCount() || snap.tree().LineStart(0) != 0
}

// tokensOf are the tokens of the lines from one up to and without another.
func (snap snapshot) tokensOf(from, to int) []uint32 {
	tree := snap.tree()
	p := &painter{snap: snap, odd: snap.odd(), data: []uint32{}}
	first := 0
	for _, b := range tree.Blocks {
		if first < to && from < first+len(b.Lines) {
			p.begins = first
			p.block(b, max(from-first, 0), min(to-first, len(b.Lines)))
		}
		first += len(b.Lines)
	}
	return p.data
}

// block paints the lines of a block from one up to and without another.
func (p *painter) block(b *grammar.Block, from, to int) {
	info := grammar.InfoOf(b.Kind)
	names := blockMentions(nil, b)
	slices.SortStableFunc(names, func(x, y mention) int {
		if x.at.Line != y.at.Line {
			return x.at.Line - y.at.Line
		}
		return x.at.Span.Start - y.at.Span.Start
	})
	for i := range b.Lines {
		ofLine := 0
		for ofLine < len(names) && names[ofLine].at.Line == i {
			ofLine++
		}
		if from <= i && i < to {
			p.paintLine(b, info, i, names[:ofLine])
		}
		names = names[ofLine:]
	}
}

func (p *painter) paintLine(b *grammar.Block, info *grammar.BlockInfo, i int, names []mention) {
	l := &b.Lines[i]
	paint := func(span grammar.Span, kind tokenKind, modifiers uint32) { p.add(l.Text, i, span, kind, modifiers) }
	named := func(span grammar.Span) bool {
		found := false
		for ; 0 < len(names) && names[0].at.Span.End <= span.End; names = names[1:] {
			modifiers := uint32(0)
			if names[0].declares {
				modifiers = 1
			}
			paint(names[0].at.Span, tokenOfName[names[0].kind], modifiers)
			found = true
		}
		return found
	}
	if l.Kind == grammar.RowLine || l.Kind == grammar.HeaderLine {
		for c := range l.Cells {
			cell := &l.Cells[c]
			if 0 < len(names) && names[0].kind == morphName && cell.Span.Start < names[0].at.Span.Start && names[0].at.Span.End <= cell.Span.End {
				paint(grammar.Span{Start: cell.Span.Start, End: names[0].at.Span.Start}, choiceToken, 0)
			}
			switch {
			case named(cell.Span):
			case l.Kind == grammar.HeaderLine:
				paint(cell.Span, keywordToken, 0)
			default:
				paintAtom(paint, l.Text, cell.Span, cell.Class, choiceToken)
			}
		}
	} else {
		p.atoms(paint, named, b, info, l, i)
	}
	paintComment(paint, l)
}

// atoms paints a line that is no row of a table. What can't be told in a line that does not parse has no colour.
func (p *painter) atoms(paint func(grammar.Span, tokenKind, uint32), named func(grammar.Span) bool, b *grammar.Block, info *grammar.BlockInfo, l *grammar.Line, i int) {
	for n, t := range atomsOf(l.Text) {
		word := choiceToken
		if l.Stmt != nil {
			word = keywordToken
		}
		text := l.Text[t.Span.Start:t.Span.End]
		switch {
		case named(t.Span):
		case n == 0 && t.Class == grammar.Word && info != nil && (i == b.Open || isLineWord(info, text)):
			paint(t.Span, keywordToken, 0)
		case t.Class == grammar.Word && l.Stmt == nil:
		default:
			paintAtom(paint, l.Text, t.Span, t.Class, word)
		}
	}
}

func isLineWord(info *grammar.BlockInfo, word string) bool {
	return slices.ContainsFunc(info.Lines, func(k grammar.LineKindInfo) bool { return k.Word == word })
}

func paintAtom(paint func(grammar.Span, tokenKind, uint32), text string, span grammar.Span, class grammar.Class, word tokenKind) {
	switch class {
	case grammar.Number, grammar.Percent, grammar.Quantity, grammar.Easing, grammar.Limits, grammar.Fraction, grammar.Unit, grammar.Direction:
		paint(span, numberToken, 0)
	case grammar.Marked:
		mark := span.Start + strings.IndexAny(text[span.Start:span.End], "~^>=@")
		paint(grammar.Span{Start: span.Start, End: mark}, numberToken, 0)
		paint(grammar.Span{Start: mark, End: span.End}, markToken, 0)
	case grammar.TimeAtom, grammar.RangeAtom:
		paint(span, timeToken, 0)
	case grammar.String:
		paint(span, stringToken, 0)
	case grammar.Word, grammar.Pattern, grammar.Path:
		if _, morph := grammar.MorphOf(text[span.Start:span.End]); morph && word == choiceToken {
			word = controlToken // a name of the character's file, and no word of the language
		}
		paint(span, word, 0)
	}
}

// paintComment paints a comment, and in an allowance its rule apart.
func paintComment(paint func(grammar.Span, tokenKind, uint32), l *grammar.Line) {
	if l.Comment.Len() == 0 {
		return
	}
	if l.Allow == nil {
		paint(l.Comment, commentToken, 0)
		return
	}
	paint(grammar.Span{Start: l.Comment.Start, End: l.Allow.At.Start}, commentToken, 0)
	paint(l.Allow.At, ruleToken, 0)
	paint(grammar.Span{Start: l.Allow.At.End, End: l.Comment.End}, commentToken, 0)
}

// add appends a token of a block's line. Nearly every line is ASCII, where all units count alike.
func (p *painter) add(text string, i int, span grammar.Span, kind tokenKind, modifiers uint32) {
	if span.Len() <= 0 {
		return
	}
	line, column, length := uint32(p.begins+i), uint32(span.Start), uint32(span.Len())
	switch {
	case p.odd:
		start := p.snap.tree().LineStart(p.begins + i)
		from, to := p.snap.positionOf(start+span.Start), p.snap.positionOf(start+span.End)
		if from.Line != to.Line {
			return // a lone carriage return ends a line for the client and not for the grammar
		}
		line, column, length = from.Line, from.Character, to.Character-from.Character
	case p.snap.units != utf8Units && asciiPrefix(text[:span.End]) < span.End:
		column = p.counted(text[:span.Start])
		length = p.counted(text[:span.End]) - column
	}
	back := uint32(0)
	if line == p.line {
		back = p.column
	}
	p.data = append(p.data, line-p.line, column-back, length, uint32(kind), modifiers)
	p.line, p.column = line, column
}

// counted is the length of a text in the client's units.
func (p *painter) counted(text string) uint32 {
	n := 0
	for _, r := range text {
		n += p.snap.width(r)
	}
	return uint32(n)
}

// painted remembers the last tokens that each document was sent, so that the next answer can be what changed.
type painted struct {
	mu   sync.Mutex
	last map[uri.URI]sentTokens
	made int
}

type sentTokens struct {
	id     string
	data   []uint32
	blocks map[*grammar.Block]blockTokens
}

// of are the tokens that a document was sent last.
func (p *painted) of(key uri.URI) sentTokens {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.last[key]
}

// keep remembers tokens as the last ones of a document, and gives their id.
func (p *painted) keep(key uri.URI, sent sentTokens) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.made++
	sent.id = strconv.Itoa(p.made)
	if p.last == nil {
		p.last = map[uri.URI]sentTokens{}
	}
	p.last[key] = sent
	return sent.id
}

// drop forgets a document that was closed.
func (p *painted) drop(key uri.URI) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.last, key)
}

func (s *session) tokensFull(_ context.Context, snap snapshot, _ *protocol.SemanticTokensParams) (any, error) {
	data, blocks := snap.tokens(s.painted.of(snap.key).blocks)
	id := s.painted.keep(snap.key, sentTokens{data: data, blocks: blocks})
	return &protocol.SemanticTokens{ResultID: &id, Data: data}, nil
}

// tokensDelta answers with what changed since the tokens that the client has, and with all where it has others.
func (s *session) tokensDelta(_ context.Context, snap snapshot, params *protocol.SemanticTokensDeltaParams) (any, error) {
	before := s.painted.of(snap.key)
	data, blocks := snap.tokens(before.blocks)
	id := s.painted.keep(snap.key, sentTokens{data: data, blocks: blocks})
	if before.id == "" || before.id != params.PreviousResultID {
		return &protocol.SemanticTokens{ResultID: &id, Data: data}, nil
	}
	return &protocol.SemanticTokensDelta{ResultID: &id, Edits: tokenEdits(before.data, data)}, nil
}

func (s *session) tokensRange(_ context.Context, snap snapshot, params *protocol.SemanticTokensRangeParams) (any, error) {
	tree := snap.tree()
	from, to := tree.LineAt(snap.offsetOf(params.Range.Start)), tree.LineAt(snap.offsetOf(params.Range.End))
	return &protocol.SemanticTokens{Data: snap.tokensOf(from, to+1)}, nil
}

// tokenEdits is the one edit, in whole tokens, between what both begin and end with; none where nothing changed.
func tokenEdits(before, after []uint32) []protocol.SemanticTokensEdit {
	front := 0
	for front < min(len(before), len(after)) && before[front] == after[front] {
		front++
	}
	front -= front % 5
	back := 0
	for back < min(len(before), len(after))-front && before[len(before)-1-back] == after[len(after)-1-back] {
		back++
	}
	back -= back % 5
	if front == len(before) && front == len(after) {
		return []protocol.SemanticTokensEdit{}
	}
	return []protocol.SemanticTokensEdit{{
		Start: uint32(front), DeleteCount: uint32(len(before) - front - back), Data: after[front : len(after)-back],
	}}
}
