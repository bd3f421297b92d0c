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
func (e *ensemble) rigText(o *OverRig, fresh []channel) (string, error) {
	if len(fresh) == 0 {
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
			columns = nil
			for _, c := range b.Columns {
				columns = append(columns, grammar.NameKey(c.Name))
			}
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

// overLines tell what clips made of a rig that there was.
func (e *ensemble) overLines(channels [][]channel, fresh []channel) []string {
	used := 0
	for _, c := range e.rigChannels(channels) {
		if c.known && !c.dropped {
			used++
		}
	}
	lines := []string{fmt.Sprintf("over the rig `%s`, with %d of its %s", e.over.rig.Name, used, count(len(e.over.rig.Channels), "dial"))}
	if len(fresh) > 0 {
		var names []string
		for i := range fresh {
			names = append(names, e.lead.path(&fresh[i]))
		}
		lines = append(lines, fmt.Sprintf("%s added to it, for what the clips move and it could not: %s", areCount(len(fresh), "dial"), strings.Join(names, ", ")))
	}
	for _, i := range slices.Sorted(maps.Keys(e.over.resting)) {
		lines = append(lines, fmt.Sprintf("the dial %s stays at rest: %s", e.over.rig.Channels[i].Path, e.over.resting[i]))
	}
	return lines
}
