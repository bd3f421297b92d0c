package grammar

import (
	"reflect"
	"strings"
	"sync"

	"github.com/alecthomas/participle/v2"
)

// Statement is a parsed line that is not a table row: one of the line types of productions.go.
type Statement interface{ Where() Span }

// BlockKind says what a block is.
type BlockKind uint8

// The kinds of blocks. Preamble is what stands above a file's first block; UnknownBlock is one with a misspelt word.
const (
	Preamble BlockKind = iota
	UnknownBlock
	SheetBlock
	RigBlock
	JointsBlock
	ChannelsBlock
	ChainsBlock
	PairsBlock
	PoseBlock
	BlockingBlock
	TrackBlock
	AmendBlock
	EasesBlock
	OverlapBlock
	FollowBlock
	LayerBlock
	QuiverBlock
	BreathBlock
	PlantBlock
	ChangeBlock
	NotesBlock
	HouseBlock
	FamilyBlock
)

// Word is the word that opens such a block.
func (k BlockKind) Word() string {
	for _, b := range blockKinds() {
		if b.Kind == k {
			return b.Word
		}
	}
	return ""
}

// String is the word that opens such a block, or a description of the two kinds without one.
func (k BlockKind) String() string {
	switch k {
	case Preamble:
		return "text above the first block"
	case UnknownBlock:
		return "unknown block"
	}
	return k.Word()
}

// LineKindInfo describes one kind of line: the word it begins with, empty for a list's entries, and how it is written.
// In Usage, words in capitals stand for names, what is in brackets may be left out, and | parts alternatives.
type LineKindInfo struct {
	Word       string
	Usage      string
	parse      func(line string) (Statement, error)
	production reflect.Type
}

// LineWord is a word of the language inside a line.
type LineWord struct {
	Text string
	// Choice says that the word is one of several values, such as `front` behind `view`, and no joint of the line, such as
	// `in` or `every`.
	Choice bool
}

// Words lists the words of the language that the line's production has, in their order there: the one that it begins with,
// those between its values, and those that are values. Lines that share a production share the list.
func (k LineKindInfo) Words() []LineWord {
	var words []LineWord
	for i := range k.production.NumField() {
		rule := k.production.Field(i).Tag.Get("parser")
		for at := strings.IndexByte(rule, '\''); at >= 0; at = strings.IndexByte(rule, '\'') {
			text, rest, _ := strings.Cut(rule[at+1:], "'")
			// participle writes what a field keeps behind @: one word, or a group of alternatives.
			kept := strings.TrimRight(rule[:at], "( |")
			words = append(words, LineWord{text, strings.HasSuffix(kept, "@")})
			rule = rule[:at] + rest
		}
	}
	return words
}

// BlockInfo describes one kind of block: how it opens, and the lines or the columns of its body. It is the one list
// from which the parser, the completion and the editors' colours take the words of the language.
type BlockInfo struct {
	Kind    BlockKind
	Word    string
	Opener  LineKindInfo
	Lines   []LineKindInfo // of a header or a list; empty for a table
	Columns []ColumnInfo   // of a table; empty for a header or a list
	// Channels says that the columns of a table, besides those named, are channels, and that every row has a cell for
	// each.
	Channels bool
}

// IsTable tells whether the body is a table.
func (b *BlockInfo) IsTable() bool { return len(b.Columns) > 0 }

// Blocks lists every kind of block.
func Blocks() []BlockInfo { return blockKinds() }

var blockOf = sync.OnceValue(func() map[string]*BlockInfo {
	found := map[string]*BlockInfo{}
	list := blockKinds()
	for i := range list {
		found[list[i].Word] = &list[i]
	}
	return found
})

// InfoOf describes a kind of block; it is nil for [Preamble] and [UnknownBlock].
func InfoOf(kind BlockKind) *BlockInfo { return blockOf()[kind.Word()] }

// production promises the parser of one production to whoever asks first. Each is built alone: a sheet uses a dozen of
// the sixty, and building them all takes longer than checking it.
func production[P any]() func() (*participle.Parser[P], error) {
	return sync.OnceValues(func() (*participle.Parser[P], error) {
		return participle.Build[P](
			participle.Lexer(lineLexerDefinition{}),
			participle.Elide(Space.String(), Comment.String()),
			participle.UseLookahead(participle.MaxLookahead),
		)
	})
}

var (
	rootParser = production[Production]()
	rowParser  = production[TableRow]()
)

