package draw

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/lint/motion"
)

// Text draws the picture for a terminal, so many columns wide: its shapes in the dots of Braille, two by four a letter
// (Unicode, U+2800 and on), and its words as words. Lines that only guide the eye are left out.
func (p *Picture) Text(w io.Writer, columns int) error {
	scale := float64(columns) * 2 / p.Width
	shapes := &Picture{Width: p.Width, Height: p.Height}
	for _, m := range p.Marks {
		if m.Kind != Words {
			shapes.add(m)
		}
	}
	c, err := shapes.raster(stencil(), scale)
	if err != nil {
		return err
	}
	img := c.Image()
	rows := (img.Bounds().Dy() + 3) / 4
	grid := make([][]rune, rows)
	for row := range grid {
		grid[row] = make([]rune, columns)
		for column := range grid[row] {
			grid[row][column] = braille(func(x, y int) bool { return bright(img, 2*column+x, 4*row+y) })
		}
	}
	for _, m := range p.Marks {
		if m.Kind == Words {
			set(grid, m, scale)
		}
	}
	return printGrid(w, grid)
}

// set writes words over the dots.
func set(grid [][]rune, m Mark, scale float64) {
	text := []rune(m.Text)
	row, column := int(m.At[0].Y*scale/4), int(m.At[0].X*scale/2)-len(text)*int(m.Anchor)/2
	column = max(column, 0)
	for i, r := range text {
		if row >= 0 && row < len(grid) && column+i < len(grid[row]) {
			grid[row][column+i] = r
		}
	}
}

// braille is the letter whose dots are set: Unicode numbers them down the left column, down the right one, and the lowest
// row last.
func braille(dot func(x, y int) bool) rune {
	bits := [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}
	out := rune(0)
	for y := range 4 {
		for x := range 2 {
			if dot(x, y) {
				out |= bits[y][x]
			}
		}
	}
	if out == 0 {
		return ' '
	}
	return 0x2800 + out
}

func printGrid(w io.Writer, grid [][]rune) error {
	out := bufio.NewWriter(w)
	for _, row := range grid {
		_, _ = out.WriteString(strings.TrimRight(string(row), " ") + "\n")
	}
	return out.Flush() // a bufio.Writer keeps its first error
}

// CurvesText draws channels over time for a terminal: time runs down, each channel is a strip, and the seam one line.
// Strips that don't fit side by side come below each other.
func CurvesText(w io.Writer, m *motion.Motion, o CurveOptions, columns int) error {
	const margin, gap, least = 6, 2, 18
	fit := max(1, (columns-margin+gap)/(least+gap))
	for first := 0; first < len(o.Channels); first += fit {
		part := o
		part.Channels = o.Channels[first:min(first+fit, len(o.Channels))]
		n := len(part.Channels)
		t := newTextStrips(newCurves(m, part), min((columns-margin+gap)/n-gap, 36), margin, gap)
		if first > 0 {
			_, _ = fmt.Fprintln(w)
		}
		if err := t.print(w); err != nil {
			return err
		}
	}
	return printFindings(w, o)
}

func printFindings(w io.Writer, o CurveOptions) error {
	for i := range o.Findings {
		f := &o.Findings[i]
		if _, err := fmt.Fprintf(w, "(%d) %s %s: %s\n", i+1, f.Level, f.Rule, f.Message); err != nil {
			return err
		}
	}
	return nil
}

// textStrips are strips of letters.
type textStrips struct {
	*curves
	wide, margin, gap int
	axes              []axis
	keys              [][]Shown
}

func newTextStrips(c *curves, wide, margin, gap int) *textStrips {
	t := &textStrips{curves: c, wide: wide, margin: margin, gap: gap}
	for _, channel := range c.o.Channels {
		_, values := sampled(channel, c.length, c.length+c.beyond)
		t.axes = append(t.axes, axisOf(0, values))
		t.keys = append(t.keys, KeysOf(channel, c.length))
	}
	return t
}

// print prints the strips: each line is a quarter of a beat, or a half where the cycle is long.
func (t *textStrips) print(w io.Writer) error {
	step := t.motion.Sheet.Beat.Float() / 4
	for t.length/step > 48 {
		step *= 2
	}
	var grid [][]rune
	grid = append(grid, t.heads()...)
	rows := int(math.Round(t.length / step))
	for row := range rows {
		grid = append(grid, t.row(float64(row)*step, step))
	}
	if t.beyond > 0 {
		grid = append(grid, t.seamLine())
		for row := range int(math.Round(t.beyond / step)) {
			grid = append(grid, t.row(t.length+float64(row)*step, step))
		}
	}
	return printGrid(w, grid)
}

