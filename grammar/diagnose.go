package grammar

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// diagnoseAtom says what is wrong with an atom that belongs to no class, and what was probably meant; the second
// answer is empty where there is no likely meaning.
func diagnoseAtom(atom string) (message, instead string) {
	if strings.HasPrefix(atom, `"`) {
		return "the string " + quoteShort(atom) + ` has no closing quote; strings end on their line`, atom + `"`
	}
	if strings.ContainsRune(atom, utf8.RuneError) && !utf8.ValidString(atom) {
		return "this is not UTF-8 text; save the file as UTF-8", ""
	}
	for _, fix := range atomFixes {
		if tidy := fix.replace(atom); tidy != atom && allAtoms(tidy) {
			return quote(atom) + " " + fix.what, strings.TrimSpace(tidy)
		}
	}
	for _, first := range atomFixes {
		tidy := first.replace(atom)
		for _, second := range atomFixes {
			if twice := second.replace(tidy); tidy != atom && twice != tidy && allAtoms(twice) {
				return quote(atom) + " " + first.what + "; and it " + second.what, strings.TrimSpace(twice)
			}
		}
	}
	if strings.ContainsRune(atom, '\r') {
		return "there is a return without a line feed here, as old programs end lines; save the file with the line ends of Unix or Windows", ""
	}
	for _, r := range atom {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || unicode.IsSpace(r) {
			return "there is an invisible character (" + runeName(r) + ") in " + quoteShort(atom) + "; delete it", ""
		}
	}
	switch number := leadingNumber(atom); {
	case number == "" || number == atom:
		return quote(atom) + " is not a name, a number, a time or anything else that the language has", ""
	case atom[len(number)] == '@':
		return quote(atom) + " lacks the slope behind @, or the two in and out, such as " + quote(number+"@1.5") + " or " + quote(number+"@-3,1.5"), ""
	case len(atom) == len(number)+1 && unicode.IsLetter(rune(atom[len(number)])):
		return quote(atom) + " ends in " + quote(atom[len(number):]) + ", which is no unit; a time ends in f, b or s, and a name begins with a letter", ""
	case strings.Count(atom, ",") > 1:
		return quote(atom) + " is not an easing; one is four numbers with commas between and no spaces, such as `0.3,0,0.1,1`", ""
	case atom[len(number)] == ':':
		return quote(atom) + " has a colon; a time is written in beats, frames or seconds, such as " + quote("2b") + " or " + quote("30f"), ""
	case Classify(number+shortUnit(atom[len(number):])) != Illegal:
		short := number + shortUnit(atom[len(number):])
		return quote(atom) + " has its unit written out; did you mean " + quote(short) + "?", short
	default:
		return quote(atom) + " is a number with " + quote(atom[len(number):]) + " behind it, which is neither a unit (f b s cm deg % Hz bpm fps) nor a shape mark (~ ^ > = @); a name begins with a letter", ""
	}
}

// shortUnit is a unit as the language writes it; one that is no unit at all stays as it is.
func shortUnit(word string) string {
	switch lower := strings.ToLower(word); lower {
	case "frame", "frames":
		return "f"
	case "beat", "beats":
		return "b"
	case "sec", "secs", "second", "seconds":
		return "s"
	case "percent":
		return "%"
	case "degree", "degrees":
		return "deg"
	default:
		return lower
	}
}

func allAtoms(text string) bool {
	for _, t := range Tokens(text) {
		if t.Class == Illegal || t.Class == Comment {
			return false
		}
	}
	return text != ""
}

func leadingNumber(atom string) string { return atom[:numberLength(atom)] }

// Only a mistake needs these expressions, so they are compiled with the first one.
var (
	reDecimalComma = expression(`(\d),(\d)`)
	reBareFraction = expression(`(^|[^\d])\.(\d)`)
	reBarePoint    = expression(`(\d)\.([^\d.]|$)`)
	reUpperUnit    = expression(`[FBS]\b`)
	reFile         = expression(`(?i)^[^"]+\.(?:motet|glb|gltf)$`)
	reHyphenRange  = expression(`^([+-]?\d+(?:\.\d+)?)[-–]([+-]?\d+(?:\.\d+)?(?:(?i:cm/s|deg/s|cm|deg|hz|bpm|fps)|%|s|f)?)$`)
	reMarkBefore   = expression(`^([~^>=])([+-]?\d+(?:\.\d+)?)$`)
	reExponent     = expression(`^([+-]?\d+(?:\.\d+)?[eE][+-]?\d{1,2})([~^>=].*|@.*)?$`)
)

// atomFixes are slips of the hand and of other programs' number formats, with what was meant.
var atomFixes = []struct {
	what    string
	replace func(string) string
}{
	{"has a typographic minus sign; write - (hyphen)", func(s string) string { return strings.NewReplacer("−", "-", "–", "-").Replace(s) }},
	{"has a no-break space in it; use an ordinary space", func(s string) string {
		return strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ").Replace(s)
	}},
	{"has a decimal comma; write a point", func(s string) string {
		if strings.Count(s, ",") != 1 {
			return s
		}
		return reDecimalComma().ReplaceAllString(s, "$1.$2")
	}},
	{"is not how a range is written; two points stand between its ends", func(s string) string {
		return reHyphenRange().ReplaceAllString(strings.NewReplacer("…", "..", "...", "..").Replace(s), "$1..$2")
	}},
	{"has a point without a digit before it; write 0 there", func(s string) string { return reBareFraction().ReplaceAllString(s, "${1}0.$2") }},
	{"has a point without a digit behind it; write a digit or drop the point", func(s string) string { return reBarePoint().ReplaceAllString(s, "$1$2") }},
	{"has its shape mark before the number; it stands behind", func(s string) string { return reMarkBefore().ReplaceAllString(s, "$2$1") }},
	{"has an exponent; write the number out in decimals", expandExponent},
	{"is a time with a capital letter; times end in f, b or s", func(s string) string { return reUpperUnit().ReplaceAllStringFunc(s, strings.ToLower) }},
	{"has a curly quote; strings stand in straight ones", func(s string) string { return strings.NewReplacer("“", `"`, "”", `"`, "„", `"`).Replace(s) }},
	{"stands in single quotes; strings stand in double ones", func(s string) string {
		inner := strings.TrimSuffix(strings.TrimSuffix(s, "'"), "’")
		if inner == s || !strings.HasPrefix(s, "'") && !strings.HasPrefix(s, "‘") {
			return s
		}
		return `"` + strings.TrimPrefix(strings.TrimPrefix(inner, "'"), "‘") + `"`
	}},
	{"is the name of a file, which stands in quotes", func(s string) string {
		if !reFile().MatchString(s) {
			return s
		}
		return `"` + s + `"`
	}},
	{"has a backslash; a channel's path has a stroke", func(s string) string { return strings.ReplaceAll(s, `\`, "/") }},
	{"has a degree sign; values are in their channel's own unit, so write the number alone", func(s string) string { return strings.TrimSuffix(s, "°") }},
	{"ends in punctuation; leave it out", func(s string) string { return strings.TrimRight(s, ".,;:-") }},
}

func expandExponent(atom string) string {
	m := reExponent().FindStringSubmatch(atom)
	if m == nil {
		return atom
	}
	value, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		return atom
	}
	return strconv.FormatFloat(value, 'f', -1, 64) + m[2]
}
