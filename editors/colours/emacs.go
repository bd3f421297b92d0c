package colours

import (
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// emacsWords is the list of words that motet.el colours by.
func emacsWords(blocks []blockWords) string {
	var out strings.Builder
	out.WriteString(";;; motet-words.el --- The words of motion sheets  -*- lexical-binding: t -*-\n\n;;; Commentary:\n;; " + madeBy + "\n\n;;; Code:\n")
	out.WriteString("(defconst motet-blocks\n  '(")
	for i, b := range blocks {
		if i > 0 {
			out.WriteString("\n    ")
		}
		lines := "nil"
		if len(b.Lines) > 0 {
			var list []string
			for _, line := range b.Lines {
				list = append(list, emacsLine(line))
			}
			lines = "(" + strings.Join(list, "\n            ") + ")"
		}
		fmt.Fprintf(&out, "(%q :titled %s :opener %s\n     :plain %s\n     :columns %s :channels %s :names %d\n     :choices %s\n     :lines %s)", b.Word, lispBool(b.Titled),
			emacsLine(b.Opener), emacsLine(b.Plain), lispList(b.Columns), lispBool(b.Channels), b.Names, lispList(b.Choices), lines)
	}
	out.WriteString(")\n  \"The kinds of blocks: their first word, and the words of their lines.\nA line is (WORD CLAUSES CHOICES).\")\n\n")
	out.WriteString("(defconst motet-atoms\n  '(")
	for i, a := range atomRoles() {
		if i > 0 {
			out.WriteString("\n    ")
		}
		face := a.emacs
		if a.Class == grammar.Marked {
			face = "motet-marked"
		}
		if face == "" {
			face = "nil"
		}
		fmt.Fprintf(&out, "(%s . %s)", lispString(`\`+"`"+`\(?:`+emacs().rewrite(a.Expression)+`\)\'`), face)
	}
	out.WriteString(")\n  \"What an atom may be and its face; the first that fits counts.\nThe face `motet-marked' stands for a number and its mark.\")\n\n")
	out.WriteString("(defconst motet-faces\n  '(")
	for i, r := range []role{blockRole, entryRole, clauseRole, choiceRole, columnRole, titleRole, markRole, textRole, wrongRole, allowRole} {
		if i > 0 {
			out.WriteString("\n    ")
		}
		fmt.Fprintf(&out, "(%q . %s)", strings.TrimSuffix(r.vimGroup()[len("motet"):], "Word"), r.emacs)
	}
	out.WriteString(")\n  \"The face of each role that a word can have.\")\n\n(provide 'motet-words)\n;;; motet-words.el ends here\n")
	return out.String()
}

func emacsLine(line lineWords) string {
	return fmt.Sprintf("(%q %s %s)", line.Word, lispList(line.Clauses), lispList(line.Choices))
}

func lispList(words []string) string {
	if len(words) == 0 {
		return "nil"
	}
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = lispString(w)
	}
	return "(" + strings.Join(quoted, " ") + ")"
}

func lispString(text string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(text) + `"`
}

func lispBool(b bool) string {
	if b {
		return "t"
	}
	return "nil"
}
