package grammar

import (
	"slices"
	"strings"
)

// Parse makes the tree of a text. It never fails: what does not parse is a line with a Fault.
func Parse(path, text string) *File { return Reparse(nil, path, text) }

// Reparse makes the tree of a text that is an edit of another file's text. Blocks that are unchanged at the front and
// at the back are taken over as they are, so the work is that of the changed blocks. The answer is the same as
// [Parse]'s. Old may be nil.
func Reparse(old *File, path, text string) *File {
	if old != nil && old.Path != path {
		old = nil
	}
	f := &File{Path: path, Text: text, places: map[*Block]int{}}
	base := f.markLength()
	f.Blocks = blocksOf(old, path, text[base:])
	f.place(base, old)
	return f
}

// place works out where each block and line stands, for blocks of an old tree from where they stood there: lines are large,
// and are not looked at for it.
func (f *File) place(base int, old *File) {
	lines := 0
	for _, b := range f.Blocks {
		lines += len(b.Lines)
	}
	f.starts = make([]int, 0, lines)
	at := base
	for _, b := range f.Blocks {
		f.places[b] = len(f.starts)
		if before, ok := old.startsOf(b); ok {
			moved := at - before[0]
			for _, start := range before {
				f.starts = append(f.starts, start+moved)
			}
		} else {
			for i := range b.Lines {
				f.starts = append(f.starts, at+b.Lines[i].at)
			}
		}
		at += len(b.text)
	}
	if len(f.Text) == base || strings.HasSuffix(f.Text, "\n") {
		f.starts = append(f.starts, at) // the empty line behind the last line end
	}
}

// startsOf gives where a block's lines start; false where the tree does not have the block, or it has no line.
func (f *File) startsOf(b *Block) ([]int, bool) {
	if f == nil || len(b.Lines) == 0 {
		return nil, false
	}
	at, ok := f.places[b]
	if !ok {
		return nil, false
	}
	return f.starts[at : at+len(b.Lines)], true
}

// rawBlock is the text of a block and the word that opens it, empty in the preamble.
type rawBlock struct {
	text string
	word string
	open int // index of the opening line
}

// splitter cuts a text where a line in column 1 begins with a block word, or with a word that could be a misspelt one.
// Comments in column 1 right above such a line go with it. It may begin at a block of an old tree in front of which nothing
// has changed, and stop at one behind which nothing has.
type splitter struct {
	text  string
	start int    // where the first block begins
	above string // the word of the block before it, empty where there is none
	stops func(start int) bool
}

// split gives the blocks up to the one at which it stops; stopped is false where it came to the end.
func (s splitter) split() (out []rawBlock, stop int, stopped bool) {
	text, start := s.text, s.start
	current := rawBlock{word: s.above}
	comments, commentLines := -1, 0
	for at := start; at < len(text); {
		end := lineEnd(text, at)
		line := trimLineEnd(text[at:end])
		switch word := openingWord(line, current.word); {
		case word != "":
			from, open := at, 0
			if comments >= 0 {
				from, open = comments, commentLines
			}
			if from > start {
				current.text = text[start:from]
				out = append(out, current)
			}
			if s.stops(from) {
				return out, from, true
			}
			current, start = rawBlock{word: word, open: open}, from
			comments, commentLines = -1, 0
		case strings.HasPrefix(line, "#"):
			if comments < 0 {
				comments = at
			}
			commentLines++
		default:
			comments, commentLines = -1, 0
		}
		at = end
	}
	current.text = text[start:]
	return append(out, current), len(text), false
}

func lineEnd(text string, at int) int {
	if n := strings.IndexByte(text[at:], '\n'); n >= 0 {
		return at + n + 1
	}
	return len(text)
}

func trimLineEnd(line string) string {
	return strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r")
}

// openingWord gives the first word of a line that opens a block, the one above being opened by `above`. A line in
// column 1 that could be a body line of the block above is one: the missing indent is noted there.
func openingWord(line, above string) string {
	if line == "" || isSpace(rune(line[0])) || line[0] == '#' {
		return ""
	}
	first := nextToken(line, 0)
	word := line[first.Span.Start:first.Span.End]
	info, known := blockOf()[word]
	switch {
	case above == "" && known:
		return word
	case known:
		if word == "rig" && above == "sheet" && bodyWord(above, line, word) && !parses(info.Opener, line) {
			return ""
		}
		return word
	case first.Class != Word:
		return ""
	case above != "" && (bodyWord(above, line, word) || suggest(word, blockWords()) == ""):
		return ""
	}
	return word
}

func blockWords() []string {
	words := make([]string, 0, len(blockKinds()))
	for _, b := range blockKinds() {
		words = append(words, b.Word)
	}
	return words
}

