package exchange

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// A page gathers the lines of a file; the language's own formatter lays them out.
type page struct{ strings.Builder }

func (p *page) line(words ...string) { p.WriteString(strings.Join(words, " ") + "\n") }

func (p *page) body(words ...string) { p.line(append([]string{" "}, words...)...) }

// text is the page in the canonical form.
func (p *page) text(path string) string { return grammar.Format(grammar.Parse(path, p.String())) }

// writeRig is the rig's file: joints at rest, and the channels that drive them. What only
// the model's file knows of a node, its number, name and scale, stands in a comment beside
// its joint, so that an export finds the node again.
func (f *figure) writeRig(name, file, modelFile string, channels []channel) string {
	var p page
	p.line("rig " + name)
	p.body("model", quoted(modelFile))
	p.line("")
	p.line("joints")
	joints := f.skeleton.joints
	turned := slices.ContainsFunc(joints, func(j joint) bool { return j.order != orders()[0] })
	columns := []string{"joint", "on", "x", "y", "z", "rx", "ry", "rz"}
	if turned {
		columns = append(columns, "order")
	}
	p.body(append(columns, "part")...)
	for i := range joints {
		j := &joints[i]
		on := "."
		if j.parent >= 0 {
			on = joints[j.parent].name
		}
		row := []string{j.name, on}
		for axis := range 3 {
			row = append(row, number(j.rest.move[axis], 3))
		}
		for axis := range 3 {
			row = append(row, number(j.restAngles[axis], 3))
		}
		if turned {
			row = append(row, j.order.String())
		}
		p.body(append(row, string(j.part), "#", f.nodeComment(j))...)
	}
	f.writeChains(&p)
	f.writeChannels(&p, channels)
	return p.text(file)
}

// nodeComment is what the joint's node is in the model's file.
func (f *figure) nodeComment(j *joint) string {
	text := fmt.Sprintf("node %d %s", j.node, quoted(f.document.nodes[j.node].name))
	switch s := j.scaleAtRest; {
	case s.to(vec3{1, 1, 1}) < 1e-4:
	case nearlyEqual(s):
		text += " scale " + digits(s[0])
	default:
		text += fmt.Sprintf(" scale %s %s %s", digits(s[0]), digits(s[1]), digits(s[2]))
	}
	return text
}

// digits writes a scale with as many digits as 32 bits have.
func digits(x float64) string { return strconv.FormatFloat(x, 'g', 7, 64) }

func (f *figure) writeChannels(p *page, channels []channel) {
	if len(f.shapes) == 0 && !slices.ContainsFunc(channels, func(c channel) bool { return !c.dropped }) {
		return
	}
	p.line("")
	p.line("channels")
	columns, rests := []string{"channel", "joint", "drives", "gain", "unit", "mirror", "positive"}, anyRests(f.shapes)
	if rests {
		columns = append(columns, "rest")
	}
	p.body(columns...)
	for _, c := range channels {
		if c.dropped {
			continue
		}
		for i, d := range c.drives {
			s := &f.series[d.series]
			joint := "."
			if s.joint != c.control {
				joint = f.skeleton.joints[s.joint].name
			}
			row := []string{f.path(&c), joint, s.drives(), number(d.gain, 3)}
			if i == 0 {
				row = append(row, s.unit(), map[bool]string{true: "flip", false: "keep"}[c.flips])
				if c.positive != "" {
					row = append(row, quoted(c.positive))
				}
			}
			p.body(row...)
		}
	}
	writeShapes(p, f.shapes, rests)
}

func (f *figure) path(c *channel) string { return f.controlName(c.control) + "/" + c.name }

// controlName is the name of a control: its joint's, or its own where it is none.
func (f *figure) controlName(control int) string {
	if n := len(f.skeleton.joints); control >= n {
		return f.controls[control-n]
	}
	return f.skeleton.joints[control].name
}

// writeSheet is the sheet: header, and a track for each control that moves.
func (f *figure) writeSheet(name, file, rigName, rigFile, comment string, b beat, channels []channel) string {
	var p page
	p.line("# " + comment)
	p.line("sheet " + name)
	p.body("rig", rigName+" in "+quoted(rigFile))
	p.body("rate", f.time.rate.String())
	p.body(b.key, b.value)
	length := fmt.Sprintf("%df", f.time.frames)
	if whole := float64(f.time.frames) / b.frames; whole == float64(int(whole)) {
		length = fmt.Sprintf("%db", int(whole))
	}
	if f.loop.ending == Open {
		p.body("span", length)
	} else {
		p.body("cycle", length)
	}
	for _, c := range channels {
		if c.gain != 0 && !c.dropped {
			p.body("advance", f.path(&c)+" "+strconv.FormatFloat(c.gain, 'f', -1, 64))
		}
	}
	written := map[string]bool{}
	for i := 0; i < len(channels); {
		control := channels[i].control
		var own []*channel
		for ; i < len(channels) && channels[i].control == control; i++ {
			if !channels[i].dropped {
				own = append(own, &channels[i])
			}
		}
		own = append(own, f.shapesUnder(f.controlName(control), written)...)
		if len(own) > 0 {
			p.line("")
			p.line("track " + f.controlName(control))
			writeTrack(&p, own)
		}
	}
	f.writeShapeTracks(&p, written)
	f.writePlants(&p, length)
	return p.text(file)
}

// writeTrack writes the rows of one control: a time wherever any of its channels has a key.
func writeTrack(p *page, channels []*channel) {
	columns := []string{"at"}
	cells := map[float64][]string{}
	for n, c := range channels {
		columns = append(columns, c.name)
		for _, r := range c.rows {
			if cells[r.time()] == nil {
				cells[r.time()] = slices.Repeat([]string{"."}, len(channels))
			}
			cells[r.time()][n] = r.text
		}
	}
	p.body(columns...)
	for _, frames := range slices.Sorted(maps.Keys(cells)) {
		p.body(append([]string{number(frames, 3) + "f"}, cells[frames]...)...)
	}
}

// quoted is text as a string of the language, which has no escapes: quotation marks and
// what would break the line are replaced.
func quoted(text string) string {
	return `"` + strings.Map(func(r rune) rune {
		switch {
		case r == '"':
			return '\''
		case r < ' ' || r == 0x7F || r == 0x85 || r == 0x2028 || r == 0x2029 || r == '\uFEFF' || r == '\uFFFD':
			return ' '
		}
		return r
	}, text) + `"`
}
