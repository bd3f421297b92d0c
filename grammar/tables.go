package grammar

import (
	"fmt"
	"slices"
	"strings"
)

// ColumnKind says what the cells of a column hold.
type ColumnKind uint8

// The kinds of columns.
const (
	TimeColumn   ColumnKind = iota
	ValueColumn             // a number with or without a shape mark
	NumberColumn            // a number
	ShareColumn             // a percentage
	NameColumn              // a word
	PathColumn              // control/channel
	EaseColumn              // the name of an easing, or one written out
	UnitColumn              // cm deg %
	RangeColumn             // -12..12
	ChoiceColumn            // one of the words of ColumnInfo.Choices
	TextColumn              // a string
	AxisColumn              // +x
	DrivesColumn            // what a channel moves: move.x turn.z scale.xz goal.y morph.smile, or . for nothing
	LimitColumn             // 0.5f, or 0.02cm,0.1deg,0.1%
)

// ColumnInfo describes one column of a table.
type ColumnInfo struct {
	Name     string
	Kind     ColumnKind
	Required bool     // no row may leave it out
	Choices  []string // of a ChoiceColumn
	Width    int      // of the stop that the formatter gives it
}

// Column is a column as a table's first row names it.
type Column struct {
	ColumnInfo
	Span Span // of the name, in the first row's line
}

const (
	widthShort = 8
	widthName  = 16
	widthPath  = 24
	widthRange = 12
)

var (
	jointColumns = []ColumnInfo{
		{Name: "joint", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "on", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "x", Kind: NumberColumn, Required: true, Width: widthShort},
		{Name: "y", Kind: NumberColumn, Required: true, Width: widthShort},
		{Name: "z", Kind: NumberColumn, Required: true, Width: widthShort},
		{Name: "rx", Kind: NumberColumn, Width: widthShort},
		{Name: "ry", Kind: NumberColumn, Width: widthShort},
		{Name: "rz", Kind: NumberColumn, Width: widthShort},
		{Name: "order", Kind: ChoiceColumn, Width: widthShort, Choices: []string{"xyz", "xzy", "yxz", "yzx", "zxy", "zyx"}},
		{Name: "part", Kind: ChoiceColumn, Width: widthShort, Choices: []string{"root", "spine", "head", "arm", "hand", "finger", "leg", "foot", "face", "eye", "lid", "other"}},
	}
	channelColumns = []ColumnInfo{
		{Name: "channel", Kind: PathColumn, Required: true, Width: widthPath},
		{Name: "joint", Kind: NameColumn, Width: widthName},
		{Name: "drives", Kind: DrivesColumn, Width: widthName},
		{Name: "gain", Kind: NumberColumn, Width: widthShort},
		{Name: "unit", Kind: UnitColumn, Width: widthShort},
		{Name: "range", Kind: RangeColumn, Width: widthRange},
		{Name: "mirror", Kind: ChoiceColumn, Width: widthShort, Choices: []string{"keep", "flip"}},
		{Name: "positive", Kind: TextColumn, Width: widthName},
		{Name: "rest", Kind: NumberColumn, Width: widthShort},
	}
	chainColumns = []ColumnInfo{
		{Name: "goal", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "root", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "middle", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "end", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "bends", Kind: AxisColumn, Required: true, Width: widthShort},
	}
	pairColumns = []ColumnInfo{
		{Name: "left", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "right", Kind: NameColumn, Required: true, Width: widthName},
	}
	blockingColumns = []ColumnInfo{
		{Name: "at", Kind: TimeColumn, Required: true, Width: widthShort},
		{Name: "pose", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "until", Kind: TimeColumn, Width: widthShort},
		{Name: "drift", Kind: ShareColumn, Width: widthShort},
		{Name: "ease", Kind: EaseColumn, Width: widthShort},
	}
	trackColumns = []ColumnInfo{
		{Name: "at", Kind: TimeColumn, Required: true, Width: widthShort},
		{Name: "ease", Kind: EaseColumn, Width: widthShort},
	}
	noteColumns = []ColumnInfo{
		{Name: "at", Kind: TimeColumn, Required: true, Width: widthShort},
		{Name: "status", Kind: ChoiceColumn, Required: true, Width: widthShort, Choices: []string{"open", "done"}},
		{Name: "control", Kind: NameColumn, Width: widthName},
		{Name: "note", Kind: TextColumn, Required: true, Width: widthName},
	}
	houseColumns = []ColumnInfo{
		{Name: "rule", Kind: NameColumn, Required: true, Width: widthName},
		{Name: "level", Kind: ChoiceColumn, Required: true, Width: widthShort, Choices: []string{"error", "warning", "note", "off"}},
		{Name: "limit", Kind: LimitColumn, Width: widthShort},
	}
	channelColumn = ColumnInfo{Kind: ValueColumn, Width: widthShort}
)

