package colours

import (
	"strings"
	"unicode"
)

// dialect says how an editor writes regular expressions. Those of [grammar.Expressions] are rewritten in it piece by piece.
type dialect struct {
	open, or, shut string // a group without capture, its alternatives, its end
	times          func(count string) string
	digit          string
	letter         string // one letter
	escape         string // characters that stand for themselves only behind escapeBy
	// class writes a set of characters: its plain ones, and whether it has letters, marks and numbers of any script.
	class func(plain string, scripts bool) string
}

// rewrite turns an expression into the dialect.
func (d dialect) rewrite(expression string) string {
	var out strings.Builder
	anyCase := 0 // how many groups deep, counted from the one in any case; 0 outside
	for at := 0; at < len(expression); {
		rest := expression[at:]
		size := 1
		switch {
		case strings.HasPrefix(rest, "(?i:"), strings.HasPrefix(rest, "(?:"):
			if size = strings.IndexByte(rest, ':') + 1; size == 4 || anyCase > 0 {
				anyCase++
			}
			out.WriteString(d.open)
		case rest[0] == ')':
			anyCase = max(0, anyCase-1)
			out.WriteString(d.shut)
		case rest[0] == '|':
			out.WriteString(d.or)
		case strings.HasPrefix(rest, `\d`):
			size = 2
			out.WriteString(d.digit)
		case strings.HasPrefix(rest, `\pL`):
			size = 3
			out.WriteString(d.letter)
		case rest[0] == '\\':
			size = 2
			out.WriteString(d.literal(rest[1:2]))
		case rest[0] == '[':
			size = strings.IndexByte(rest, ']') + 1
			plain := strings.NewReplacer(`\pL`, "", `\pM`, "", `\pN`, "").Replace(rest[1 : size-1])
			out.WriteString(d.class(plain, strings.Contains(rest[:size], `\p`)))
		case rest[0] == '{':
			size = strings.IndexByte(rest, '}') + 1
			out.WriteString(d.times(rest[1 : size-1]))
		case strings.IndexByte("?*+", rest[0]) >= 0:
			out.WriteByte(rest[0])
		case anyCase > 0 && unicode.IsLetter(rune(rest[0])):
			out.WriteString("[" + strings.ToLower(rest[:1]) + strings.ToUpper(rest[:1]) + "]")
		default:
			out.WriteString(d.literal(rest[:1]))
		}
		at += size
	}
	return out.String()
}

// literal writes text that stands for itself.
func (d dialect) literal(text string) string {
	var out strings.Builder
	for i := range len(text) {
		if strings.IndexByte(d.escape, text[i]) >= 0 {
			out.WriteByte('\\')
		}
		out.WriteByte(text[i])
	}
	return out.String()
}

// anyOf writes a group of words, the longest first, since some dialects take the first that fits.
func (d dialect) anyOf(words []string) string {
	sorted := longestFirst(words)
	for i, w := range sorted {
		sorted[i] = d.literal(w)
	}
	return d.open + strings.Join(sorted, d.or) + d.shut
}

// oniguruma is the dialect of TextMate grammars (and of PCRE, as Kate has it).
func oniguruma() dialect {
	return dialect{
		open: "(?:", or: "|", shut: ")", digit: "[0-9]", letter: `\p{L}`, escape: `\.+*?()|[]{}^$`,
		times: func(count string) string { return "{" + count + "}" },
		class: func(plain string, scripts bool) string {
			plain = strings.ReplaceAll(plain, "^", `\^`)
			if scripts {
				return `[\p{L}\p{M}\p{N}` + plain + "]"
			}
			return "[" + plain + "]"
		},
	}
}

// javaScript is the dialect of tree-sitter's grammars. Its version 0.22.6 read \p{L} without the letters of China, so
// whatever is no ASCII counts as a letter, but for the no-break space and what comes before it.
func javaScript() dialect {
	const beyond = `\u{A1}-\u{10FFFF}`
	d := oniguruma()
	d.escape += "/"
	d.letter = "[A-Za-z" + beyond + "]"
	d.class = func(plain string, scripts bool) string {
		if scripts {
			return "[0-9A-Za-z" + beyond + plain + "]"
		}
		return "[" + strings.ReplaceAll(plain, "^", `\^`) + "]"
	}
	return d
}

// vim is Vim's "very magic" dialect. It has no classes of Unicode's letters; whatever is no ASCII counts as one.
func vim() dialect {
	return dialect{
		open: "%(", or: "|", shut: ")", digit: `\d`, letter: `%(\a|[^\x01-\x7F])`, escape: `~^$.*+?=@%<>&{}()|[]\/`,
		times: func(count string) string { return "{" + count + "}" },
		class: func(plain string, scripts bool) string {
			plain = strings.NewReplacer("^", `\^`, "/", `\/`).Replace(plain)
			if scripts {
				return `%([0-9A-Za-z` + plain + `]|[^\x01-\x7F])`
			}
			return "[" + plain + "]"
		},
	}
}

// emacs is Emacs's dialect; emacsString writes it as a string of Lisp.
func emacs() dialect {
	return dialect{
		open: `\(?:`, or: `\|`, shut: `\)`, digit: "[0-9]", letter: "[[:alpha:]]", escape: `\.+*?[]^$`,
		times: func(count string) string { return `\{` + count + `\}` },
		class: func(plain string, scripts bool) string {
			if scripts {
				return "[[:alnum:][:nonascii:]" + plain + "]"
			}
			return "[" + plain + "]"
		},
	}
}
