package draw

import (
	"fmt"

	"github.com/motet-sheet/motet/lint/motion"
)

// Fill draws the figure at a moment, in frames, in the middle of a picture of a given size in points, on its ground and
// without words. All moments of a motion are framed alike, so that one after the other they are a film.
func (s *Stage) Fill(frames, width, height float64) *Picture {
	s.Scale = min(width/(s.right-s.left), height/(s.top-s.bottom))
	p := &Picture{Title: fmt.Sprintf("%s at %s", s.Motion.Sheet.Name, MomentName(s.Motion.Sheet, frames)), Width: width, Height: height}
	figure := s.Figure(frames)
	p.place(figure, Point{(width - figure.Width) / 2, (height - figure.Height) / 2})
	return p
}

// ContactOptions is what a contact sheet shows.
type ContactOptions struct {
	Title  string
	View   string  // the view of everybody; empty for each sheet's own
	Height float64 // points for the tallest figure
	Width  float64 // points of the page; a member that is wider makes it so wide
}

// mostOfOne is how many accents of a member a contact sheet shows at most: of more rows of the blocking the first ones, since
// they come round again.
const mostOfOne = 6

// cell is one member's part of a contact sheet.
type cell struct {
	stage       *Stage
	moments     []moment
	step, wide  float64 // points: from figure to figure, and in all
	name, facts string
}

// Contact draws everybody at their accents, with the name of each moment and pose. All are drawn to one scale, so that
// who is smaller is smaller.
func Contact(members []*motion.Motion, o ContactOptions) *Picture {
	const edge, gap, above, below, rows = 18.0, 22.0, 34.0, 26.0, 14.0
	cells, tallest := contactCells(members, o)
	p := &Picture{Title: o.Title, Width: o.Width}
	for i := range cells {
		p.Width = max(p.Width, cells[i].wide+2*edge)
	}
	p.heading(fitted(o.Title, 14, p.Width-2*edge), Point{edge, edge + 12}, 14, Strong, Start)
	x, y := edge, edge+30
	for i := range cells {
		c := &cells[i]
		if x > edge && x+c.wide > p.Width-edge {
			x, y = edge, y+above+tallest+below+rows
		}
		p.line(Strong, 1.2, Point{x, y}, Point{x + c.wide, y})
		p.heading(fitted(c.name, 10, c.wide), Point{x, y + 14}, 10, Strong, Start)
		p.words(fitted(c.facts, 8, c.wide), Point{x, y + 25}, 8, Soft, Start)
		c.draw(p, x, y+above, tallest)
		x += c.wide + gap
	}
	p.Height = y + above + tallest + below + edge
	return p
}

// contactCells gives each member its part, all to one scale, and how tall the tallest is.
func contactCells(members []*motion.Motion, o ContactOptions) (cells []cell, tallest float64) {
	scale := 0.0
	for _, m := range members {
		word := o.View
		if word == "" {
			word = m.Sheet.View
		}
		moments := accents(m, mostOfOne)
		c := cell{stage: NewStage(m, Views(word)[0], o.Height), moments: moments[:min(mostOfOne, len(moments))], name: m.Sheet.Name}
		c.facts = fmt.Sprintf("%s beats, %s s", hundredths(m.Sheet.Beats(m.Sheet.Length).Float()), hundredths(m.Sheet.Seconds(m.Sheet.Length).Float()))
		if !m.Sheet.Closed {
			c.facts += ", once"
		}
		if more := len(moments) - mostOfOne; more > 0 {
			c.facts += fmt.Sprintf(", and %d accents more", more)
		}
		if scale == 0 || c.stage.Scale < scale {
			scale = c.stage.Scale
		}
		cells = append(cells, c)
	}
	for i := range cells {
		c := &cells[i]
		c.stage.Scale = scale
		c.step = max(c.stage.Width(), 58)
		c.wide = max(c.step*float64(len(c.moments)), min(widthOf(c.name, 10), 200), widthOf(c.facts, 8))
		tallest = max(tallest, (c.stage.top-c.stage.bottom)*scale)
	}
	return cells, tallest
}

// draw draws a member's figures with their feet on one line.
func (c *cell) draw(p *Picture, x, y, tallest float64) {
	drop := tallest - (c.stage.top-c.stage.bottom)*c.stage.Scale
	for i, at := range c.moments {
		middle := x + c.step*(float64(i)+0.5)
		p.place(c.stage.Figure(at.frames), Point{middle - c.stage.Width()/2, y + drop})
		p.heading(MomentName(c.stage.Motion.Sheet, at.frames), Point{middle, y + tallest + 10}, 8.5, Strong, Middle)
		p.words(fitted(at.name, 8, c.step-4), Point{middle, y + tallest + 20}, 8, Soft, Middle)
	}
}
