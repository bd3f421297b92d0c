package colours

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// blockWords are the words of one kind of block.
type blockWords struct {
	Word   string      `json:"word"`
	Titled bool        `json:"titled"` // a name stands behind the word
	Opener lineWords   `json:"opener"`
	Lines  []lineWords `json:"lines"` // empty for a table
	Plain  lineWords   `json:"plain"` // those lines that begin with no word of the language
	Table  bool        `json:"table"`
	// Columns are the columns with names of their own; where Channels, any other name is a column too.
	Columns  []string `json:"columns"`
	Channels bool     `json:"channels"`
	// Names is how many cells at a row's front are names, which may read like one of the row's choices.
	Names   int      `json:"names"`
	Choices []string `json:"choices"`
}

// lineWords are the words of one kind of line: the one that it begins with, those between its values, and those that are
// values.
type lineWords struct {
	Word    string   `json:"word"`
	Clauses []string `json:"clauses"`
	Choices []string `json:"choices"`
}

// readBlocks takes the words from the grammar.
func readBlocks() []blockWords {
	var openers []string
	for _, b := range grammar.Blocks() {
		openers = append(openers, b.Word)
	}
	var blocks []blockWords
	for _, info := range grammar.Blocks() {
		b := blockWords{Word: info.Word, Table: info.IsTable(), Channels: info.Channels, Opener: wordsOf(info.Opener, openers)}
		usage := strings.Fields(info.Opener.Usage)
		b.Titled = len(usage) > 1 && usage[1] == strings.ToUpper(usage[1]) && !strings.HasPrefix(usage[1], "[")
		var begins []string
		for _, line := range info.Lines {
			begins = append(begins, line.Word)
		}
		for _, line := range info.Lines {
			if words := wordsOf(line, begins); line.Word != "" {
				b.Lines = append(b.Lines, words)
			} else {
				b.Plain = words
			}
		}
		b.readColumns(&info)
		blocks = append(blocks, b)
	}
	return blocks
}

// wordsOf sorts the words of a line by what they are. Those by which its neighbours begin are not its own, though they
// share a production.
func wordsOf(line grammar.LineKindInfo, begins []string) lineWords {
	out := lineWords{Word: line.Word}
	for _, w := range line.Words() {
		switch {
		case slices.Contains(begins, w.Text):
		case w.Choice:
			out.Choices = append(out.Choices, w.Text)
		default:
			out.Clauses = append(out.Clauses, w.Text)
		}
	}
	return out
}

func (b *blockWords) readColumns(info *grammar.BlockInfo) {
	leading := true
	for _, c := range info.Columns {
		b.Columns = append(b.Columns, c.Name)
		leading = leading && c.Required && (c.Kind == grammar.NameColumn || c.Kind == grammar.PathColumn)
		if leading {
			b.Names++
		}
		choices := c.Choices
		if c.Kind == grammar.DrivesColumn {
			choices = grammar.Drives()
		}
		for _, choice := range choices {
			if !slices.Contains(b.Choices, choice) {
				b.Choices = append(b.Choices, choice)
			}
		}
	}
}

// openerWords are the words that open blocks.
func openerWords(blocks []blockWords) []string {
	var words []string
	for _, b := range blocks {
		words = append(words, b.Word)
	}
	return words
}

// atomRole is a class of atoms together with what it is to the reader.
type atomRole struct {
	grammar.ClassExpression
	role
}

// atomRoles are the classes of atoms in the order in which they are tried.
func atomRoles() []atomRole {
	var out []atomRole
	for _, c := range grammar.Expressions() {
		out = append(out, atomRole{c, roleOf(c.Class)})
	}
	return out
}

func roleOf(class grammar.Class) role {
	switch class {
	case grammar.Dot:
		return emptyRole
	case grammar.Word:
		return nameRole
	case grammar.Path:
		return pathRole
	case grammar.Pattern:
		return patternRole
	case grammar.TimeAtom:
		return timeRole
	case grammar.Marked:
		return markedRole
	}
	return numberRole // and what is made of numbers: shares, quantities, ranges, easings, limits, directions
}
