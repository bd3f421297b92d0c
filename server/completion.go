package server

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// candidate is one thing that may be written at a place.
type candidate struct {
	label   string
	detail  string
	snippet string // with stops of the cursor; empty where the label is all there is
	plain   string // what a client without snippets writes; the label where empty
	kind    protocol.CompletionItemKind
	doc     string // of words of the language: how the line is written
	names   string // of names: the kind, for the documentation that is asked for later
	first   bool   // the one that is most likely meant
}

// completionData is what a client brings back to have an item documented.
type completionData struct {
	URI   string `json:"uri"`
	Names string `json:"names"`
	Key   string `json:"key"`
}

// asking is a place at which something is to be written.
type asking struct {
	snap    snapshot
	look    *sight // made when first needed
	block   *grammar.Block
	number  int // of the line in its block
	line    string
	column  int
	atoms   []grammar.Token // before the cursor, without the one that is being written
	partial grammar.Span    // of the atom that is being written, up to the cursor
	clicked bool            // the client asks of its own accord, at a space
}

// completion tells what may be written at the cursor, by its place in the grammar. It waits for no check and resolves no
// motion.
func (s *session) completion(_ context.Context, snap snapshot, params *protocol.CompletionParams) (any, error) {
	offset := snap.offsetOf(params.Position)
	a := askingAt(snap, offset)
	trigger := params.Context.TriggerCharacter
	a.clicked = trigger != nil && *trigger == " "
	items := []protocol.CompletionItem{}
	candidates := a.candidates()
	place := snap.rangeOf(offset-a.partial.Len(), offset)
	whole := place
	if s.client.replaces {
		whole.End = snap.positionOf(offset + a.rest())
	}
	for i, c := range candidates {
		item := s.completionItem(snap, &c, i, place)
		if edit, ok := item.TextEdit.(*protocol.TextEdit); ok && whole != place {
			item.TextEdit = &protocol.InsertReplaceEdit{NewText: edit.NewText, Insert: place, Replace: whole}
		}
		items = append(items, item)
	}
	return &protocol.CompletionList{Items: items}, nil
}

func (s *session) completionItem(snap snapshot, c *candidate, order int, place protocol.Range) protocol.CompletionItem {
	item := protocol.CompletionItem{
		Label: c.label, Kind: s.client.itemKind(c.kind), SortText: protocol.NewOptional(fmt.Sprintf("%04d", order)),
		InsertTextFormat: protocol.InsertTextFormatPlainText,
	}
	text := c.plain
	if text == "" {
		text = c.label
	}
	if c.snippet != "" && s.client.snippets {
		text, item.InsertTextFormat = c.snippet, protocol.InsertTextFormatSnippet
	}
	item.TextEdit = &protocol.TextEdit{Range: place, NewText: text}
	if c.detail != "" {
		item.Detail = protocol.NewOptional(c.detail)
	}
	if c.first && s.client.preselects {
		item.Preselect = protocol.NewOptional(true)
	}
	if c.doc != "" {
		item.Documentation = protocol.String(c.doc)
	}
	if c.names != "" {
		data, err := json.Marshal(completionData{string(snap.key), c.names, c.label})
		if err == nil {
			item.Data = data
		}
	}
	return item
}

// askingAt finds what stands before a byte of a document.
func askingAt(snap snapshot, offset int) *asking {
	tree := snap.tree()
	number := tree.LineAt(offset)
	start := tree.LineStart(number)
	line := strings.TrimRight(tree.Text[start:max(start, tree.LineStart(number+1))], "\r\n")
	a := &asking{snap: snap, line: line, column: min(max(offset-start, 0), len(line))}
	a.partial = grammar.Span{Start: a.column, End: a.column}
	if at := refAt(tree, offset); !at.IsZero() {
		a.block, a.number = at.Block, at.Line
		if first, ok := tree.LineNumber(at.Block.Ref(0, grammar.Span{})); ok {
			a.number = number - first // behind the last line end too, where the block has no line yet
		}
	}
	a.atoms = atomsOf(line[:a.column])
	if n := len(a.atoms); 0 < n && a.atoms[n-1].Span.End == a.column {
		a.partial = a.atoms[n-1].Span
		a.atoms = a.atoms[:n-1]
	}
	return a
}

// rest is how much of the atom that is being written stands behind the cursor. Strings have none: their quotes may be there
// or not.
func (a *asking) rest() int {
	for _, t := range atomsOf(a.line) {
		if t.Span.Start == a.partial.Start && t.Span.Contains(a.column) && t.Class != grammar.String {
			return t.Span.End - a.column
		}
	}
	return 0
}

func (a *asking) sight() *sight {
	if a.look == nil {
		a.look = a.snap.sight()
	}
	return a.look
}

