package grammar

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/alecthomas/participle/v2"
)

// explain turns participle's error about a line into a message for people. An atom that is nothing at all is named as
// such; a likely slip is told with its mend; and everything else by what stands there and what the line should look
// like.
func explain(err error, kind LineKindInfo, text string) *Fault {
	if fault := illegalAtom(text); fault != nil {
		return fault
	}
	var unexpected *participle.UnexpectedTokenError
	if !errors.As(err, &unexpected) {
		return tooManyDigits(err, text)
	}
	m := misfit{kind: kind, text: text, wanted: wantedBy(unexpected)}
	for _, t := range Tokens(text) {
		switch {
		case t.Class == Space || t.Class == Comment:
		case t.Span.Start < unexpected.Unexpected.Pos.Offset || unexpected.Unexpected.EOF():
			m.before = append(m.before, t)
		default:
			m.from = append(m.from, t)
		}
	}
	if len(m.from) == 0 {
		return m.tooShort()
	}
	if fault := m.slip(); fault != nil {
		return fault
	}
	first := m.from[0]
	fault := &Fault{Span: first.Span, Message: quoteShort(m.at(first)) + " cannot stand here"}
	if near := suggest(m.at(first), lowerWords(kind.Usage)); near != "" && near != m.at(first) {
		fault.offer(first.Span, near)
	} else {
		fault.Message += "; write " + quote(kind.Usage)
	}
	return fault
}

// tooManyDigits is a number that its production took, but that is too large to be kept.
func tooManyDigits(err error, text string) *Fault {
	fault := &Fault{Span: Span{0, len(text)}, Message: err.Error()}
	var placed participle.Error
	if errors.As(err, &placed) {
		fault.Message = placed.Message()
		at := placed.Position().Offset
		fault.Span = nextToken(text, at+runLength(text[at:], isSpace)).Span
	}
	fault.Message = strings.TrimPrefix(fault.Message, "failed to capture: ")
	return fault
}

var reExpected = expression(`\(expected \(*"?([A-Za-z%]+)`)

// wantedBy is the first production or word that participle expected in place of what it found, or empty.
func wantedBy(err *participle.UnexpectedTokenError) string {
	if m := reExpected().FindStringSubmatch(err.Message()); m != nil {
		return m[1]
	}
	return ""
}

// misfit is a line that its production does not take.
type misfit struct {
	kind   LineKindInfo
	text   string
	before []Token // what the production took
	from   []Token // what can't stand there, and all behind it; none where the line ends too soon
	wanted string  // the production or word that was expected there, or empty
}

func (m *misfit) at(t Token) string { return m.text[t.Span.Start:t.Span.End] }

// rest is the span from the misfit to the last atom of the line.
func (m *misfit) rest() Span { return m.from[0].Span.Cover(m.from[len(m.from)-1].Span) }

func (m *misfit) tooShort() *Fault {
	last := m.before[len(m.before)-1]
	if (m.wanted == "Share" || m.wanted == "%") && last.Class == Number {
		return noShare(last.Span, m.at(last))
	}
	return &Fault{Span: last.Span, Message: "the line ends too soon; write " + quote(m.kind.Usage)}
}

// noShare is a number without its %. A small one may be a factor as well as a percentage, so that its mends are guesses.
func noShare(span Span, number string) *Fault {
	fault := &Fault{Span: span, Message: quote(number) + " has no unit"}
	value, err := strconv.ParseFloat(number, 64)
	const large = 10 // nobody plays a motion ten times as large
	if err != nil || math.Abs(value) >= large {
		fault.offer(span, number+"%")
		return fault
	}
	factor, share := strconv.FormatFloat(value*100, 'f', -1, 32)+"%", number+"%"
	if value == 0 {
		fault.offer(span, share)
		return fault
	}
	fault.Guess = true
	if strings.Contains(number, ".") && 0 < value && value <= 1 {
		fault.offer(span, factor)
		return fault
	}
	fault.Message += fmt.Sprintf("; write %s for %s times as much, or %s", quote(factor), number, quote(share))
	fault.Title, fault.Edits = "write "+quote(factor), []LineEdit{{span, factor}}
	fault.Others = []LineMend{{"write " + quote(share), []LineEdit{{span, share}}}}
	return fault
}