func parses(kind LineKindInfo, line string) bool {
	_, err := kind.parse(line)
	return err == nil
}

// bodyWord tells whether a line reads as a body line of a block opened by `above`.
func bodyWord(above, line, word string) bool {
	info := blockOf()[above]
	if info == nil {
		return false
	}
	if info.IsTable() {
		return word == info.Columns[0].Name
	}
	kind, ok := info.lineKind(word)
	return ok && parses(kind, line)
}

// lineKind finds the kind of a body line by its first word.
func (b *BlockInfo) lineKind(word string) (LineKindInfo, bool) {
	entry, found := LineKindInfo{}, false
	for _, l := range b.Lines {
		if l.Word == word {
			return l, true
		}
		if l.Word == "" {
			entry, found = l, true
		}
	}
	return entry, found
}

// blocksOf parses the blocks of a text, taking over those of an old tree, nil for none, that stand unchanged at its front and
// at its back. What decides where a block ends is the next one's opening line and the comments right above that: so all blocks
// that are followed by one that is there as well are taken over without a look at their lines.
func blocksOf(old *File, path, text string) []*Block {
	var have []*Block
	if old != nil {
		have = old.Blocks
	}
	front, start := 0, 0 // blocks that are the same, and where they end
	for front < len(have) && strings.HasPrefix(text[start:], have[front].text) {
		start += len(have[front].text)
		front++
	}
	if front == len(have) && start == len(text) && front > 0 {
		return have
	}
	for front > 0 && (front == len(have) || !strings.HasSuffix(have[front-1].text, "\n")) { // whose opening line may have grown
		front--
		start -= len(have[front].text)
	}
	if front > 0 { // the last one may go on now
		front--
		start -= len(have[front].text)
	}
	back, end := len(have), len(text)
	ends := map[int]int{} // where the same blocks at the back start, and which they are
	for back > front && end-len(have[back-1].text) >= start && strings.HasSuffix(text[:end], have[back-1].text) {
		back--
		end -= len(have[back].text)
		ends[end] = back
	}
	s := splitter{text: text, start: start, stops: func(from int) bool {
		at, ok := ends[from]
		return ok && at > front
	}}
	if front > 0 {
		s.above = have[front-1].word()
	}
	raw, stop, stopped := s.split()
	back = len(have)
	if stopped {
		back = ends[stop]
	}
	out := slices.Grow(slices.Clone(have[:front]), len(raw)+len(have)-back)
	out = append(out, parseBlocks(have[front:back], path, raw)...)
	return append(out, have[back:]...)
}

// parseBlocks parses raw blocks, taking over those that stood in their place and are unchanged at the front and at the back.
func parseBlocks(have []*Block, path string, raw []rawBlock) []*Block {
	out := make([]*Block, len(raw))
	front := 0
	for front < len(raw) && front < len(have) && have[front].same(raw[front]) {
		out[front] = have[front]
		front++
	}
	for back := 1; back <= len(raw)-front && back <= len(have)-front && have[len(have)-back].same(raw[len(raw)-back]); back++ {
		out[len(raw)-back] = have[len(have)-back]
	}
	for i := range out {
		if out[i] != nil {
			continue
		}
		var before *Block
		if len(have) == len(raw) {
			before = have[i]
		}
		out[i] = parseBlock(path, raw[i], before)
	}
	return out
}

// same tells whether b is the tree of a raw block.
func (b *Block) same(raw rawBlock) bool { return b.text == raw.text && b.word() == raw.word }

func (b *Block) word() string {
	if b.Kind == UnknownBlock {
		first := nextToken(b.Lines[b.Open].Text, 0)
		return b.Lines[b.Open].Text[first.Span.Start:first.Span.End]
	}
	return b.Kind.Word()
}

var reAllow = expression(`^#\s*allow\s+([a-z][a-z0-9-]*)\s*(?:(:)\s*(.*?))?\s*$`)

// parseAllow reads `# allow RULE: reason` in a line's comment.
func parseAllow(text string, comment Span) *Allow {
	if !strings.Contains(text[comment.Start:comment.End], "allow") {
		return nil // as nearly all comments; the expression is not even compiled for them
	}
	m := reAllow().FindStringSubmatchIndex(text[comment.Start:comment.End])
	if m == nil {
		return nil
	}
	allow := &Allow{Span: comment, At: Span{m[2], m[3]}.Shift(comment.Start)}
	allow.Rule = text[allow.At.Start:allow.At.End]
	if m[4] >= 0 {
		allow.Reason = text[comment.Start+m[6] : comment.Start+m[7]]
	}
	return allow
}
