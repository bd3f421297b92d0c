package motion

import (
	"strconv"

	"github.com/motet-sheet/motet/grammar"
)

// table reads cells by column name.
type table struct {
	block *grammar.Block
	index map[string]int
}

type tableRow struct {
	*table
	line int
}

func tableOf(block *grammar.Block) *table {
	t := &table{block, map[string]int{}}
	for i := range block.Columns {
		t.index[block.Columns[i].Name] = i
	}
	return t
}

func (t *table) row(line int) tableRow { return tableRow{t, line} }

func (r tableRow) cell(column string) *grammar.Cell {
	cells := r.block.Lines[r.line].Cells
	if i, ok := r.index[column]; ok && i < len(cells) && cells[i].Class != grammar.Dot {
		return &cells[i]
	}
	return nil
}

// text is what a cell says, empty where it is empty or left out.
func (r tableRow) text(column string) string {
	if c := r.cell(column); c != nil {
		return r.block.Lines[r.line].Text[c.Span.Start:c.Span.End]
	}
	return ""
}

func (r tableRow) name(column string) string { return grammar.NameKey(r.text(column)) }

func (r tableRow) number(column string, otherwise float64) float64 {
	if value, err := strconv.ParseFloat(r.text(column), 64); err == nil {
		return value
	}
	return otherwise
}

// ref is a cell's place, or the row's where the cell is empty.
func (r tableRow) ref(column string) grammar.Ref {
	if c := r.cell(column); c != nil {
		return r.block.Ref(r.line, c.Span)
	}
	return r.block.RefLine(r.line)
}
