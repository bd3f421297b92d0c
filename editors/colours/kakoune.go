package colours

import (
	"fmt"
	"strings"
)

// kakouneWords is the highlighter that motet.kak adds to windows. Kakoune has no rule that looks back over lines cheaply, so
// it colours by line alone: the first word, the words of the language, and the atoms.
func kakouneWords(blocks []blockWords) string {
	var entries, others []string
	seen := map[string]bool{}
	gather := func(list *[]string, words []string) {
		for _, w := range words {
			if w != "" && !seen[w] {
				seen[w] = true
				*list = append(*list, w)
			}
		}
	}
	for _, b := range blocks {
		for _, line := range b.Lines {
			gather(&entries, []string{line.Word})
		}
		gather(&entries, b.Columns[:min(1, len(b.Columns))])
	}
	seen = map[string]bool{}
	for _, b := range blocks {
		for _, line := range append(b.Lines, b.Opener, b.Plain) {
			gather(&others, line.Clauses)
		}
	}
	var out strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&out, format+"\n", args...) }
	add("# %s\n", madeBy)
	add("add-highlighter shared/motet regions")
	add("add-highlighter shared/motet/line default-region group")
	add("add-highlighter shared/motet/comment region '#' '$' fill %s", commentRole.kakoune)
	add(`add-highlighter shared/motet/text region '"' '"|$' fill %s`, textRole.kakoune)
	word := func(expression, face string) {
		add(`add-highlighter shared/motet/line/ regex '%s' %s`, expression, face)
	}
	word(`(?<![^ \t\n])[+-]?\d[^ \t\n#"]*`, "0:"+numberRole.kakoune)
	word(`(?<![^ \t\n])[^ \t\n#"]+/[^ \t\n#"]+`, "0:"+pathRole.kakoune)
	word(`(?<![^ \t\n])`+oniguruma().anyOf(others)+`(?![^ \t\n#"])`, "0:"+clauseRole.kakoune)
	word(`^[ \t]+(`+oniguruma().anyOf(entries)+`)(?![^ \t\n#"])`, "1:"+entryRole.kakoune)
	word(`^(`+oniguruma().anyOf(openerWords(blocks))+`)(?![^ \t\n#"])(?:[ \t]+([^ \t\n#"]+))?`, "1:"+blockRole.kakoune+" 2:"+titleRole.kakoune)
	return out.String()
}
