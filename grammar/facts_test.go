package grammar

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// What a text says, without how it is written: what formatting must keep. Times are exact, units in one spelling,
// numbers as written; white space, indents and spans are left out.

// blockFacts are what one block says.
type blockFacts struct {
	Kind    BlockKind
	Opener  []any
	Columns []string
	Body    []lineFacts
	Rows    map[string][]lineFacts // the rows at each time, in their order, where the rows may be sorted
}

// lineFacts are what one line says, and the comments above it.
type lineFacts struct {
	Kind    LineKind
	Says    []any
	Above   []string
	Comment string
}

func factsOf(f *File) []blockFacts {
	var out []blockFacts
	for _, b := range f.Blocks {
		facts := blockFacts{Kind: b.Kind, Rows: map[string][]lineFacts{}}
		if b.Opener != nil {
			facts.Opener = says(b.Opener)
		}
		for _, c := range b.Columns {
			facts.Columns = append(facts.Columns, NameKey(c.Name))
		}
		sortable := len(b.Columns) > 0 && b.Columns[0].Kind == TimeColumn
		for i := range b.Lines {
			sortable = sortable && b.Lines[i].Kind != BadLine && b.Lines[i].Kind != MutedLine
		}
		var above []string
		for i := range b.Lines {
			l := &b.Lines[i]
			comment := strings.TrimRight(l.Text[l.Comment.Start:l.Comment.End], " \t\r")
			switch l.Kind {
			case BlankLine:
				continue
			case CommentLine:
				above = append(above, comment)
				continue
			}
			line := lineFacts{l.Kind, lineSays(b, l), above, comment}
			above = nil
			if sortable && l.Kind == RowLine {
				at := fmt.Sprint(*l.Cells[0].Time)
				facts.Rows[at] = append(facts.Rows[at], line)
				continue
			}
			facts.Body = append(facts.Body, line)
		}
		facts.Body = append(facts.Body, lineFacts{Above: above})
		if b.Kind != Preamble || len(b.Lines) > 0 && (len(facts.Body) > 1 || len(above) > 0) {
			out = append(out, facts)
		}
	}
	return out
}

func lineSays(b *Block, l *Line) []any {
	switch l.Kind {
	case BadLine, MutedLine:
		return []any{l.Text}
	case OpenerLine, EntryLine:
		return says(l.Stmt)
	}
	out := make([]any, len(l.Cells))
	for i, c := range l.Cells {
		text := l.CellText(i)
		switch {
		case c.Time != nil && b.Columns[i].Kind == TimeColumn && l.Kind == RowLine:
			out[i] = *c.Time
		case l.Kind == RowLine && b.Columns[i].Kind == LimitColumn && c.Class != Dot:
			out[i], _ = ParseLimits(text)
		case l.Kind == RowLine && b.Columns[i].Kind == UnitColumn:
			out[i] = unitName(text)
		default:
			c.Span = Span{}
			out[i] = []any{c.Class, c.Shape, c.Value, c.Slope, text}
		}
	}
	return out
}

// says lists what a statement holds, in the order of its fields.
func says(stmt Statement) []any {
	out := []any{fmt.Sprintf("%T", stmt)}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch value := v.Interface().(type) {
		case At:
			return
		case Time:
			out = append(out, value)
			return
		case Decimal:
			out = append(out, value.Value)
			return
		case Measure:
			amount, _ := value.Amount()
			out = append(out, amount, value.Unit())
			return
		case Stretch:
			from, to, unit, ok := value.Numbers()
			out = append(out, from, to, unit, ok)
			return
		case Window:
			from, to, ok := value.Times()
			out = append(out, from, to, ok)
			return
		}
		switch v.Kind() {
		case reflect.Pointer:
			if v.IsNil() {
				out = append(out, nil)
				return
			}
			walk(v.Elem())
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i))
			}
		case reflect.Slice:
			out = append(out, v.Len())
			for i := range v.Len() {
				walk(v.Index(i))
			}
		default:
			out = append(out, v.Interface())
		}
	}
	walk(reflect.ValueOf(stmt).Elem())
	return out
}

// commentsOf are all comments of a file.
func commentsOf(f *File) []string {
	var out []string
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if l := &b.Lines[i]; l.Comment != (Span{}) {
				out = append(out, strings.TrimRight(l.Text[l.Comment.Start:l.Comment.End], " \t\r"))
			}
		}
	}
	slices.Sort(out)
	return out
}

// unreadOf are the texts of all lines that don't parse.
func unreadOf(f *File) []string {
	var out []string
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if l := &b.Lines[i]; l.Kind == BadLine || l.Kind == MutedLine {
				out = append(out, l.Text)
			}
		}
	}
	return out
}