// candidates are what may be written, the likeliest first.
func (a *asking) candidates() []candidate {
	before := a.line[:a.column]
	if comment := strings.IndexByte(before, '#'); 0 <= comment && strings.Count(before[:comment], `"`)%2 == 0 {
		return a.inComment(before[comment:])
	}
	typed := before[a.partial.Start:]
	if strings.HasPrefix(typed, `"`) {
		if a.block != nil && a.block.Kind == grammar.FamilyBlock && len(a.atoms) == 1 {
			return a.familyStrings(a.atom(0))
		}
		return a.fileNames()
	}
	indented := strings.HasPrefix(a.line, " ") || strings.HasPrefix(a.line, "\t")
	switch {
	case !indented && len(a.atoms) == 0:
		return a.openers()
	case !indented:
		info := blockNamed(a.line[a.atoms[0].Span.Start:a.atoms[0].Span.End])
		if info == nil {
			return nil
		}
		return a.next(info, info.Opener)
	case a.block == nil:
		return nil
	}
	info := grammar.InfoOf(a.block.Kind)
	switch {
	case info == nil:
		return nil
	case info.IsTable():
		return a.cell(info)
	case len(a.atoms) == 0:
		return a.lines(info)
	}
	if kind, ok := lineKindOf(info, a.atom(0)); ok {
		return a.next(info, kind)
	}
	return nil
}

func (a *asking) atom(i int) string {
	return a.line[a.atoms[i].Span.Start:a.atoms[i].Span.End]
}

// inComment offers the allowance of a rule, and the rules' names in it.
func (a *asking) inComment(comment string) []candidate {
	inside := strings.TrimLeft(strings.TrimPrefix(comment, "#"), " ")
	rest, allows := strings.CutPrefix(inside, "allow ")
	switch {
	case allows && !strings.ContainsAny(strings.TrimLeft(rest, " "), " :"):
		name := strings.TrimLeft(rest, " ")
		a.partial = grammar.Span{Start: a.column - len(name), End: a.column}
		return ruleNames(": ")
	case strings.HasPrefix("allow", inside) && len(inside) < len("allow"):
		a.partial = grammar.Span{Start: a.column - len(inside), End: a.column}
		return []candidate{{
			label: "allow", kind: protocol.CompletionItemKindKeyword, detail: "leave a rule silent here",
			snippet: "allow ${1:RULE}: ${2:reason}", plain: "allow ",
		}}
	}
	return nil
}

func ruleNames(behind string) []candidate {
	var out []candidate
	for _, rule := range lint.Rules() {
		out = append(out, candidate{
			label: rule.Name, kind: protocol.CompletionItemKindEnumMember, detail: rule.Doc.Reports, names: "rule",
			plain: rule.Name + behind,
		})
	}
	return out
}

// openers are the words that open a block, each with the first lines of its body.
func (a *asking) openers() []candidate {
	var out []candidate
	for _, info := range grammar.Blocks() {
		ways := usageWays(info.Opener)
		plain, snippet := sample(ways[0])
		if info.IsTable() {
			stops := 1 + strings.Count(snippet, "${")
			snippet += "\n  " + headerSnippet(&info, stops)
		} else {
			snippet += "\n  $0"
		}
		out = append(out, candidate{
			label: info.Word, kind: protocol.CompletionItemKindKeyword, detail: info.Opener.Usage,
			plain: info.Word, snippet: snippet, doc: plain,
		})
	}
	return out
}

// headerSnippet is a table's row of column names, those that no row may leave out, on the formatter's stops.
func headerSnippet(info *grammar.BlockInfo, nextStop int) string {
	var out strings.Builder
	for _, c := range info.Columns {
		if c.Required {
			out.WriteString(fmt.Sprintf("%-*s", c.Width, c.Name))
		}
	}
	text := strings.TrimRight(out.String(), " ")
	if info.Channels {
		text = fmt.Sprintf("%-*s", info.Columns[0].Width, text) + stop(nextStop, "CHANNEL")
	}
	return text + "\n  $0"
}

func blockNamed(word string) *grammar.BlockInfo {
	blocks := grammar.Blocks()
	for i := range blocks {
		if blocks[i].Word == word {
			return &blocks[i]
		}
	}
	return nil
}

// lineKindOf is the kind of a body line by its first word.
func lineKindOf(info *grammar.BlockInfo, word string) (entry grammar.LineKindInfo, found bool) {
	for _, kind := range info.Lines {
		if kind.Word == word {
			return kind, true
		}
		if kind.Word == "" {
			entry, found = kind, true
		}
	}
	return entry, found
}

// resolveCompletion documents an item: what the name in it stands for.
func (s *session) resolveCompletion(req *jsonrpc2.Request) (work, error) {
	item := new(protocol.CompletionItem)
	if err := decode(req, item); err != nil {
		return nil, err
	}
	item, err := protocol.Clone(item)
	if err != nil {
		return nil, err
	}
	var data completionData
	if err := json.Unmarshal(item.Data, &data); err != nil {
		return func(context.Context) (any, error) { return item, nil }, nil
	}
	snap, ok := s.snapshot(uri.URI(data.URI))
	return func(context.Context) (any, error) {
		if !ok {
			return item, nil
		}
		if c, found := documented(snap, data); found {
			item.Documentation = c.markup(s.client.itemMarkdown)
		}
		return item, nil
	}, nil
}

// documented is the card of a name that was offered.
func documented(snap snapshot, data completionData) (card, bool) {
	switch data.Names {
	case "rule":
		return ruleCard(&grammar.Allow{Rule: data.Key})
	case poseName.String():
		return poseCard(snap.motion(), data.Key)
	}
	return patternCard(snap.motion(), data.Key)
}

// markup is a card in the client's markup.
func (c *card) markup(markdown bool) *protocol.MarkupContent {
	if markdown {
		return &protocol.MarkupContent{Kind: protocol.MarkupKindMarkdown, Value: c.markdown()}
	}
	return &protocol.MarkupContent{Kind: protocol.MarkupKindPlainText, Value: c.plain()}
}