// EBNF is the language as participle prints it: one production a line.
func EBNF() string {
	parser, err := rootParser()
	if err != nil {
		panic(err) // The productions are constant, and the tests build them.
	}
	return parser.String()
}

// line makes a line kind that is parsed by production P.
func line[P any, S interface {
	*P
	Statement
}](word, usage string,
) LineKindInfo {
	return lineBy[P, S](production[P](), word, usage)
}

// lineBy makes a line kind of a production that several line kinds share.
func lineBy[P any, S interface {
	*P
	Statement
}](parser func() (*participle.Parser[P], error), word, usage string,
) LineKindInfo {
	var known knownLines
	parse := func(text string) (Statement, error) {
		if stmt := known.find(text); stmt != nil {
			return stmt, nil
		}
		p, err := parser()
		if err != nil {
			return nil, err
		}
		text = strings.Clone(text) // the node holds on to it, and shall not hold on to the whole file
		node, err := p.ParseString("", text)
		if err != nil {
			return nil, err
		}
		known.add(text, S(node))
		return S(node), nil
	}
	return LineKindInfo{word, usage, parse, reflect.TypeFor[P]()}
}

// knownLines are the last lines of one kind and what they were parsed as. The sheets of a show have most of their lines
// in common but for the rows, and a statement never changes, so one can stand for all lines that read the same.
type knownLines struct {
	mu    sync.RWMutex
	nodes map[string]Statement
}

// mostKnown lines of a kind are kept: more than one show has that are worth it, and less than a megabyte in all.
const mostKnown, longestKnown = 256, 120

func (k *knownLines) find(text string) Statement {
	k.mu.RLock()
	defer k.mu.RUnlock()
	return k.nodes[text]
}