// Wants says, in a few words, what a column's cells hold.
func (c *ColumnInfo) Wants() string {
	switch c.Kind {
	case TimeColumn:
		return "a time such as 2b, 3/2b or 12f"
	case ValueColumn:
		return "a number such as -2.4 or 5^, or . for no key"
	case NumberColumn:
		return "a number"
	case ShareColumn:
		return "a percentage such as 12%"
	case NameColumn:
		return "a name"
	case PathColumn:
		return "a path such as hips/tilt"
	case EaseColumn:
		return "the name of an easing, or one such as 0.3,0,0.1,1"
	case UnitColumn:
		return "a unit: cm, deg or %"
	case RangeColumn:
		return "a range such as -12..12"
	case ChoiceColumn:
		return "one of " + strings.Join(c.Choices, ", ")
	case TextColumn:
		return `a text in quotes`
	case AxisColumn:
		return "a direction: +x -x +y -y +z or -z"
	case DrivesColumn:
		return "what the channel moves: move.x, turn.y, scale.xz, goal.x, goal.swivel, morph.NAME, or . for nothing"
	}
	return "a limit such as 0.5f, 15% or 0.02cm,0.1deg"
}

// takes tells whether a cell is of the kind that the column holds.
func (c *ColumnInfo) takes(cell *Cell, text string) bool {
	switch c.Kind {
	case TimeColumn:
		return cell.Class == TimeAtom
	case ValueColumn:
		return cell.Class == Number || cell.Class == Marked
	case NumberColumn:
		return cell.Class == Number
	case ShareColumn:
		return cell.Class == Percent
	case NameColumn:
		return cell.Class == Word
	case PathColumn:
		return cell.Class == Path
	case EaseColumn:
		return cell.Class == Word || cell.Class == Easing
	case UnitColumn:
		return text == "%" || strings.EqualFold(text, "cm") || strings.EqualFold(text, "deg")
	case RangeColumn:
		return cell.Class == RangeAtom && isNumberRange(text)
	case ChoiceColumn:
		return slices.Contains(c.Choices, text)
	case TextColumn:
		return cell.Class == String
	case AxisColumn:
		return cell.Class == Direction
	case DrivesColumn:
		_, morph := MorphOf(text)
		return morph || slices.Contains(drives, text)
	}
	switch cell.Class {
	case TimeAtom, Percent, Quantity, Limits, Number, RangeAtom:
		return true
	}
	return false
}

func isNumberRange(text string) bool { _, _, unit, ok := ParseNumbers(text); return ok && unit == "" }

// drives are what a channel can move: a joint's offset in cm, its turn in degrees, its size in per cent, or the goal of
// a chain.
var drives = []string{
	"move.x", "move.y", "move.z", "turn.x", "turn.y", "turn.z",
	"scale.x", "scale.y", "scale.z", "scale.xy", "scale.xz", "scale.yz", "scale.xyz",
	"goal.x", "goal.y", "goal.z", "goal.swivel",
}

// Drives lists what a channel can move besides morph targets, which have names of their own.
func Drives() []string { return slices.Clone(drives) }

// MorphPrefix stands before the name of a morph target in the column `drives`.
const MorphPrefix = "morph."

// MorphOf gives the name of the morph target that a cell under `drives` names, as names are compared. It is false for any
// other cell, and for one that names an axis, which a morph target has none of.
func MorphOf(text string) (name string, ok bool) {
	name, ok = strings.CutPrefix(text, MorphPrefix)
	if !ok || Classify(name) != Word || isAxes(name) {
		return "", false
	}
	return NameKey(name), true
}

// isAxes tells whether a name is what a drive has behind its point, such as x or swivel.
func isAxes(name string) bool {
	return slices.ContainsFunc(drives, func(d string) bool { return strings.HasSuffix(d, "."+name) })
}

// wordsForAt are what the column of times is called elsewhere, and in capitals. A channel may be called so too, but stands
// behind `at`.
var wordsForAt = []string{"at", "time", "times", "t", "when", "frame", "frames", "f", "beat", "beats", "b", "key"}

