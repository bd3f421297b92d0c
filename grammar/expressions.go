package grammar

const (
	reNumber  = `[+-]?\d+(?:\.\d+)?`
	reTime    = `[+-]?(?:\d+(?:\.\d+|/\d+)?[fbs])(?:[+-]\d+(?:\.\d+|/\d+)?[fbs])*`
	reUnit    = `(?:(?i:cm/s|deg/s|cm|deg|hz|bpm|fps)|%|s|f)`
	reSegment = `(?:[\pL\pM\pN_-]*[\pL\pM\pN_])`
	reWord    = `\pL(?:[\pL\pM\pN_-]*[\pL\pM\pN_])?(?:\.` + reSegment + `)*`
	reRun     = `[\pL\pM\pN_.-]`
	reStarred = `[\pL\pM\pN_.*-]`
	// reCount is a unit of limits alone.
	reCount = `(?i:keys|joints|kB|x)`
)

// ClassExpression is a class of atoms and the regular expression of the atoms that belong to it.
type ClassExpression struct {
	Class      Class
	Expression string // to be fitted to the whole atom
}

// Expressions defines the classes of atoms by regular expressions, of which the first that fits the whole atom counts; what
// fits none is [Illegal]. [Classify] does the same by hand and is held to them. They use groups without capture, some of
// them in any case, and \pL \pM \pN for Unicode's letters, marks and numbers, so that the editors' colours can be made of
// them in every dialect.
func Expressions() []ClassExpression {
	return []ClassExpression{
		{Dot, `\.`},
		{Number, reNumber},
		{Marked, reNumber + `(?:[~^>=]|@` + reNumber + `(?:,` + reNumber + `)?)`},
		{TimeAtom, reTime},
		{Percent, reNumber + `%`},
		{Quantity, `(?:` + reNumber + `|\d+/\d+)` + reUnit},
		{Word, reWord},
		{Path, reWord + `/` + reWord},
		{Pattern, reRun + `*\*` + reStarred + `*(?:/` + reStarred + `+)?|` + reRun + `+/` + reRun + `*\*` + reStarred + `*`},
		{RangeAtom, `(?:` + reNumber + `|` + reTime + `)\.\.(?:` + reTime + `|` + reNumber + reUnit + `?)`},
		{Direction, `[+-][xyz]`},
		{Easing, reNumber + `(?:,` + reNumber + `){3}`},
		{Limits, reNumber + `(?:` + reUnit + `|` + reCount + `)(?:,` + reNumber + `(?:` + reUnit + `|` + reCount + `))+|` + reNumber + reCount},
		{Fraction, `\d+/\d+`},
		{Unit, `%`},
	}
}