// slip recognises likely slips of the hand by what was wanted and what stands there.
func (m *misfit) slip() *Fault {
	first := m.from[0]
	atom := m.at(first)
	wanted := m.wanted
	if len(m.before) == 0 && strings.HasPrefix(m.kind.Usage, "CONTROL/CHANNEL") {
		wanted = "ChannelPath"
	}
	fault := &Fault{Span: first.Span}
	switch number := first.Class == Number || first.Class == Fraction; {
	case wanted == "Moment" && number:
		return m.noTimeUnit()
	case wanted == "FileName" && first.Class != String:
		fault.Message = "the name of a file stands in quotes"
		fault.offer(first.Span, `"`+atom+`"`)
	case wanted == "Figure" && first.Class != Word:
		return notPlain(first, atom)
	case wanted == "ChannelPath" && first.Class == Word:
		fault.Message = quote(atom) + " names no channel; a channel is CONTROL/CHANNEL, such as `hips/tilt`"
		if len(m.from) > 1 && m.from[1].Class == Word {
			fault.offer(first.Span.Cover(m.from[1].Span), atom+"/"+m.at(m.from[1]))
		} else if point := strings.LastIndexByte(atom, '.'); point > 0 {
			fault.offer(first.Span, atom[:point]+"/"+atom[point+1:])
		}
	case slices.Contains(connecting, wanted) && !slices.Contains(lowerWords(m.kind.Usage), atom):
		fault.Message = fmt.Sprintf("%s is missing before %s", quote(wanted), quote(atom))
		fault.offer(first.Span, wanted+" "+atom)
	case wanted == "Name" && first.Class == Path:
		control, _, _ := strings.Cut(atom, "/")
		fault.Message = quote(atom) + " is a channel, but a name without a stroke stands here"
		fault.offer(first.Span, control)
	case wanted == "Window" || wanted == "Stretch":
		return m.noRange()
	case wanted == "Curve":
		fault.Message = quote(atom) + " is not an easing; one is four numbers with commas between and no spaces, such as `0.3,0,0.1,1`"
	case (wanted == "Share" || wanted == "%") && number:
		return noShare(first.Span, atom)
	case wanted == "" && len(m.before) > 0:
		return m.tooMuch()
	default:
		return nil
	}
	return fault
}

// connecting are the words that no part of a line can be left out with.
var connecting = []string{"after", "of", "at", "damping", "overshoot"}

// noTimeUnit is a number where a time is wanted; a unit may stand behind it, apart or written out.
func (m *misfit) noTimeUnit() *Fault {
	number := m.at(m.from[0])
	fault := &Fault{Span: m.from[0].Span}
	if len(m.from) > 1 && m.from[1].Class == Word {
		for _, unit := range []string{"frames", "beats", "seconds"} {
			if word := strings.ToLower(m.at(m.from[1])); strings.HasPrefix(unit, word) {
				fault.Span = fault.Span.Cover(m.from[1].Span)
				fault.Message = "the unit of a time is one letter, glued to its number"
				if len(word) == 1 {
					fault.Message = "a time has no space in it"
				}
				fault.offer(fault.Span, number+unit[:1])
				return fault
			}
		}
	}
	if len(m.from) > 1 && m.from[1].Class == TimeAtom && m.from[0].Class == Number {
		return mixedTime(fault.Span.Cover(m.from[1].Span), number, m.at(m.from[1]))
	}
	fault.Message = noTimeUnit(number)
	return fault
}

// mixedTime is a time that is written as a whole number and a part, `5 1/2b`.
func mixedTime(span Span, whole, part string) *Fault {
	fault := &Fault{Span: span, Message: "a time has no space in it"}
	n, isNumber := ParseRat(whole)
	t, isTime := ParseTime(part)
	if !isNumber || !isTime || n.Sign() < 0 {
		return fault
	}
	*t.term(part[len(part)-1]) = t.term(part[len(part)-1]).Add(n)
	fault.offer(span, t.String())
	return fault
}