// readHeader makes the columns of a table from its first row, or says what is wrong with it.
func readHeader(info *BlockInfo, text string, cells []Cell) ([]Column, *Fault) {
	columns := make([]Column, 0, len(cells))
	for i := range cells {
		cell := &cells[i]
		name := text[cell.Span.Start:cell.Span.End]
		switch {
		case i == 0 && cell.Class == TimeAtom:
			return nil, &Fault{Span: cell.Span, Message: fmt.Sprintf("the table has no row of column names; write one above this row, such as %s", quote(headerExample(info)))}
		case cell.Class != Word:
			return nil, &Fault{Span: cell.Span, Message: quote(name) + " is not a column name; the first row of a table names its columns"}
		case i == 0 && info.Channels && slices.Contains(wordsForAt, strings.ToLower(name)) && !slices.ContainsFunc(cells, func(c Cell) bool { return text[c.Span.Start:c.Span.End] == "at" }):
			// Taken for a channel, it would get `at` beside it, and every row would lack a cell.
			fault := &Fault{Span: cell.Span, Message: "the column of times is called `at`"}
			fault.offer(cell.Span, "at")
			return nil, fault
		case slices.ContainsFunc(columns, func(c Column) bool { return NameKey(c.Name) == NameKey(name) }):
			return nil, &Fault{Span: cell.Span, Message: fmt.Sprintf("the column %s is named twice; leave one out", quote(name))}
		}
		column, fault := columnNamed(info, name, cell.Span)
		if fault != nil {
			return nil, fault
		}
		columns = append(columns, column)
	}
	return columns, missingColumn(info, columns)
}

func columnNamed(info *BlockInfo, name string, span Span) (Column, *Fault) {
	for _, c := range info.Columns {
		if c.Name == name {
			return Column{c, span}, nil
		}
	}
	if info.Channels {
		c := channelColumn
		c.Name = name
		return Column{c, span}, nil
	}
	fault := &Fault{Span: span, Message: fmt.Sprintf("%s has no column %s; its columns are %s", quote(info.Word), quote(name), columnNames(info))}
	fault.offer(span, suggest(name, namesOf(info.Columns)))
	return Column{}, fault
}

func missingColumn(info *BlockInfo, columns []Column) *Fault {
	last := columns[len(columns)-1].Span
	for i, c := range info.Columns {
		at := slices.IndexFunc(columns, func(have Column) bool { return have.Name == c.Name })
		if c.Required && at < 0 {
			fault := &Fault{Span: Span{columns[0].Span.Start, last.End}, Message: fmt.Sprintf("the column %s is missing; the columns are %s", quote(c.Name), columnNames(info))}
			if i == 0 {
				fault.Title = "write " + quote(c.Name) + " first"
				fault.Edits = []LineEdit{{Span{fault.Span.Start, fault.Span.Start}, c.Name + "  "}}
			}
			return fault
		}
		if i == 0 && c.Kind == TimeColumn && at != 0 {
			return &Fault{Span: columns[at].Span, Message: "`at` is the first column of this table; move it to the left"}
		}
	}
	return nil
}

func namesOf(columns []ColumnInfo) []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return names
}

func columnNames(info *BlockInfo) string {
	names := strings.Join(namesOf(info.Columns), " ")
	if info.Channels {
		return "at, the channels of the control, and ease where it is needed"
	}
	return names
}

func headerExample(info *BlockInfo) string {
	if info.Channels {
		return "at CHANNEL"
	}
	return strings.Join(namesOf(info.Columns), " ")
}

// checkRow tells what is wrong with a row of a table whose columns are known. A cell that only its column makes a time
// becomes one.
func checkRow(info *BlockInfo, columns []Column, text string, cells []Cell) *Fault {
	if len(cells) > len(columns) {
		return tooManyCells(columns, text, cells)
	}
	for i := range columns {
		c := &columns[i].ColumnInfo
		if i >= len(cells) || cells[i].Class == Dot {
			if fault := checkEmpty(info, c, columns, text, cells, i); fault != nil {
				return fault
			}
			continue
		}
		cellText := text[cells[i].Span.Start:cells[i].Span.End]
		if c.Kind == TimeColumn && cellText == "0" {
			cells[i].Class, cells[i].Time = TimeAtom, &Time{} // the one time that needs no unit
		}
		if !c.takes(&cells[i], cellText) {
			return wrongCell(c, &cells[i], cellText)
		}
	}
	return nil
}

// tooManyCells is a row with more cells than columns. In a column of texts that is most likely one without its quotes.
func tooManyCells(columns []Column, text string, cells []Cell) *Fault {
	last := len(columns) - 1
	if columns[last].Kind == TextColumn && cells[last].Class == Word {
		fault := &Fault{Span: Span{cells[last].Span.Start, cells[len(cells)-1].Span.End}}
		fault.Message = fmt.Sprintf("the text of %s stands in quotes", quote(columns[last].Name))
		if words := text[fault.Span.Start:fault.Span.End]; !strings.Contains(words, `"`) {
			fault.offer(fault.Span, `"`+words+`"`)
		}
		return fault
	}
	if fault := partedUnit(columns, text, cells); fault != nil {
		return fault
	}
	span := Span{cells[last+1].Span.Start, cells[len(cells)-1].Span.End}
	return &Fault{Span: span, Message: fmt.Sprintf(
		"the row has %d cells, but the table has %d columns; leave out %s or name a column for it", len(cells), len(columns), quoteShort(text[span.Start:span.End]),
	)}
}

