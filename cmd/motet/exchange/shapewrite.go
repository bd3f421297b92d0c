package exchange

import (
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// restsInFile tells whether a file has the targets of a dial where it rests.
func (s *shape) restsInFile(d *Document) bool {
	for n := range s.nodes {
		b := d.blends[n]
		for _, t := range s.targets {
			if i := b.targetOf(&motion.ModelTarget{Name: t.name}); i >= 0 && math.Abs(100*b.restOf(i)-s.rest) > sameWeight {
				return false
			}
		}
	}
	return true
}

func (s *shape) report() ChannelReport {
	return ChannelReport{Path: s.control + "/" + s.channel.name, Unit: "%", Keys: len(s.rows), Baked: s.baked, Worst: s.worst}
}

// writeShapes writes the rows of the rig for shapes. rests says that the table has the column `rest`.
func writeShapes(p *page, shapes []shape, rests bool) {
	for _, s := range shapes {
		for i, t := range s.targets {
			row := []string{s.control + "/" + s.channel.name, ".", grammar.MorphPrefix + t.word, "1"}
			if i == 0 {
				row = append(row, "%", "keep")
				if rests && s.rest != 0 {
					row = append(row, ".", number(s.rest, 3))
				}
			}
			if t.comment != "" {
				row = append(row, "# "+t.comment)
			}
			p.body(row...)
		}
	}
}

func anyRests(shapes []shape) bool {
	return slices.ContainsFunc(shapes, func(s shape) bool { return s.rest != 0 })
}

// shapesUnder are the dials of morph targets of a control that have keys, and marks the control as written.
func (f *figure) shapesUnder(control string, written map[string]bool) (own []*channel) {
	if written[control] {
		return nil
	}
	written[control] = true
	for i := range f.shapes {
		if s := &f.shapes[i]; s.control == control && !s.dropped {
			own = append(own, &s.channel)
		}
	}
	return own
}

// writeShapeTracks writes the tracks of the dials of morph targets whose controls have none yet.
func (f *figure) writeShapeTracks(p *page, written map[string]bool) {
	for i := range f.shapes {
		if own := f.shapesUnder(f.shapes[i].control, written); len(own) > 0 {
			p.line("")
			p.line("track " + f.shapes[i].control)
			writeTrack(p, own)
		}
	}
}

// shapeLine tells how many morph targets a clip moves, and how close their dials are.
func (f *figure) shapeLine(errors errorReport) string {
	targets, dials, held := 0, 0, 0
	for i := range f.shapes {
		if s := &f.shapes[i]; s.dropped {
			held += len(s.targets)
		} else {
			targets, dials = targets+len(s.targets), dials+1
		}
	}
	line := fmt.Sprintf("%s in %s, off by at most %s%%", count(targets, "morph target"), count(dials, "dial"), roundUp(errors.weightPercent, 3))
	if errors.weightName != "" {
		line += " (" + errors.weightName + ")"
	}
	if held > 0 {
		line += fmt.Sprintf("; %s held elsewhere than where the file has them, in the rig's `rest`", count(held, "morph target"))
	}
	return line
}
