package exchange

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// freshDials are the channels that the rig does not have and that a sheet says something of.
func (e *ensemble) freshDials(channels [][]channel) []channel {
	return slices.DeleteFunc(e.rigChannels(channels), func(c channel) bool { return c.known || c.dropped })
}

// nameFresh gives channels that the rig does not have names that it does not have.
func (e *ensemble) nameFresh(channels [][]channel) {
	taken := map[string]bool{}
	for i := range e.over.rig.Channels {
		taken[e.over.rig.Channels[i].Path] = true
	}
	for n := range channels[0] {
		c := &channels[0][n]
		if c.known {
			continue
		}
		control := e.lead.controlName(c.control) + "/"
		name := c.name
		if taken[control+name] {
			s := &e.lead.series[c.drives[0].series]
			name = strings.ReplaceAll(s.drives(), ".", "-")
		}
		name = strings.TrimPrefix(unique(control+name, "", taken), control)
		for k := range channels {
			channels[k][n].name = name
		}
	}
}

// rigText is the rig's file with channels more: rows below those that its table has, or a table below its joints.
func (e *ensemble) rigText(o *OverRig, fresh []channel, shapes []shape) (string, error) {
	if len(fresh)+len(shapes) == 0 {
		return o.Text, nil
	}
	file := grammar.Parse(o.File, o.Text)
	at, line := -1, 0 // the line behind which the rows go
	var columns []string
	joints := -1
	for _, b := range file.Blocks {
		for i := range b.Lines {
			if b.Kind == grammar.ChannelsBlock && (b.Lines[i].Kind == grammar.RowLine || b.Lines[i].Kind == grammar.HeaderLine) {
				at = line
			}
			if b.Kind == grammar.JointsBlock && b.Lines[i].Kind == grammar.RowLine {
				joints = line
			}
			line++
		}
		if b.Kind == grammar.ChannelsBlock {
			columns = columnsOf(b)
		}
	}
	var rows []string
	if at < 0 {
		at, columns = joints, []string{"channel", "joint", "drives", "gain", "unit", "mirror", "positive"}
		rows = append(rows, "", "channels", "  "+strings.Join(columns, "  "))
	}
	if at < 0 || !slices.Contains(columns, "drives") {
		return "", fmt.Errorf("%s: the clip needs channels that the rig does not have, and its table of channels has no column `drives` to write them in; import without --rig", o.File)
	}
	for i := range fresh {
		rows = append(rows, "  "+e.rigRow(&fresh[i], columns))
	}
	for i := range shapes {
		rows = append(rows, shapes[i].rigRows(columns)...)
	}
	lines := strings.SplitAfter(o.Text, "\n")
	end := "\n"
	if strings.HasSuffix(lines[at], "\r\n") {
		end = "\r\n"
	}
	if !strings.HasSuffix(lines[at], "\n") {
		lines[at] += end
	}
	text := strings.Join(slices.Insert(lines, at+1, strings.Join(rows, end)+end), "")
	// A rig that was in the canonical form stays so.
	if grammar.Format(file) == o.Text {
		text = grammar.Format(grammar.Parse(o.File, text))
	}
	return text, nil
}

// rigRow is the row of a channel in a table with these columns.
func (e *ensemble) rigRow(c *channel, columns []string) string {
	s := &e.lead.series[c.drives[0].series]
	cells := map[string]string{
		"channel": e.lead.path(c),
		"drives":  s.drives(),
		"gain":    number(c.drives[0].gain, 3),
		"unit":    s.unit(),
		"mirror":  map[bool]string{true: "flip", false: "keep"}[c.flips],
	}
	if c.positive != "" {
		cells["positive"] = quoted(c.positive)
	}
	return rowOf(columns, cells)
}

// rigRows are the rows of a dial of morph targets in a table with these columns.
func (s *shape) rigRows(columns []string) (rows []string) {
	for i, t := range s.targets {
		cells := map[string]string{"channel": s.control + "/" + s.channel.name, "drives": grammar.MorphPrefix + t.word, "gain": "1"}
		if i == 0 {
			cells["unit"], cells["mirror"] = "%", "keep"
			if s.rest != 0 {
				cells["rest"] = number(s.rest, 3)
			}
		}
		row := "  " + rowOf(columns, cells)
		if t.comment != "" {
			row += "  # " + t.comment
		}
		rows = append(rows, row)
	}
	return rows
}

// rowOf is a row of cells by column, empty where there is none.
func rowOf(columns []string, cells map[string]string) string {
	var row []string
	for _, column := range columns {
		cell := cells[column]
		if cell == "" {
			cell = "."
		}
		row = append(row, cell)
	}
	return strings.Join(row, "  ")
}

// channelColumns are the columns of the last table of channels in a rig's file.
func channelColumns(file *grammar.File) (columns []string) {
	for _, b := range file.Blocks {
		if b.Kind == grammar.ChannelsBlock {
			columns = columnsOf(b)
		}
	}
	return columns
}

func columnsOf(b *grammar.Block) (columns []string) {
	for _, c := range b.Columns {
		columns = append(columns, grammar.NameKey(c.Name))
	}
	return columns
}

// overLines tell what clips made of a rig that there was.
func (e *ensemble) overLines(channels [][]channel, fresh []channel, shapes []shape) []string {
	used := 0
	for i := range e.lead.shapes {
		if e.lead.shapes[i].known && slices.ContainsFunc(e.figures, func(f *figure) bool { return i < len(f.shapes) && !f.shapes[i].dropped }) {
			used++
		}
	}
	for _, c := range e.rigChannels(channels) {
		if c.known && !c.dropped {
			used++
		}
	}
	lines := []string{fmt.Sprintf("over the rig `%s`, with %d of its %s", e.over.rig.Name, used, count(len(e.over.rig.Channels), "dial"))}
	var names []string
	for i := range fresh {
		names = append(names, e.lead.path(&fresh[i]))
	}
	for i := range shapes {
		names = append(names, shapes[i].control+"/"+shapes[i].channel.name)
	}
	if len(names) > 0 {
		lines = append(lines, fmt.Sprintf("%s added to it, for what the clips move and it could not: %s", areCount(len(names), "dial"), strings.Join(names, ", ")))
	}
	for _, i := range slices.Sorted(maps.Keys(e.over.resting)) {
		lines = append(lines, fmt.Sprintf("the dial %s stays at rest: %s", e.over.rig.Channels[i].Path, e.over.resting[i]))
	}
	return lines
}
