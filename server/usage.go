package server

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// What may stand at a place of a line is read from the grammar's own description of the line, its usage: words in
// capitals stand for names, what is in brackets may be left out, | parts alternatives, and numbers are examples.

// usagePart is one atom of a usage.
type usagePart struct {
	text string
	// hole is false for a word that stands for itself.
	hole bool
}

// usageWays are all ways to write a line, each as its parts in order. A way without its optional parts comes before
// the ways with them.
func usageWays(kind grammar.LineKindInfo) [][]usagePart {
	var ways [][]usagePart
	for _, alternative := range splitOutside(kind.Usage) {
		fields := strings.Fields(alternative)
		if kind.Word != "" && fields[0] != kind.Word {
			fields = append([]string{kind.Word}, fields...)
		}
		ways = append(ways, expand(fields)...)
	}
	return ways
}

// splitOutside cuts a usage at each | outside brackets.
func splitOutside(usage string) []string {
	var out []string
	depth, from := 0, 0
	for i, r := range usage {
		switch r {
		case '[':
			depth++
		case ']':
			depth--
		case '|':
			if depth == 0 {
				out, from = append(out, usage[from:i]), i+1
			}
		}
	}
	return append(out, usage[from:])
}

// expand gives the ways to write fields of a usage, whose brackets may be left out and whose words with commas between
// are a choice.
func expand(fields []string) [][]usagePart {
	if len(fields) == 0 {
		return [][]usagePart{nil}
	}
	first := fields[0]
	if strings.HasPrefix(first, "[") {
		return expandBracket(fields)
	}
	if strings.HasSuffix(first, ",") {
		return expandChoice(fields)
	}
	var out [][]usagePart
	for _, rest := range expand(fields[1:]) {
		out = append(out, append([]usagePart{partOf(first)}, rest...))
	}
	return out
}

func expandBracket(fields []string) [][]usagePart {
	end := slices.IndexFunc(fields, func(f string) bool { return strings.HasSuffix(f, "]") })
	inside := strings.TrimSuffix(strings.TrimPrefix(strings.Join(fields[:end+1], " "), "["), "]")
	var out [][]usagePart
	rests := expand(fields[end+1:])
	out = append(out, rests...)
	for _, alternative := range strings.Split(inside, "|") {
		for _, head := range expand(strings.Fields(alternative)) {
			for _, rest := range rests {
				out = append(out, append(slices.Clone(head), rest...))
			}
		}
	}
	return out
}

// expandChoice is a list of words, of which one is written: `front, side or round`.
func expandChoice(fields []string) [][]usagePart {
	var out [][]usagePart
	for i, f := range fields {
		word := strings.TrimSuffix(f, ",")
		if word == "or" {
			continue
		}
		out = append(out, []usagePart{{text: word}})
		if f == word && fields[i-1] == "or" {
			break
		}
	}
	return out
}

func partOf(field string) usagePart {
	class := grammar.Classify(field)
	literal := class == grammar.Word && field != strings.ToUpper(field) || class == grammar.Unit
	return usagePart{text: field, hole: !literal}
}

// takes tells whether an atom can stand for the part.
func (p usagePart) takes(atom string, class grammar.Class) bool {
	if !p.hole {
		return strings.EqualFold(atom, p.text)
	}
	want := grammar.Classify(p.text)
	switch {
	case strings.HasPrefix(p.text, `"`):
		return class == grammar.String
	case p.isName():
		return class == grammar.Word || class == grammar.Path || class == grammar.Pattern
	case p.isNumber():
		return class == grammar.Number
	case want == grammar.TimeAtom:
		return class == grammar.TimeAtom || atom == "0"
	}
	return class == want || class == grammar.Fraction || class == grammar.Quantity || class == grammar.Percent
}

// isNumber tells whether the part stands for a number that has no example.
func (p usagePart) isNumber() bool {
	return p.text == "VALUE" || p.text == "AMPLITUDE" || p.text == "DEPTH"
}

// isName tells whether the part stands for a name.
func (p usagePart) isName() bool {
	if p.isNumber() {
		return false
	}
	class := grammar.Classify(p.text)
	return p.hole && (class == grammar.Word || class == grammar.Path)
}

// nextParts are the parts that may come behind what stands on a line so far, each once, with those that follow it on
// the same way.
func nextParts(kind grammar.LineKindInfo, atoms []grammar.Token, line string) [][]usagePart {
	var out [][]usagePart
	for _, way := range usageWays(kind) {
		if len(way) <= len(atoms) || !startsWith(way, atoms, line) {
			continue
		}
		rest := way[len(atoms):]
		if !slices.ContainsFunc(out, func(have []usagePart) bool { return have[0] == rest[0] }) {
			out = append(out, rest)
		}
	}
	return out
}

func startsWith(way []usagePart, atoms []grammar.Token, line string) bool {
	for i, t := range atoms {
		if !way[i].takes(line[t.Span.Start:t.Span.End], t.Class) {
			return false
		}
	}
	return true
}

// sample writes parts out as an example, and as a snippet whose holes are stops of the cursor (LSP 3.18, snippet syntax).
func sample(parts []usagePart) (plain, snippet string) {
	var texts, stops []string
	number := 0
	for _, p := range parts {
		switch {
		case p.text == "…":
			continue // and so on, for who reads the usage
		case p.isNumber():
			p.text = "0"
		}
		texts = append(texts, p.text)
		if !p.hole {
			stops = append(stops, p.text)
			continue
		}
		number++
		if strings.HasPrefix(p.text, `"`) {
			stops = append(stops, `"`+stop(number, strings.Trim(p.text, `"`))+`"`)
		} else {
			stops = append(stops, stop(number, p.text))
		}
	}
	return strings.Join(texts, " "), strings.Join(stops, " ")
}

func stop(number int, text string) string {
	return "${" + string(rune('0'+number)) + ":" + strings.NewReplacer(`\`, `\\`, "$", `\$`, "}", `\}`).Replace(text) + "}"
}

// atomsOf are the atoms and strings of a line, without white space and comment.
func atomsOf(line string) []grammar.Token {
	var out []grammar.Token
	for _, t := range grammar.Tokens(line) {
		if t.Class != grammar.Space && t.Class != grammar.Comment {
			out = append(out, t)
		}
	}
	return out
}
