package lint

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
)

func TestReferenceIsWrittenFromTheRules(t *testing.T) {
	golden(t, "RULES.md", []byte(Reference()))
}

func TestExplanationsFitATerminal(t *testing.T) {
	for _, r := range Rules() {
		text := Explain(r)
		for line := range strings.Lines(text) {
			assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line, "\n")), 80, line)
		}
		for _, part := range []string{r.Name, "Why it matters to the eye", "How it decides", "When to allow it", "→ "} {
			assert.Contains(t, text, part, r.Name)
		}
	}
}
