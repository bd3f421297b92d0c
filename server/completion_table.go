package server

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"go.lsp.dev/protocol"
)

// cell are what may be written in a table: column names in its first row, and what the column holds in the others.
func (a *asking) cell(info *grammar.BlockInfo) []candidate {
	b := a.block
	if b.Header < 0 || a.number <= b.Header || b.Muted {
		return a.columns(info)
	}
	if len(b.Columns) <= len(a.atoms) {
		return nil
	}
	column := &b.Columns[len(a.atoms)]
	words := func(kind protocol.CompletionItemKind, all ...string) []candidate {
		var out []candidate
		for _, w := range all {
			out = append(out, candidate{label: w, kind: kind})
		}
		return out
	}
	switch column.Kind {
	case grammar.TimeColumn:
		return a.times()
	case grammar.ValueColumn, grammar.NumberColumn:
		if a.partial.Len() == 0 && !a.clicked && column.Kind == grammar.ValueColumn {
			return a.values(len(a.atoms))
		}
		return a.marks(column)
	case grammar.ChoiceColumn:
		return words(protocol.CompletionItemKindEnumMember, column.Choices...)
	case grammar.UnitColumn:
		return words(protocol.CompletionItemKindUnit, "cm", "deg", "%")
	case grammar.AxisColumn:
		return words(protocol.CompletionItemKindEnumMember, "+x", "-x", "+y", "-y", "+z", "-z")
	case grammar.DrivesColumn:
		return a.drives()
	case grammar.EaseColumn:
		return a.declared(easeName)
	case grammar.PathColumn:
		return a.channels("")
	case grammar.LimitColumn:
		return a.limits()
	case grammar.NameColumn:
		return a.cellNames(info)
	}
	return nil
}

func (a *asking) cellNames(info *grammar.BlockInfo) []candidate {
	switch info.Kind {
	case grammar.BlockingBlock:
		return a.declared(poseName)
	case grammar.HouseBlock:
		return ruleNames("")
	case grammar.NotesBlock:
		return a.controls()
	}
	return a.declared(bodyName)
}

// columns are the names that a table's first row may have and does not have yet.
func (a *asking) columns(info *grammar.BlockInfo) []candidate {
	var there []string
	for i := range a.atoms {
		there = append(there, grammar.NameKey(a.atom(i)))
	}
	var out []candidate
	if len(a.atoms) == 0 {
		out = a.wholeHeader(info)
	}
	for _, c := range info.Columns {
		if !slices.Contains(there, c.Name) && (!info.Channels || (c.Name == "at") == (len(there) == 0)) {
			out = append(out, candidate{label: c.Name, kind: protocol.CompletionItemKindField})
		}
	}
	if control, _, ok := trackOf(a.block); ok && 0 < len(there) {
		out = append(a.channelNames(control, there), out...)
	}
	return out
}

// wholeHeader is the row of all column names that a row may not leave out.
func (a *asking) wholeHeader(info *grammar.BlockInfo) []candidate {
	var names []string
	var text strings.Builder
	add := func(name string, width int) {
		names = append(names, name)
		fmt.Fprintf(&text, "%-*s", width, name)
	}
	for _, c := range info.Columns {
		if c.Required {
			add(c.Name, c.Width)
		}
	}
	if control, _, ok := trackOf(a.block); ok {
		for _, channel := range a.sight().channelsOf(control) {
			add(channel, info.Columns[0].Width)
		}
	}
	if len(names) < 2 {
		return nil
	}
	return []candidate{{
		label: strings.Join(names, " "), plain: strings.TrimRight(text.String(), " "),
		kind: protocol.CompletionItemKindSnippet, detail: "the columns of " + info.Word,
	}}
}

// times are the lines of the grid between the rows above and below, or behind the row's own time for its `until`.
func (a *asking) times() []candidate {
	c := a.clock()
	above, below, like, found := rowTimes(c, a.block, a.number)
	if 0 < len(a.atoms) {
		own, ok := grammar.ParseTime(a.atom(0))
		if !ok {
			return nil
		}
		above, like, found = own.In(c.Rate, c.Beat), a.atom(0), true
	}
	var out []candidate
	for _, t := range gridTimes(c, above, below, !found) {
		out = append(out, candidate{
			label: timeLike(c, like, t), kind: protocol.CompletionItemKindValue, first: len(out) == 0,
			detail: "frame " + mixed(t) + " · " + figure(c.Seconds(t).Float(), 3) + " s",
		})
	}
	return out
}

// markTells are the shape marks and what the curve does at such a key.
var markTells = []struct{ mark, does string }{
	{"^", "rests here"}, {">", "goes straight to the next key"}, {"=", "stays until the next key"}, {"~", "smooth"},
}

// marks are the ways to write a key whose number stands already, and the empty cell where none does. A client that asks
// by itself at every space gets nothing, since a number is most likely.
func (a *asking) marks(column *grammar.Column) []candidate {
	typed := a.line[a.partial.Start:a.column]
	if typed == "" && !a.clicked {
		return []candidate{{label: ".", kind: protocol.CompletionItemKindValue, detail: "no key of `" + column.Name + "` here"}}
	}
	if grammar.Classify(typed) != grammar.Number || column.Kind != grammar.ValueColumn {
		return nil
	}
	var out []candidate
	for _, m := range markTells {
		out = append(out, candidate{label: typed + m.mark, kind: protocol.CompletionItemKindOperator, detail: m.does})
	}
	return append(out, candidate{
		label: typed + "@", kind: protocol.CompletionItemKindOperator, detail: "with this slope, in units a beat",
		snippet: typed + "@${1:0}",
	})
}

// limits are the limits that the row's rule has of itself.
func (a *asking) limits() []candidate {
	rule := lint.RuleNamed(a.atom(0))
	if rule == nil || len(rule.Limits) == 0 {
		return nil
	}
	var texts []string
	for _, l := range rule.Limits {
		texts = append(texts, figure(l.Value, 6)+l.Unit)
	}
	return []candidate{{label: strings.Join(texts, ","), kind: protocol.CompletionItemKindValue, detail: "as it is without a row here"}}
}