func (t *textStrips) blank() []rune {
	return []rune(strings.Repeat(" ", t.margin+len(t.o.Channels)*(t.wide+t.gap)))
}

func (t *textStrips) at(strip int) int { return t.margin + strip*(t.wide+t.gap) }

func put(line []rune, column int, text string) {
	for i, r := range []rune(text) {
		if column+i < len(line) && column+i >= 0 {
			line[column+i] = r
		}
	}
}

func (t *textStrips) heads() [][]rune {
	names, signs := t.blank(), t.blank()
	for i, channel := range t.o.Channels {
		d, x := channel.Dial, t.at(i)
		put(names, x, cut(glyph(d)+" "+d.Path, t.wide))
		a := t.axes[i]
		if a.most-a.least < 1e-9 {
			put(signs, x, cut("stays at "+WithUnit(a.least, d.Unit), t.wide))
			continue
		}
		low, high := number(a.least), WithUnit(a.most, d.Unit)
		put(signs, x, low)
		put(signs, x+t.wide-utf8.RuneCountInString(high), high)
	}
	return [][]rune{names, signs}
}

func cut(text string, most int) string {
	runes := []rune(text)
	if len(runes) <= most {
		return text
	}
	return string(runes[:most-1]) + "…"
}

func glyph(d *motion.Dial) string {
	return map[outline]string{diamond: "◆", circle: "●", square: "■"}[shapeOf(d)]
}

// dot is the column of dots, two a letter, at which a strip's value stands.
func (t *textStrips) dot(a axis, v float64) int {
	if a.most-a.least < 1e-9 {
		return t.wide
	}
	return int(math.Round((v - a.least) / (a.most - a.least) * float64(2*t.wide-1)))
}

// row draws one line of all strips, from a time on.
func (t *textStrips) row(from, step float64) []rune {
	line := t.blank()
	beat := t.motion.Sheet.Beat.Float()
	onBeat := math.Abs(from-math.Round(from/beat)*beat) < 1e-6
	if onBeat {
		shown := from
		if t.beyond > 0 && from >= t.length-1e-6 {
			shown -= t.length
		}
		put(line, 0, MomentName(t.motion.Sheet, shown))
	}
	for i, channel := range t.o.Channels {
		a, x := t.axes[i], t.at(i)
		if onBeat {
			for k := 0; k < t.wide; k += 2 {
				line[x+k] = '·'
			}
		}
		t.curveRow(line[x:x+t.wide], channel, a, from, step)
		for _, key := range t.keys[i] {
			if key.Frames >= from-1e-9 && key.Frames < from+step-1e-9 && from < t.length-1e-9 {
				line[x+min(t.dot(a, key.Value)/2, t.wide-1)] = []rune(glyph(channel.Dial))[0]
			}
		}
		for n, b := range t.badges {
			if b.strip == i && b.frames >= from-1e-9 && b.frames < from+step-1e-9 {
				put(line, min(x+t.dot(a, channel.At(b.frames))/2+1, x+t.wide-3), fmt.Sprintf("(%d)", n+1))
			}
		}
	}
	return line
}

// curveRow draws a curve over the time of one line: four rows of dots, joined where the value moves by more than one.
func (t *textStrips) curveRow(cells []rune, channel *motion.Channel, a axis, from, step float64) {
	var dots [4]map[int]bool
	for y := range 4 {
		dots[y] = map[int]bool{}
		first := t.dot(a, channel.At(from+step*float64(y)/4))
		last := t.dot(a, channel.At(from+step*(float64(y)+0.999)/4))
		for x := min(first, last); x <= max(first, last); x++ {
			dots[y][x] = true
		}
	}
	for k := range cells {
		if r := braille(func(x, y int) bool { return dots[y][2*k+x] }); r != ' ' {
			cells[k] = r
		}
	}
}

// seamLine draws the seam, and in it how far each curve jumps there.
func (t *textStrips) seamLine() []rune {
	line := []rune(strings.Repeat("═", len(t.blank())-t.gap))
	put(line, 0, "seam ")
	for i, channel := range t.o.Channels {
		if _, from, to, ok := seamJump(channel, t.length); ok {
			text := " jumps " + WithUnit(math.Abs(to-from), channel.Dial.Unit) + " "
			put(line, t.at(i)+(t.wide-utf8.RuneCountInString(text))/2, text)
		}
	}
	return line
}
