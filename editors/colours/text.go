package colours

import (
	"cmp"
	"slices"
	"strings"
)

// madeBy stands at the head of each generated file, behind its mark for comments.
const madeBy = "Made by `go test ./editors/colours -update` from the grammar's tables; not to be changed by hand."

// longestFirst sorts a copy of words, the longest first and those of one length by the alphabet.
func longestFirst(words []string) []string {
	return slices.SortedFunc(slices.Values(words), func(a, b string) int {
		return cmp.Or(cmp.Compare(len(b), len(a)), strings.Compare(a, b))
	})
}