// partedUnit is the first number of a row with too many cells that stands apart from the unit which its column wants.
func partedUnit(columns []Column, text string, cells []Cell) *Fault {
	for i := 0; i < len(columns) && i+1 < len(cells); i++ {
		if cells[i].Class != Number {
			continue
		}
		span := cells[i].Span.Cover(cells[i+1].Span)
		number, unit := text[cells[i].Span.Start:cells[i].Span.End], text[cells[i+1].Span.Start:span.End]
		glued := number + shortUnit(unit)
		switch class := Classify(glued); {
		case columns[i].Kind == TimeColumn && class == TimeAtom:
			fault := &Fault{Span: span, Message: "a time has no space in it"}
			fault.offer(span, glued)
			return fault
		case class == Percent:
			fault := &Fault{Span: span, Message: "in a table a unit is glued to its number"}
			fault.offer(span, glued)
			return fault
		}
	}
	return nil
}

// checkEmpty judges a cell that is empty or left out. In a table of channels every row has a cell for every column, so
// that a value can never slip one column to the left unnoticed.
func checkEmpty(info *BlockInfo, c *ColumnInfo, columns []Column, text string, cells []Cell, i int) *Fault {
	span := Span{0, len(text)}
	if i < len(cells) {
		span = cells[i].Span
	} else if len(cells) > 0 {
		span = Span{cells[0].Span.Start, cells[len(cells)-1].Span.End}
	}
	if info.Channels && i >= len(cells) {
		fault := &Fault{Span: span, Message: fmt.Sprintf("the row has %d cells, but the table has %d columns; %s is the first one missing; write . for no key", len(cells), len(columns), quote(c.Name))}
		fault.Title = "fill the row with empty cells"
		fault.Edits = []LineEdit{{Span{span.End, span.End}, strings.Repeat("  .", len(columns)-len(cells))}}
		return fault
	}
	if c.Required && i >= len(cells) {
		return &Fault{Span: span, Message: fmt.Sprintf("the row ends before %s, which wants %s", quote(c.Name), c.Wants())}
	}
	if c.Required && !(info.Kind == JointsBlock && c.Name == "on") {
		return &Fault{Span: span, Message: fmt.Sprintf("%s may not be empty; it wants %s", quote(c.Name), c.Wants())}
	}
	return nil
}

func wrongCell(c *ColumnInfo, cell *Cell, text string) *Fault {
	fault := &Fault{Span: cell.Span, Message: fmt.Sprintf("%s does not fit the column %s, which wants %s", quoteShort(text), quote(c.Name), c.Wants())}
	switch {
	case c.Kind == TimeColumn && cell.Class == Number:
		fault.Message = noTimeUnit(text)
	case c.Kind == ChoiceColumn:
		fault.offer(cell.Span, suggest(text, c.Choices))
	case c.Kind == DrivesColumn:
		kind, name, _ := strings.Cut(text, ".")
		if !strings.EqualFold(kind+".", MorphPrefix) {
			fault.offer(cell.Span, suggest(text, drives))
			break
		}
		if _, lower := MorphOf(MorphPrefix + name); lower {
			fault.offer(cell.Span, MorphPrefix+name)
			break
		}
		fault.Message = quoteShort(text) + " names no morph target; write its name in the character's file behind the point, such as morph.smile"
		if isAxes(name) {
			fault.Message = quoteShort(text) + " names an axis, and a morph target has none; write the target's name behind the point, such as morph.smile"
		}
	case c.Kind == UnitColumn:
		fault.offer(cell.Span, suggest(text, []string{"cm", "deg", "%"}))
	case c.Kind == ShareColumn && cell.Class == Number:
		return noShare(cell.Span, text)
	case c.Kind == AxisColumn && Classify("+"+text) == Direction:
		fault.offer(cell.Span, "+"+text)
	case c.Kind == TextColumn:
		fault.offer(cell.Span, `"`+text+`"`)
	case c.Kind == NameColumn && cell.Class == String && Classify(strings.Trim(text, `"`)) == Word:
		fault.offer(cell.Span, strings.Trim(text, `"`))
	case (c.Kind == ValueColumn || c.Kind == NumberColumn) && cell.Class != Word:
		if fault := notPlain(Token{cell.Class, cell.Span}, text); fault != nil {
			return fault
		}
		if number := leadingNumber(text); c.Kind == ValueColumn && number != "" && number != text {
			fault.Message = fmt.Sprintf("%s has %s behind its number, which is no shape mark; those are ~ ^ > = and a slope such as @1.5", quoteShort(text), quoteShort(text[len(number):]))
		}
	}
	return fault
}