func noTimeUnit(number string) string {
	return fmt.Sprintf("%s has no unit; write %sf for frames, %sb for beats or %ss for seconds", quote(number), number, number, number)
}

// notPlain is an atom where a plain number is wanted.
func notPlain(t Token, atom string) *Fault {
	fault := &Fault{Span: t.Span}
	switch t.Class {
	case Quantity, Percent, TimeAtom:
		fault.Message = quote(atom) + " has a unit; values are in their channel's own unit, so write the number alone"
		fault.Guess, fault.Unit = true, strings.TrimPrefix(atom, leadingNumber(atom))
	case Marked:
		fault.Message = quote(atom) + " has a shape mark, which only a track's keys have"
	case Fraction:
		fault.Message = quote(atom) + " is a fraction, which only times and rates may be"
		if r, ok := ParseRat(atom); ok {
			fault.offer(t.Span, decimals(r))
		}
		return fault
	default:
		return nil
	}
	fault.offer(t.Span, leadingNumber(atom))
	return fault
}

// noRange is something else where a range is wanted: its ends apart, or with a hyphen between.
func (m *misfit) noRange() *Fault {
	span, atom := m.from[0].Span, m.at(m.from[0])
	fault := &Fault{Span: span, Message: quote(atom) + " is not a range; a range is two ends with two points between"}
	meant := strings.Replace(atom, "-", "..", 1)
	if len(m.from) > 1 && m.from[1].Class == m.from[0].Class {
		fault.Span = span.Cover(m.from[1].Span)
		meant = atom + ".." + m.at(m.from[1])
	}
	if Classify(meant) == RangeAtom {
		fault.offer(fault.Span, meant)
		return fault
	}
	fault.Message += "; write " + quote(m.kind.Usage)
	return fault
}

// tooMuch is something behind a line that is complete.
func (m *misfit) tooMuch() *Fault {
	first, last := m.from[0], m.before[len(m.before)-1]
	atom := m.at(first)
	if near := suggest(atom, lowerWords(m.kind.Usage)); near != "" || !m.completeBefore() {
		return nil
	}
	fault := &Fault{Span: m.rest()}
	rest := m.text[fault.Span.Start:fault.Span.End]
	switch {
	case first.Class == String && strings.Contains(m.kind.Usage, `in "FILE"`):
		fault.Message = "`in` is missing before the name of the file"
		fault.offer(first.Span, "in "+atom)
	case first.Class == Word && last.Class == Word && len(m.before) == 2 && slices.Contains(named, m.kind.Word):
		fault.Span = last.Span.Cover(first.Span)
		fault.Message = "a name is one word"
		fault.offer(fault.Span, m.at(last)+"-"+atom)
	default:
		fault.Message = fmt.Sprintf("%s is too much; the line is complete without it, as in %s", quoteShort(rest), quote(m.kind.Usage))
		fault.Title = "leave out " + quoteShort(rest)
		fault.Edits = []LineEdit{{Span{last.Span.End, fault.Span.End}, ""}}
	}
	return fault
}

// named are the lines that give a thing its name.
var named = []string{"sheet", "rig", "pose", "layer", "quiver", "breath", "family"}

func (m *misfit) completeBefore() bool {
	return parses(m.kind, m.text[:m.from[0].Span.Start])
}

// lowerWords are the words of a usage that stand for themselves.
func lowerWords(usage string) []string {
	var words []string
	for _, w := range strings.FieldsFunc(usage, func(r rune) bool { return strings.ContainsRune(" ,[]|", r) }) {
		if w == strings.ToLower(w) && Classify(w) == Word && len(w) > 2 {
			words = append(words, w)
		}
	}
	return words
}

