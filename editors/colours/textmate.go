package colours

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// rule is a rule of a TextMate grammar.
type rule struct {
	Comment  string             `json:"comment,omitempty"`
	Include  string             `json:"include,omitempty"`
	Name     string             `json:"name,omitempty"`
	Match    string             `json:"match,omitempty"`
	Begin    string             `json:"begin,omitempty"`
	End      string             `json:"end,omitempty"`
	Captures map[string]capture `json:"captures,omitempty"`
	// BeginCaptures are those of Begin alone.
	BeginCaptures map[string]capture `json:"beginCaptures,omitempty"`
	Patterns      []rule             `json:"patterns,omitempty"`
}

type capture struct {
	Name     string `json:"name,omitempty"`
	Patterns []rule `json:"patterns,omitempty"`
}

type textMate struct {
	Comment    string          `json:"$comment,omitempty"`
	Name       string          `json:"name"`
	Scope      string          `json:"scopeName"`
	FileTypes  []string        `json:"fileTypes"`
	Patterns   []rule          `json:"patterns"`
	Repository map[string]rule `json:"repository"`
}

const (
	// An atom ends before white space, a comment, a text or the line's end.
	atomEnds = `(?=[ \t#"]|$)`
	// A block ends before the next line that begins with something else than white space and is no comment. The opener
	// itself has been read by then.
	blockEnds = `^(?=[^ \t\n#])`
)

func textMateJSON(blocks []blockWords) string {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(textMateGrammar(blocks)); err != nil {
		panic(err) // A struct of strings can always be written.
	}
	return out.String()
}

// textMateGrammar is a grammar in which a block is one rule from its first line to the next block's, so that each line is
// coloured by the words of its own block.
func textMateGrammar(blocks []blockWords) textMate {
	tm := textMate{
		Comment: madeBy, Name: "Motet", Scope: "source.motet", FileTypes: []string{"motet"},
		Repository: map[string]rule{"atoms": {Patterns: atomRules()}, "comment": commentRule()},
	}
	for _, b := range blocks {
		tm.Patterns = append(tm.Patterns, rule{Include: "#" + b.Word})
		tm.Repository[b.Word] = blockRule(&b)
	}
	tm.Patterns = append(tm.Patterns, rule{Include: "#atoms"})
	return tm
}

func (r role) scope() string { return r.textMate + ".motet" }

func blockRule(b *blockWords) rule {
	begin := "^(" + oniguruma().literal(b.Word) + ")" + atomEnds
	captures := map[string]capture{"1": {Name: blockRole.scope()}}
	if b.Titled {
		begin += `(?:[ \t]+([^ \t#"]+))?`
		captures["2"] = capture{Name: titleRole.scope()}
	}
	captures[fmt.Sprint(len(captures)+1)] = capture{Patterns: wordRules(b.Opener)}
	out := rule{Begin: begin + "(.*)$", End: blockEnds, BeginCaptures: captures}
	if b.Table {
		out.Patterns = []rule{{Match: `^[ \t]*(#.*)$`, Captures: map[string]capture{"1": {Patterns: []rule{commentRule()}}}}, tableRule(b)}
		return out
	}
	for _, line := range b.Lines {
		out.Patterns = append(out.Patterns, rule{
			Match:    `^[ \t]+(` + oniguruma().literal(line.Word) + ")" + atomEnds + "(.*)$",
			Captures: map[string]capture{"1": {Name: entryRole.scope()}, "2": {Patterns: wordRules(line)}},
		})
	}
	out.Patterns = append(out.Patterns, rule{Match: `^[ \t]+(.*)$`, Captures: map[string]capture{"1": {Patterns: wordRules(b.Plain)}}})
	out.Patterns = append(out.Patterns, rule{Include: "#atoms"})
	return out
}

// tableRule colours the first line that is no comment as the names of columns, and all further ones as rows.
func tableRule(b *blockWords) rule {
	named := oniguruma().anyOf(b.Columns)
	if b.Channels {
		named = `[^ \t#"]+`
	}
	columns := []rule{{Match: named + atomEnds, Name: columnRole.scope()}, {Include: "#atoms"}}
	row := []rule{{Include: "#atoms"}}
	if len(b.Choices) > 0 {
		row = append([]rule{{Match: `(?<![^ \t"])` + oniguruma().anyOf(b.Choices) + atomEnds, Name: choiceRole.scope()}}, row...)
	}
	front := strings.Repeat(`[ \t]+[^ \t#"]++`, b.Names) // possessive: a name is taken whole
	return rule{
		Begin:         `^[ \t]+(?=[^ \t\n#])(.*)$`,
		End:           blockEnds,
		BeginCaptures: map[string]capture{"1": {Patterns: columns}},
		Patterns: []rule{
			{Match: "^(" + front + ")(.+)$", Captures: map[string]capture{"1": {Patterns: []rule{{Include: "#atoms"}}}, "2": {Patterns: row}}},
			{Include: "#atoms"},
		},
	}
}

// wordRules colours the words of a line behind its first, and its atoms.
func wordRules(line lineWords) []rule {
	var out []rule
	if len(line.Clauses) > 0 {
		out = append(out, rule{Match: `(?<![^ \t"])` + oniguruma().anyOf(line.Clauses) + atomEnds, Name: clauseRole.scope()})
	}
	if len(line.Choices) > 0 {
		out = append(out, rule{Match: `(?<![^ \t"])` + oniguruma().anyOf(line.Choices) + atomEnds, Name: choiceRole.scope()})
	}
	return append(out, rule{Include: "#atoms"})
}

// atomRules colours comments, texts and atoms, the whole atom each time; one of no class is wrong, a single quote too.
func atomRules() []rule {
	out := []rule{{Include: "#comment"}, {Match: `"[^"]*"`, Name: textRole.scope()}, {Match: `".*$`, Name: wrongRole.scope()}}
	for _, a := range atomRoles() {
		atom := rule{Match: "(?:" + oniguruma().rewrite(a.Expression) + ")" + atomEnds, Name: a.scope()}
		if a.Class == grammar.Marked {
			atom = rule{
				Match:    `(` + numberExpression() + `)([~^>=@][-+0-9.,]*)` + atomEnds,
				Captures: map[string]capture{"1": {Name: numberRole.scope()}, "2": {Name: markRole.scope()}},
			}
		}
		out = append(out, atom)
	}
	return append(out, rule{Match: `[^ \t#"]+`, Name: wrongRole.scope()})
}

func numberExpression() string {
	for _, c := range grammar.Expressions() {
		if c.Class == grammar.Number {
			return oniguruma().rewrite(c.Expression)
		}
	}
	return ""
}

func commentRule() rule {
	return rule{Patterns: []rule{
		{
			Match:    `(#[ \t]*)(allow)([ \t]+[^ \t:]+:)(.*)$`,
			Name:     commentRole.scope(),
			Captures: map[string]capture{"2": {Name: allowRole.scope()}, "3": {Name: allowRole.scope()}},
		},
		{Match: "#.*$", Name: commentRole.scope()},
	}}
}

// textMatePlist is the same grammar as a property list, the form in which Sublime Text reads it.
func textMatePlist(blocks []blockWords) string {
	var value any
	if err := json.Unmarshal([]byte(textMateJSON(blocks)), &value); err != nil {
		panic(err) // It was written a line above.
	}
	var out strings.Builder
	out.WriteString(xml.Header + "<!-- " + madeBy + " -->\n<plist version=\"1.0\">\n")
	writePlist(&out, value, "")
	out.WriteString("</plist>\n")
	return out.String()
}
