package grammar

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/alecthomas/participle/v2/lexer"
	"golang.org/x/text/unicode/norm"
)

// At says where in its line a node stands. The parser fills it in.
type At struct{ Pos, EndPos lexer.Position }

// Where is the node's span in bytes from the start of its line.
func (a At) Where() Span { return Span{a.Pos.Offset, a.EndPos.Offset} }

// Name is a word that names something.
type Name struct {
	At
	Text string `parser:"@Word"`
}

// Key is the form in which names are compared: Unicode's NFC, so that an accent typed as one character or as two makes
// no difference.
func (n Name) Key() string { return NameKey(n.Text) }

// NameKey is the form in which names are compared (NFC, Unicode Standard Annex 15). ASCII names are their own key.
func NameKey(text string) string {
	for i := 0; i < len(text); i++ {
		if text[i] >= 0x80 {
			return norm.NFC.String(text)
		}
	}
	return text
}

// ChannelPath is `control/channel`.
type ChannelPath struct {
	At
	Text string `parser:"@Path"`
}

// Key is the path as it is compared.
func (p ChannelPath) Key() string { return NameKey(p.Text) }

// Control is the part before the slash, as it is compared.
func (p ChannelPath) Control() string { control, _, _ := strings.Cut(p.Key(), "/"); return control }

// Channel is the part behind the slash, as it is compared.
func (p ChannelPath) Channel() string { _, channel, _ := strings.Cut(p.Key(), "/"); return channel }

// PatternText is a word, a path, or either with `*` for any run of characters.
type PatternText struct {
	At
	Text string `parser:"@(Word | Path | Pattern)"`
}

// Match tells whether name fits the pattern; `*` stands for any run of characters, none included.
func (p PatternText) Match(name string) bool { return MatchPattern(NameKey(p.Text), name) }

// MatchPattern tells whether name fits pattern, in which `*` stands for any run of characters, none included. Both are
// name keys. The time is linear in the name for each `*`.
func MatchPattern(pattern, name string) bool {
	first, rest, starred := strings.Cut(pattern, "*")
	if !starred {
		return pattern == name
	}
	if !strings.HasPrefix(name, first) {
		return false
	}
	name = name[len(first):]
	for {
		part, after, more := strings.Cut(rest, "*")
		if !more {
			return strings.HasSuffix(name, part)
		}
		at := strings.Index(name, part)
		if at < 0 {
			return false
		}
		name, rest = name[at+len(part):], after
	}
}

// FileName is a string that names a file, relative to the file that it stands in.
type FileName struct {
	At
	Quoted string `parser:"@String"`
}

// Text is the name without its quotes.
func (f FileName) Text() string { return strings.Trim(f.Quoted, `"`) }

// Decimal is a number's exact text together with its value.
type Decimal struct {
	Text  string
	Value float64
}

// Capture lets the grammar fill a Decimal from a number or a percentage.
func (d *Decimal) Capture(values []string) error {
	d.Text = values[0]
	value, err := strconv.ParseFloat(strings.TrimSuffix(values[0], "%"), 64)
	if err != nil {
		return fmt.Errorf("%s is too large a number", quoteShort(values[0]))
	}
	d.Value = value
	return nil
}

// Key is a number with the mark that says how the curve passes it, such as `1.5^` or `-2@8`.
type Key struct {
	Value float64
	Shape Mark
	Slope *Slopes // of the mark @
}

// Capture lets the grammar fill a Key from one atom.
func (k *Key) Capture(values []string) error {
	text := values[0]
	at := strings.IndexAny(text, markRunes)
	k.Shape = markOf(text[at])
	in, out, two := strings.Cut(text[at+1:], ",")
	if !two {
		out = in
	}
	numbers := make([]float64, 3)
	for i, number := range []string{text[:at], in, out} {
		if number == "" {
			continue
		}
		var err error
		if numbers[i], err = strconv.ParseFloat(number, 64); err != nil {
			return fmt.Errorf("%s is too large a number", quoteShort(number))
		}
	}
	k.Value = numbers[0]
	if k.Shape == SlopeMark {
		k.Slope = &Slopes{numbers[1], numbers[2]}
	}
	return nil
}

// Figure is a plain number without a unit.
type Figure struct {
	At
	Decimal Decimal `parser:"@Number"`
}

// Share is a percentage, its unit glued or after a space.
type Share struct {
	At
	Decimal Decimal `parser:"( @Percent | @Number '%' )"`
}

// Measure is a number and its unit, glued or after a space: `80 bpm`, `24fps`, `24000/1001 fps`, `1.8 Hz`, `0.05deg`.
// A number alone is a Measure without a unit; a time in seconds or frames may stand here too.
type Measure struct {
	At
	Glued  string `parser:"( @( Quantity | Percent | Time )"`
	Number string `parser:"| @( Number | Fraction )"`
	Behind string `parser:"  ( (?! 'damping' ) @( Word | Path | Unit ) )? )"`
}

