package grammar

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var reExample = regexp.MustCompile("(?ms)^```motet(?: (\\S+))?\n(.*?)^```$")

// languageExamples are the examples of LANGUAGE.md, and the files that those with a file's name make up together.
func languageExamples(t testing.TB) (examples []string, files map[string]string) {
	page, err := os.ReadFile("LANGUAGE.md")
	require.NoError(t, err)
	files = map[string]string{}
	for _, m := range reExample.FindAllStringSubmatch(string(page), -1) {
		examples = append(examples, m[2])
		if name := m[1]; name != "" {
			if files[name] != "" {
				files[name] += "\n"
			}
			files[name] += m[2]
		}
	}
	require.NotEmpty(t, examples)
	return examples, files
}

func TestExamplesOfTheReferenceParseAndAreCanonical(t *testing.T) {
	examples, files := languageExamples(t)
	seen := map[BlockKind]bool{}
	check := func(text string) {
		f := Parse("x.motet", text)
		assert.Empty(t, faults(f), text)
		assert.Equal(t, text, Format(f))
		for _, b := range f.Blocks {
			seen[b.Kind] = true
		}
	}
	for _, text := range examples {
		check(text)
	}
	for _, text := range files {
		check(text)
	}
	for _, info := range Blocks() {
		assert.True(t, seen[info.Kind], "the reference has an example of %s", info.Kind)
	}
}

// Every word of the language stands in the reference.
func TestReferenceNamesEveryWord(t *testing.T) {
	page, err := os.ReadFile("LANGUAGE.md")
	require.NoError(t, err)
	words := map[string]bool{}
	for _, word := range strings.FieldsFunc(string(page), func(r rune) bool { return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz-", r) }) {
		words[word] = true
	}
	for _, info := range Blocks() {
		for _, kind := range append([]LineKindInfo{info.Opener}, info.Lines...) {
			if kind.Word != "" {
				assert.True(t, words[kind.Word], "%s of %s", kind.Word, info.Kind)
			}
		}
		for _, column := range info.Columns {
			for _, choice := range append([]string{column.Name}, column.Choices...) {
				if !strings.Contains("xyz xzy yxz yzx zxy zyx", choice) {
					assert.True(t, words[choice], "%s of %s", choice, info.Kind)
				}
			}
		}
	}
}

func TestHalfTypedExamplesKeepTheirLines(t *testing.T) {
	_, files := languageExamples(t)
	for name, text := range files {
		t.Run(name, func(t *testing.T) { assertPrefixesKeepLines(t, text) })
	}
}