// explainRow says why a row of a table does not read, by the production that defines rows.
func explainRow(text string, columns int) *Fault {
	tokens := Tokens(text)
	for i, t := range tokens {
		atom := text[t.Span.Start:t.Span.End]
		switch {
		case t.Class == Fraction:
			return notPlain(t, atom)
		case t.Class == Illegal && slices.Contains([]string{"-", "--", "_", "–", "—", "−", "/"}, atom):
			if fault := signApart(text, tokens, i, columns); fault != nil {
				return fault
			}
			fault := &Fault{Span: t.Span, Message: quote(atom) + " is no cell; an empty one is a point"}
			fault.offer(t.Span, ".")
			return fault
		case t.Class == Illegal && oneAtom(tokens):
			if cells := spreadsheetCells(atom); cells != "" {
				return &Fault{Span: t.Span, Message: "cells have spaces between them", Title: "write spaces between the cells", Edits: []LineEdit{{t.Span, cells}}}
			}
		}
	}
	_, err := parseTableRow(text)
	return explain(err, LineKindInfo{Usage: "names, numbers, times and . for empty cells, with spaces between"}, text)
}

// oneAtom tells whether all of a line but a comment is one atom.
func oneAtom(tokens []Token) bool {
	n := 0
	for _, t := range tokens {
		if t.Class != Space && t.Class != Comment {
			n++
		}
	}
	return n == 1
}

// spreadsheetCells is an atom that a spreadsheet has written, cells with signs between, as cells with spaces between; empty for
// any other.
func spreadsheetCells(atom string) string {
	for _, sign := range []string{";", "|", ","} {
		parts := strings.Split(atom, sign)
		if len(parts) < 3 {
			continue
		}
		for i, part := range parts {
			if part == "" {
				parts[i] = "."
			} else if Classify(part) == Illegal {
				if _, parts[i] = diagnoseAtom(part); parts[i] == "" {
					return ""
				}
			}
		}
		return strings.Join(parts, "  ")
	}
	return ""
}

// signApart is a minus sign with a space behind it, in a row that has too many cells if it is one by itself.
func signApart(text string, tokens []Token, i, columns int) *Fault {
	cells := 0
	for _, t := range tokens {
		if t.Class != Space && t.Class != Comment {
			cells++
		}
	}
	sign := text[tokens[i].Span.Start:tokens[i].Span.End]
	if cells <= columns || i+2 >= len(tokens) || sign != "-" && sign != "–" && sign != "−" {
		return nil
	}
	next := tokens[i+2]
	number := text[next.Span.Start:next.Span.End]
	if next.Class != Number && next.Class != Marked || strings.ContainsAny(number[:1], "+-") {
		return nil
	}
	fault := &Fault{Span: tokens[i].Span.Cover(next.Span), Message: "a number has no space behind its sign"}
	fault.offer(fault.Span, "-"+number)
	return fault
}

// indentedOpener is a line that would open a block if it stood in column 1.
func indentedOpener(l *Line) *Fault {
	content := l.Content()
	first := nextToken(l.Text, content.Start)
	word := l.Text[first.Span.Start:first.Span.End]
	info := blockOf()[word]
	if content.Start == 0 || info == nil || !parses(info.Opener, l.Text) {
		return nil
	}
	return &Fault{
		Span: content, Message: fmt.Sprintf("%s opens a block, and so must begin in column 1", quote(word)),
		Title: "take out the indent", Edits: []LineEdit{{Span{0, content.Start}, ""}},
	}
}

// illegalAtom gives the fault of the first atom of a line that belongs to no class.
func illegalAtom(text string) *Fault {
	tokens := Tokens(text)
	for i, t := range tokens {
		if t.Class != Illegal {
			continue
		}
		if fault := slipBetween(text, tokens, i); fault != nil {
			return fault
		}
		message, instead := diagnoseAtom(text[t.Span.Start:t.Span.End])
		if per, ok := perTime(tokens, text, instead); ok {
			message, instead = quote(text[t.Span.Start:t.Span.End])+" has its unit written out; did you mean "+quote(per)+"?", per
		}
		fault := &Fault{Span: t.Span, Message: message}
		if instead != "" {
			fault.Title = "write " + quoteShort(instead)
			fault.Edits = []LineEdit{{t.Span, instead}}
		}
		if strings.HasSuffix(instead, "°") != strings.HasSuffix(text[t.Span.Start:t.Span.End], "°") {
			fault.Guess, fault.Unit = true, "deg"
		}
		return fault
	}
	return nil
}

