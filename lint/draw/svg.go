package draw

import (
	"bufio"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
)

// fontFamily are fonts that one or the other of is on every machine; nothing is fetched.
const fontFamily = "'Go','DejaVu Sans','Segoe UI','Helvetica Neue',Arial,sans-serif"

// SVG writes the picture as an SVG document: words stay words, so that they can be searched and read aloud. Numbers are
// rounded to hundredths of a point.
func (p *Picture) SVG(w io.Writer, scheme Scheme) error {
	s := svgWriter{out: bufio.NewWriter(w), scheme: scheme}
	s.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 `, decimal(p.Width), " ", decimal(p.Height), `" width="`, decimal(p.Width), `pt" height="`, decimal(p.Height), `pt" role="img" font-family="`, fontFamily, `" stroke-linecap="round" stroke-linejoin="round">`, "\n")
	s.put("<title>", escaped(p.Title), "</title>\n")
	s.put(`<rect width="`, decimal(p.Width), `" height="`, decimal(p.Height), `" fill="`, s.color(Paper), `"/>`, "\n")
	for i := range p.Marks {
		s.mark(&p.Marks[i])
	}
	s.put("</svg>\n")
	return s.out.Flush() // a bufio.Writer keeps its first error
}

type svgWriter struct {
	out       *bufio.Writer
	scheme    Scheme
	anyScheme bool // colours are custom properties, which a style sheet in the picture sets
}

func (s *svgWriter) put(parts ...string) {
	for _, part := range parts {
		_, _ = s.out.WriteString(part)
	}
}

func (s *svgWriter) color(ink Ink) string {
	if s.anyScheme {
		return "var(--" + ink.Name() + ")"
	}
	return hex(s.scheme[ink])
}

// mark writes one mark as one line.
func (s *svgWriter) mark(m *Mark) {
	switch m.Kind {
	case Line:
		s.put(`<path d="`, pathData(m.At, false), `" fill="none" stroke="`, s.color(m.Ink), `" stroke-width="`, decimal(m.Width), `"`)
		if m.Dash != nil {
			dashes := make([]string, len(m.Dash))
			for i, d := range m.Dash {
				dashes[i] = decimal(d)
			}
			s.put(` stroke-dasharray="`, strings.Join(dashes, " "), `"`)
		}
		s.end(m, "path", "")
	case Shape:
		s.put(`<path d="`, pathData(m.At, true), `"`)
		s.fill(m)
		s.end(m, "path", "")
	case Disc:
		s.put(`<circle cx="`, decimal(m.At[0].X), `" cy="`, decimal(m.At[0].Y), `" r="`, decimal(m.R0), `"`)
		s.fill(m)
		s.end(m, "circle", "")
	case Limb:
		s.limb(m)
	case Words:
		s.put(`<text x="`, decimal(m.At[0].X), `" y="`, decimal(m.At[0].Y), `" font-size="`, decimal(m.Size), `" fill="`, s.color(m.Ink), `"`)
		if m.Anchor != Start {
			s.put(` text-anchor="`, [...]string{"start", "middle", "end"}[m.Anchor], `"`)
		}
		if m.Bold {
			s.put(` font-weight="bold"`)
		}
		s.end(m, "text", escaped(m.Text))
	}
}

func (s *svgWriter) fill(m *Mark) {
	s.put(` fill="`, s.color(m.Ink), `"`)
	if m.Width > 0 {
		s.put(` stroke="`, s.color(m.Rim), `" stroke-width="`, decimal(m.Width), `"`)
	}
}

func (s *svgWriter) limb(m *Mark) {
	h, ok := hullOf(m)
	if !ok {
		larger := *m
		larger.Kind = Disc
		if m.R1 > m.R0 {
			larger.At, larger.R0 = m.At[1:], m.R1
		}
		s.mark(&larger)
		return
	}
	s.put(`<path d="M`, at(h.a0), "L", at(h.b0), "A", decimal(m.R1), " ", decimal(m.R1), " 0 ", large(h.wide(1)), " 1 ", at(h.b1), "L", at(h.a1), "A", decimal(m.R0), " ", decimal(m.R0), " 0 ", large(h.wide(0)), " 1 ", at(h.a0), `Z"`)
	s.fill(m)
	s.end(m, "path", "")
}

// end closes a mark's element with what stands in it.
func (s *svgWriter) end(m *Mark, element, inside string) {
	if m.Tip != "" {
		inside = "<title>" + escaped(m.Tip) + "</title>" + inside
	}
	if inside == "" {
		s.put("/>\n")
		return
	}
	s.put(">", inside, "</", element, ">\n")
}

// hull is the outline of a limb: two straight lines that touch both circles.
type hull struct {
	a0, a1, b0, b1 Point   // where they touch the first circle and the second
	along, spread  float64 // radians: from the first center to the second; from there to where they touch
}

// hullOf is false where one circle lies in the other.
func hullOf(m *Mark) (h hull, ok bool) {
	a, b := m.At[0], m.At[1]
	apart := math.Hypot(b.X-a.X, b.Y-a.Y)
	if apart <= math.Abs(m.R0-m.R1)+1e-9 {
		return h, false
	}
	h.along = math.Atan2(b.Y-a.Y, b.X-a.X)
	h.spread = math.Acos((m.R0 - m.R1) / apart)
	touch := func(c Point, r, side float64) Point {
		sin, cos := math.Sincos(h.along + side*h.spread)
		return Point{c.X + r*cos, c.Y + r*sin}
	}
	h.a0, h.a1 = touch(a, m.R0, -1), touch(a, m.R0, 1)
	h.b0, h.b1 = touch(b, m.R1, -1), touch(b, m.R1, 1)
	return h, true
}

// wide tells whether the outline goes more than half round a circle: 0 for the first, 1 for the second.
func (h *hull) wide(end int) bool {
	if end == 0 {
		return h.spread < math.Pi/2
	}
	return h.spread > math.Pi/2
}

func large(yes bool) string {
	if yes {
		return "1"
	}
	return "0"
}

func pathData(points []Point, closed bool) string {
	var out strings.Builder
	for i, p := range points {
		if i == 0 {
			out.WriteString("M")
		} else {
			out.WriteString("L")
		}
		out.WriteString(at(p))
	}
	if closed {
		out.WriteString("Z")
	}
	return out.String()
}

func at(p Point) string { return decimal(p.X) + " " + decimal(p.Y) }

// decimal is a number with at most two decimals.
func decimal(v float64) string {
	rounded := math.Round(v*100) / 100
	if rounded == 0 {
		return "0" // and not -0
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

func escaped(text string) string {
	var out strings.Builder
	_ = xml.EscapeText(&out, []byte(text)) // a strings.Builder takes everything
	return out.String()
}
