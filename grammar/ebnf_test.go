package grammar

import (
	"flag"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

const ebnfFile = "../testdata/grammar/ebnf.txt"

func TestEBNFIsTheGoldenFile(t *testing.T) {
	if *update {
		require.NoError(t, os.WriteFile(ebnfFile, []byte(EBNF()+"\n"), 0o644))
	}
	want, err := os.ReadFile(ebnfFile)
	require.NoError(t, err)
	assert.Equal(t, string(want), EBNF()+"\n", "the productions changed; if that is meant, run this test with -update and read the difference")
}

var reLiteral = regexp.MustCompile(`"([^"]+)"`)

// The words by which lines are told apart in kinds.go are those that the productions begin with, and every word of the
// productions stands in the usage that messages print.
func TestWordsOfKindsAndProductionsAgree(t *testing.T) {
	ebnf := EBNF()
	literals := map[string]bool{}
	for _, m := range reLiteral.FindAllStringSubmatch(ebnf, -1) {
		literals[m[1]] = true
	}
	usages := map[string]bool{}
	begins := map[string]bool{}
	check := func(kind LineKindInfo) {
		for _, word := range strings.FieldsFunc(kind.Usage, func(r rune) bool { return strings.ContainsRune(" ,()[]|", r) }) {
			usages[word] = true
		}
		if kind.Word != "" {
			begins[kind.Word] = true
			assert.True(t, literals[kind.Word], "%s is a word of the productions", kind.Word)
		}
	}
	for _, b := range Blocks() {
		assert.Equal(t, b.Word, b.Opener.Word)
		check(b.Opener)
		for _, l := range b.Lines {
			check(l)
		}
	}
	delete(literals, "%")
	delete(literals, "0")
	for word := range literals {
		assert.True(t, usages[word], "%s stands in a usage", word)
	}
	for _, line := range strings.Split(ebnf, "\n") {
		if name, body, ok := strings.Cut(line, " = "); ok && strings.HasSuffix(name, "Line") && strings.HasPrefix(body, `"`) {
			assert.True(t, begins[reLiteral.FindStringSubmatch(body)[1]], "the first word of %s is known to the blocks", name)
		}
	}
}
