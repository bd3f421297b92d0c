package grammar

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// quote puts text in the quotes that messages use.
func quote(text string) string { return "`" + text + "`" }

// quoteShort quotes no more than the first two dozen characters, since a message is read in one line.
func quoteShort(text string) string {
	const most = 24
	if utf8.RuneCountInString(text) <= most {
		return quote(text)
	}
	return quote(string([]rune(text)[:most]) + "…")
}

func runeName(r rune) string { return fmt.Sprintf("U+%04X", r) }

// Nearest gives the one of names that text was probably meant to be: at most two slips of the hand away (a letter
// left out, put in, changed, or two swapped), and at most a third of the word. It is empty where none is that near.
func Nearest(text string, names []string) string {
	best, bestAt := "", min(2, (utf8.RuneCountInString(text)+2)/3)+1
	for _, name := range names {
		if d := slips(strings.ToLower(text), strings.ToLower(name)); d < bestAt {
			best, bestAt = name, d
		}
	}
	return best
}

// slips is the Damerau-Levenshtein distance in its "optimal string alignment" form.
func slips(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, now := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		now[0] = i
		for j := 1; j <= len(t); j++ {
			change := 1
			if s[i-1] == t[j-1] {
				change = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(t)]
}
