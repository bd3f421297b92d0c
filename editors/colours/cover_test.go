package colours

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/motet-sheet/motet/grammar"
)

// TestTextsHaveEveryWord holds the sheets by which the colours of VS Code, Vim, Emacs and tree-sitter are compared with the
// parser to the language: each word of each block must stand there where it is a word, or nothing is known of its colour.
func TestTextsHaveEveryWord(t *testing.T) {
	type use struct{ block, word, scope string }
	seen := map[use]bool{}
	for name, text := range texts(t) {
		for _, b := range grammar.Parse(name, text).Blocks {
			info := grammar.InfoOf(b.Kind)
			if info == nil {
				continue
			}
			for k := range b.Lines {
				line := &b.Lines[k]
				if line.Kind == grammar.BadLine || line.Kind == grammar.MutedLine || line.Fault != nil {
					continue
				}
				wants := wanted(b, line)
				for _, token := range grammar.Tokens(line.Text) {
					if token.Class == grammar.Space {
						continue
					}
					seen[use{info.Word, line.Text[token.Span.Start:token.Span.End], wants[0].scope}] = true
					wants = wants[1:]
				}
			}
		}
	}
	opens, words := map[string]bool{}, 0
	for _, info := range grammar.Blocks() {
		opens[info.Word] = true
	}
	holds := func(block, word string, r role) {
		words++
		assert.True(t, seen[use{block, word, r.scope()}], "no sheet has the word %q as %s in the block %s", word, r.scope(), block)
	}
	for _, info := range grammar.Blocks() {
		holds(info.Word, info.Word, blockRole)
		first := map[string]bool{}
		for _, kind := range info.Lines {
			first[kind.Word] = true
		}
		for _, kind := range append(info.Lines, info.Opener) {
			if kind.Word != "" && kind.Word != info.Word {
				holds(info.Word, kind.Word, entryRole)
			}
			for _, w := range kind.Words() {
				switch {
				case w.Text == kind.Word, first[w.Text] && kind.Word != "without": // a first word, maybe of another line of the production
				case kind.Word == info.Word && opens[w.Text]: // another block of the production
				case w.Choice:
					holds(info.Word, w.Text, choiceRole)
				default:
					holds(info.Word, w.Text, clauseRole)
				}
			}
		}
		for _, c := range info.Columns {
			holds(info.Word, c.Name, columnRole)
			for _, choice := range c.Choices {
				holds(info.Word, choice, choiceRole)
			}
			if c.Kind == grammar.DrivesColumn {
				for _, drives := range grammar.Drives() {
					holds(info.Word, drives, choiceRole)
				}
			}
		}
	}
	assert.Greater(t, words, 120)
}