func (k *knownLines) add(text string, node Statement) {
	if len(text) > longestKnown {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.nodes == nil || len(k.nodes) >= mostKnown {
		k.nodes = map[string]Statement{}
	}
	k.nodes[text] = node
}

var blockKinds = sync.OnceValue(func() []BlockInfo {
	plainParser := production[PlainLine]()
	plain := func(word string) LineKindInfo { return lineBy[PlainLine](plainParser, word, word) } // a block without a name
	layerParser, amountParser := production[LayerEntry](), production[AmountLine]()
	return []BlockInfo{
		{Kind: SheetBlock, Word: "sheet", Opener: line[SheetLine]("sheet", "sheet NAME"), Lines: []LineKindInfo{
			line[RigEntryLine]("rig", `rig NAME [in "FILE"]`),
			line[FromLine]("from", `from NAME [in "FILE"]`),
			line[RateLine]("rate", "rate 24 fps"),
			line[TempoLine]("tempo", "tempo 80 bpm"),
			line[BeatLine]("beat", "beat 18f"),
			line[CycleLine]("cycle", "cycle 4b"),
			line[SpanLine]("span", "span 48f"),
			line[LeavesLine]("leaves", `leaves IDLE [in "FILE"] at 2b`),
			line[RejoinsLine]("rejoins", `rejoins IDLE [in "FILE"] at 0b`),
			line[PhaseLine]("phase", "phase 1b"),
			line[AdvanceLine]("advance", "advance CONTROL/CHANNEL 120"),
			line[GridLine]("grid", "grid 1/2b"),
			line[ViewLine]("view", "view front, side, three-quarter or round"),
		}},
		{Kind: RigBlock, Word: "rig", Opener: line[RigLine]("rig", "rig NAME"), Lines: []LineKindInfo{
			line[HeightLine]("height", "height 168"),
			line[BreathesLine]("breathes", "breathes 12..20"),
			line[ModelLine]("model", `model "FILE"`),
		}},
		{Kind: JointsBlock, Word: "joints", Opener: plain("joints"), Columns: jointColumns},
		{Kind: ChannelsBlock, Word: "channels", Opener: plain("channels"), Columns: channelColumns},
		{Kind: ChainsBlock, Word: "chains", Opener: plain("chains"), Columns: chainColumns},
		{Kind: PairsBlock, Word: "pairs", Opener: plain("pairs"), Columns: pairColumns},
		{Kind: PoseBlock, Word: "pose", Opener: line[PoseLine]("pose", "pose NAME [mirrors OTHER | from OTHER]"), Lines: []LineKindInfo{
			line[PoseEntry]("", "CONTROL/CHANNEL VALUE"),
		}},
		{Kind: BlockingBlock, Word: "blocking", Opener: line[BlockingLine]("blocking", "blocking [every 4b]"), Columns: blockingColumns},
		{Kind: TrackBlock, Word: "track", Opener: line[TrackLine]("track", "track CONTROL [in LAYER] [every 1b]"), Columns: trackColumns, Channels: true},
		{Kind: AmendBlock, Word: "amend", Opener: line[AmendLine]("amend", "amend CONTROL [in LAYER]"), Columns: trackColumns, Channels: true},
		{Kind: EasesBlock, Word: "eases", Opener: plain("eases"), Lines: []LineKindInfo{
			line[EaseEntry]("", "NAME 0.3,0,0.1,1"),
		}},
		{Kind: OverlapBlock, Word: "overlap", Opener: plain("overlap"), Lines: []LineKindInfo{
			line[LateEntry]("", "CONTROL 3f"),
		}},
		{Kind: FollowBlock, Word: "follow", Opener: line[FollowLine]("follow", "follow CONTROL after LEADER"), Lines: []LineKindInfo{
			line[LagLine]("lag", "lag 2f"),
			line[SpringLine]("spring", "spring 1.8 Hz damping 0.45 | spring arrives 5f overshoot 15%"),
			line[GainLine]("", "CHANNEL 0.6 of CHANNEL"),
		}},
		{Kind: LayerBlock, Word: "layer", Opener: line[LayerLine]("layer", "layer NAME"), Lines: []LineKindInfo{
			lineBy[LayerEntry](layerParser, "adds", "adds"),
			lineBy[LayerEntry](layerParser, "replaces", "replaces"),
			lineBy[LayerEntry](layerParser, "strength", "strength 80%"),
		}},
		{Kind: QuiverBlock, Word: "quiver", Opener: line[QuiverLine]("quiver", "quiver NAME [in LAYER] [every 2b]"), Lines: []LineKindInfo{
			line[BandLine]("band", "band 0.6..2.5 Hz"),
			line[SeedLine]("seed", "seed 7"),
			lineBy[AmountLine](amountParser, "", "CONTROL/CHANNEL AMPLITUDE"),
		}},
		{Kind: BreathBlock, Word: "breath", Opener: line[BreathLine]("breath", "breath NAME [in LAYER] [every 4b]"), Lines: []LineKindInfo{
			line[CountLine]("count", "count 1"),
			line[InhaleLine]("inhale", "inhale 40%"),
			line[PauseLine]("pause", "pause 10%"),
			line[StartsLine]("starts", "starts 1b"),
			lineBy[AmountLine](amountParser, "", "CONTROL/CHANNEL DEPTH"),
		}},
		{Kind: PlantBlock, Word: "plant", Opener: plain("plant"), Lines: []LineKindInfo{
			line[PlantEntry]("", "GOAL 0b..4b [on JOINT]"),
		}},
		{Kind: ChangeBlock, Word: "change", Opener: plain("change"), Lines: []LineKindInfo{
			line[AmplifyLine]("amplify", "amplify CONTROL 60%"),
			line[ScaleLine]("scale", "scale CONTROL/CHANNEL 80%"),
			line[OffsetLine]("offset", "offset CONTROL/CHANNEL 4"),
			line[DelayLine]("delay", "delay CONTROL 2f"),
			line[MirrorLine]("mirror", "mirror [CONTROL]"),
			line[WithoutLine]("without", "without track CONTROL [in LAYER] | quiver NAME | breath NAME | follow CONTROL [after LEADER] | layer NAME | plant | notes | blocking | overlap"),
			line[ReseedLine]("reseed", "reseed 11"),
			line[SwapLine]("swap", "swap POSE POSE"),
			line[ReverseLine]("reverse", "reverse"),
			line[StartLine]("start", "start 2b"),
		}},
		{Kind: NotesBlock, Word: "notes", Opener: plain("notes"), Columns: noteColumns},
		{Kind: HouseBlock, Word: "house", Opener: plain("house"), Columns: houseColumns},
		{Kind: FamilyBlock, Word: "family", Opener: line[FamilyLine]("family", "family NAME"), Lines: []LineKindInfo{
			line[MembersLine]("members", `members "*.motet"`),
			line[EachLine]("each", "each CLIP CLIP …"),
			line[PatternLine]("name", `name "{who}-{clip}"`),
			line[OpeningLine]("opening", "opening same"),
			line[PhasesLine]("phases", "phases spread"),
			line[LengthsLine]("lengths", "lengths same"),
			line[DistinctLine]("distinct", "distinct 50%"),
		}},
	}
})