// perTime is what a number of frames or beats means in the line that says how many go by in a time: frames a second in `rate`,
// beats a minute in `tempo`.
func perTime(tokens []Token, text, atom string) (per string, ok bool) {
	first := slices.IndexFunc(tokens, func(t Token) bool { return t.Class == Word })
	if first < 0 {
		return "", false
	}
	for _, unit := range []struct{ line, short, per string }{{"rate", "f", "fps"}, {"tempo", "b", "bpm"}} {
		if number, fits := strings.CutSuffix(atom, unit.short); fits && text[tokens[first].Span.Start:tokens[first].Span.End] == unit.line {
			return number + unit.per, true
		}
	}
	return "", false
}

// slipBetween recognises slips that show only beside the other atoms of the line.
func slipBetween(text string, tokens []Token, i int) *Fault {
	at := tokens[i].Span
	atom := text[at.Start:at.End]
	fault := &Fault{Span: at}
	before := Token{}
	if i > 1 && tokens[i-1].Class == Space {
		before = tokens[i-2]
	}
	if comment := foreignComment(text, at.Start); comment != nil {
		comment.Guess = true // unless the rest of the line is complete
		return comment
	}
	switch {
	case (atom == "-" || atom == "–" || atom == "−") && i+2 < len(tokens) && tokens[i+1].Class == Space && unsigned(text, tokens[i+2]):
		fault.Span = at.Cover(tokens[i+2].Span)
		fault.Message = "a number has no space behind its sign"
		fault.offer(fault.Span, "-"+text[tokens[i+2].Span.Start:tokens[i+2].Span.End])
	case strings.ContainsAny(atom, "{}") && len(atom) == 1:
		fault.Message = "a sheet has no braces; a block ends where the next one begins"
		fault.Title = "leave out " + quote(atom)
		fault.Edits = []LineEdit{{at, ""}}
	case before.Class == Number && Classify(text[before.Span.Start:before.Span.End]+atom) == Marked:
		fault.Message = fmt.Sprintf("the mark %s is glued to its number", quote(atom))
		fault.Span = before.Span.Cover(at)
		fault.offer(fault.Span, text[before.Span.Start:before.Span.End]+atom)
	case (before.Class == Word || before.Class == Path) && (atom == "=" || atom == ":"):
		fault.Message = fmt.Sprintf("no %s stands between a word and its value", quote(atom))
		fault.Title = "leave out " + quote(atom)
		fault.Edits = []LineEdit{{Span{tokens[i-1].Span.Start, at.End}, ""}}
	case strings.HasSuffix(atom, ","):
		return numbersApart(text, tokens[i:])
	default:
		return nil
	}
	return fault
}

// unsigned tells whether a token is a number without a sign.
func unsigned(text string, t Token) bool {
	return t.Class == Number && !strings.ContainsRune("+-", rune(text[t.Span.Start]))
}

// numbersApart is a list of numbers with commas and spaces between.
func numbersApart(text string, tokens []Token) *Fault {
	var joined strings.Builder
	var fault *Fault
	for _, t := range tokens {
		if t.Class == Space {
			continue
		}
		joined.WriteString(text[t.Span.Start:t.Span.End])
		if class := Classify(joined.String()); class == Easing || class == Limits || class == Marked {
			span := tokens[0].Span.Cover(t.Span)
			fault = &Fault{Span: span, Message: "no spaces stand between the numbers"}
			fault.offer(span, joined.String())
		}
		if !strings.HasSuffix(joined.String(), ",") {
			break
		}
	}
	return fault
}
