// Package draw makes pictures of motion: a channel's curve beside its beats, the figure on its ground, the poses in a row,
// who leads whom. A picture is a description, a list of marks in points of 1/72 inch; SVG, PNG and text for a terminal
// are written from it, so that all three show the same. The package works out nothing that the motion does not say, and
// does no input or output but into the writer that it is given.
package draw

// Picture is a description of what to draw, in points of 1/72 inch: x goes to the right, y down.
type Picture struct {
	Width, Height float64
	Title         string // what it shows, for who cannot see it
	Marks         []Mark // in the order in which they are drawn
}

// Point is a place in a picture, in points.
type Point struct{ X, Y float64 }

// Kind says what a mark is.
type Kind uint8

// The kinds of marks.
const (
	Line  Kind = iota // a line through the points, Width wide, with round ends
	Shape             // the filled polygon of the points
	Disc              // the filled circle about the first point with radius R0
	Limb              // the filled hull of two circles: about the first point with radius R0, about the second with R1
	Words             // Text at the first point, which is on the line that the letters stand on
)

// Mark is one thing that is drawn.
type Mark struct {
	Kind   Kind
	At     []Point
	R0, R1 float64
	Ink    Ink
	Width  float64   // of a line; of the rim round any other mark, 0 for none
	Rim    Ink       // the rim's ink
	Dash   []float64 // of a line: ink, gap, ink, gap; nil for a whole line
	Text   string
	Size   float64 // of words: the height of the font
	Anchor Anchor
	Bold   bool
	Tip    string // what the mark stands for, shown when the pointer rests on it; empty for none
}

// Anchor says which part of the words stands at their point.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

func (p *Picture) add(m Mark) { p.Marks = append(p.Marks, m) }

func (p *Picture) line(ink Ink, width float64, at ...Point) {
	p.add(Mark{Kind: Line, At: at, Ink: ink, Width: width})
}

func (p *Picture) words(text string, at Point, size float64, ink Ink, anchor Anchor) {
	p.add(Mark{Kind: Words, At: []Point{at}, Text: text, Size: size, Ink: ink, Anchor: anchor})
}

func (p *Picture) heading(text string, at Point, size float64, ink Ink, anchor Anchor) {
	p.add(Mark{Kind: Words, At: []Point{at}, Text: text, Size: size, Ink: ink, Anchor: anchor, Bold: true})
}

func (p *Picture) box(ink Ink, x, y, width, height float64) {
	p.add(Mark{Kind: Shape, At: []Point{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}, Ink: ink})
}

// place puts another picture into this one, moved.
func (p *Picture) place(q *Picture, by Point) {
	for _, m := range q.Marks {
		moved := make([]Point, len(m.At))
		for i, at := range m.At {
			moved[i] = Point{at.X + by.X, at.Y + by.Y}
		}
		m.At = moved
		p.add(m)
	}
}

// widthOf is about how wide words are. The fonts of those who look differ, so it is on the wide side.
func widthOf(text string, size float64) float64 {
	wide := 0.0
	for _, r := range text {
		switch r {
		case 'i', 'j', 'l', '.', ',', '\'', '`', ':', ';', '|', '/', ' ', 't', 'f', 'r', '(', ')':
			wide += 0.36
		case 'm', 'w', 'M', 'W', '—', '→':
			wide += 0.92
		default:
			wide += 0.6
		}
	}
	return wide * size
}

// fitted cuts words that would be wider than there is room.
func fitted(text string, size, room float64) string {
	if widthOf(text, size) <= room {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && widthOf(string(runes)+"…", size) > room {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// lines breaks a text into lines that have room.
func lines(text string, size, room float64) []string {
	var out []string
	line := ""
	for _, word := range splitWords(text) {
		if line != "" && widthOf(line+" "+word, size) > room {
			out = append(out, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}
