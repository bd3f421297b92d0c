package colours

import (
	"bytes"
	"encoding/json"
	"strings"
)

// treeSitterWords is what grammar.js makes the tree-sitter grammar of.
func treeSitterWords(blocks []blockWords) string {
	type atom struct {
		Name       string `json:"name"`
		Class      string `json:"class"`
		Expression string `json:"expression"`
	}
	file := struct {
		Comment string       `json:"comment"`
		Blocks  []blockWords `json:"blocks"`
		Atoms   []atom       `json:"atoms"`
	}{Comment: madeBy, Blocks: blocks}
	for _, a := range atomRoles() {
		file.Atoms = append(file.Atoms, atom{a.name, a.Class.String(), javaScript().rewrite(a.Expression)})
	}
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", " ")
	if err := encoder.Encode(file); err != nil {
		panic(err) // A struct of strings can always be written.
	}
	return out.String()
}

// queries are the captures of a tree-sitter grammar's nodes, in the names of one editor.
func queries(capture func(role) string) string {
	var out strings.Builder
	out.WriteString("; " + madeBy + "\n")
	for _, r := range []role{blockRole, entryRole, clauseRole, choiceRole, columnRole, titleRole, nameRole, pathRole, patternRole, numberRole, timeRole, markedRole, textRole, emptyRole, wrongRole, commentRole} {
		out.WriteString("(" + r.name + ") @" + capture(r) + "\n")
	}
	return out.String()
}
