package colours

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

var update = flag.Bool("update", false, "write the editors' files anew")

func TestFilesAreMadeFromTheGrammar(t *testing.T) {
	for name, text := range Files() {
		path := filepath.Join("..", filepath.FromSlash(name))
		if *update {
			require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
			require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		}
		have, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, text, string(have), "%s is not what the grammar says; run this test with -update", name)
	}
}

// everyWord is every word of the language, read from the printed productions and the tables, not by [grammar.LineKindInfo.Words],
// which the generator uses.
func everyWord() []string {
	var words []string
	for _, m := range regexp.MustCompile(`"([a-z-]+)"`).FindAllStringSubmatch(grammar.EBNF(), -1) {
		words = append(words, m[1])
	}
	for _, b := range grammar.Blocks() {
		for _, c := range b.Columns {
			words = append(append(words, c.Name), c.Choices...)
		}
	}
	return append(words, grammar.Drives()...)
}

func TestNoWordIsForgotten(t *testing.T) {
	for name, text := range Files() {
		switch {
		case strings.HasSuffix(name, ".scm"), strings.HasPrefix(name, "kakoune/"):
			continue // Queries name nodes; the highlighter of Kakoune colours no choices and no columns.
		}
		have := map[string]bool{}
		// What stands for itself in an expression is taken out of its escapes first.
		for _, word := range regexp.MustCompile(`[a-z]+(?:[-.][a-z]+)*`).FindAllString(strings.ReplaceAll(text, `\`, ""), -1) {
			have[word] = true
		}
		for _, word := range everyWord() {
			assert.True(t, have[word], "%s lacks the word %q", name, word)
		}
	}
}