// Unit is the unit in the spelling of the language (`Hz`, `bpm`, `deg/s`), and empty where none stands.
func (m Measure) Unit() string { _, unit := m.split(); return unit }

// Amount is the number as an exact fraction, and false where it is too large to be exact.
func (m Measure) Amount() (Rat, bool) { number, _ := m.split(); return ParseRat(number) }

// Float is the number.
func (m Measure) Float() float64 { r, _ := m.Amount(); return r.Float() }

func (m Measure) split() (number, unit string) {
	if m.Glued == "" {
		return m.Number, unitName(m.Behind)
	}
	at := strings.LastIndexAny(m.Glued, "0123456789") + 1
	return m.Glued[:at], unitName(m.Glued[at:])
}

// units are all the units of the language, in their own spelling.
var units = []string{"%", "cm", "deg", "s", "f", "b", "Hz", "bpm", "fps", "cm/s", "deg/s"}

// counts are the units of limits alone, in their own spelling.
var counts = []string{"keys", "joints", "kB", "x"}

// unitName is the language's spelling of a unit written in any case; what is no unit comes back as it is.
func unitName(text string) string {
	for _, u := range units {
		if strings.EqualFold(u, text) {
			return u
		}
	}
	for _, u := range counts {
		if strings.EqualFold(u, text) {
			return u
		}
	}
	return text
}

// Moment is a time as it is written.
type Moment struct {
	At
	Time Time `parser:"@( Time | '0' )"`
}

// Stretch is a range of numbers, with its unit glued or after a space.
type Stretch struct {
	At
	Text   string `parser:"@Range"`
	Behind string `parser:"@( Word | Path | Unit )?"`
}

// Window is a range of times.
type Window struct {
	At
	Text string `parser:"@Range"`
}

// Times are the two ends, and false where an end is something else than a time.
func (w Window) Times() (from, to Time, ok bool) { return ParseTimes(w.Text) }

// Numbers are the two ends of a range of numbers and its unit, and false where an end is something else.
func (s Stretch) Numbers() (from, to float64, unit string, ok bool) {
	from, to, unit, ok = ParseNumbers(s.Text)
	if s.Behind != "" {
		if unit != "" {
			return 0, 0, "", false
		}
		unit = unitName(s.Behind)
	}
	return from, to, unit, ok
}

// ParseTimes reads a range of times such as `3b..5b`.
func ParseTimes(text string) (from, to Time, ok bool) {
	left, right, _ := strings.Cut(text, "..")
	from, okFrom := ParseTime(left)
	to, okTo := ParseTime(right)
	return from, to, okFrom && okTo
}

// ParseNumbers reads a range of numbers such as `-12..12` or `0.6..2.5Hz`.
func ParseNumbers(text string) (from, to float64, unit string, ok bool) {
	left, right, _ := strings.Cut(text, "..")
	at := strings.LastIndexAny(right, "0123456789") + 1
	from, errFrom := strconv.ParseFloat(left, 64)
	to, errTo := strconv.ParseFloat(right[:at], 64)
	return from, to, unitName(right[at:]), errFrom == nil && errTo == nil
}

// Curve is an easing written out: the two inner points of a cubic Bézier from 0,0 to 1,1 (W3C CSS Easing Functions).
type Curve struct {
	At
	Text string `parser:"@Easing"`
}

// Points are x1, y1, x2, y2.
func (c Curve) Points() [4]float64 { p, _ := ParseEasing(c.Text); return p }

// ParseEasing reads `x1,y1,x2,y2`; it is false where that is not what stands there.
func ParseEasing(text string) (points [4]float64, ok bool) {
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return points, false
	}
	for i, part := range parts {
		value, err := strconv.ParseFloat(part, 64)
		if err != nil {
			return points, false
		}
		points[i] = value
	}
	return points, true
}

// Limit is one limit of a rule: a number and its unit, which may be empty.
type Limit struct {
	Value float64
	Unit  string
}

// ParseLimits reads `0.01cm,0.05deg,0.05%`, a single one of them, `600keys,20kB`, or a number without a unit.
func ParseLimits(text string) (limits []Limit, ok bool) {
	for _, part := range strings.Split(text, ",") {
		at := strings.LastIndexAny(part, "0123456789") + 1
		value, err := strconv.ParseFloat(part[:at], 64)
		if err != nil {
			return nil, false
		}
		limits = append(limits, Limit{value, unitName(part[at:])})
	}
	return limits, true
}
