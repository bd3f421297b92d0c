package draw

import (
	"image"
	"image/color"
	"io"
	"math"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
)

// mostPixels is how large a PNG may grow.
const mostPixels = 64 << 20

// PNG writes the picture as a PNG with so many pixels a point: 1 is 72 dots an inch, 2 fits a screen of our days. A
// picture of more than 64 million pixels is made with fewer.
func (p *Picture) PNG(w io.Writer, scheme Scheme, pixelsAPoint float64) error {
	c, err := p.raster(scheme, min(pixelsAPoint, math.Sqrt(mostPixels/(p.Width*p.Height))))
	if err != nil {
		return err
	}
	return c.EncodePNG(w)
}

func (p *Picture) raster(scheme Scheme, scale float64) (*gg.Context, error) {
	r := painter{gg.NewContext(max(1, int(math.Ceil(p.Width*scale))), max(1, int(math.Ceil(p.Height*scale)))), scheme, scale, map[face]font.Face{}}
	r.SetColor(scheme[Paper])
	r.Clear()
	for i := range p.Marks {
		if err := r.mark(&p.Marks[i]); err != nil {
			return nil, err
		}
	}
	return r.Context, nil
}

type painter struct {
	*gg.Context
	scheme Scheme
	scale  float64
	faces  map[face]font.Face
}

type face struct {
	size float64
	bold bool
}

func (r *painter) mark(m *Mark) error {
	r.ClearPath()
	switch m.Kind {
	case Words:
		return r.text(m)
	case Line, Shape:
		for _, p := range m.At {
			r.LineTo(p.X*r.scale, p.Y*r.scale)
		}
	case Disc:
		r.DrawCircle(m.At[0].X*r.scale, m.At[0].Y*r.scale, m.R0*r.scale)
	case Limb:
		r.outline(m)
	}
	r.SetLineCapRound()
	r.SetLineJoinRound()
	if m.Kind == Line {
		r.pen(m.Ink, m.Width, m.Dash)
		return nil
	}
	r.ClosePath()
	r.SetColor(r.scheme[m.Ink])
	r.FillPreserve()
	if m.Width > 0 {
		r.pen(m.Rim, m.Width, nil)
	}
	return nil
}

func (r *painter) pen(ink Ink, width float64, dash []float64) {
	scaled := make([]float64, len(dash))
	for i, d := range dash {
		scaled[i] = d * r.scale
	}
	r.SetDash(scaled...)
	r.SetLineWidth(width * r.scale)
	r.SetColor(r.scheme[ink])
	r.Stroke()
}

func (r *painter) outline(m *Mark) {
	h, ok := hullOf(m)
	a, b, s := m.At[0], m.At[1], r.scale
	switch {
	case ok:
		r.DrawArc(b.X*s, b.Y*s, m.R1*s, h.along-h.spread, h.along+h.spread)
		r.DrawArc(a.X*s, a.Y*s, m.R0*s, h.along+h.spread, h.along-h.spread+2*math.Pi)
	case m.R0 >= m.R1:
		r.DrawCircle(a.X*s, a.Y*s, m.R0*s)
	default:
		r.DrawCircle(b.X*s, b.Y*s, m.R1*s)
	}
}

func (r *painter) text(m *Mark) error {
	key := face{m.Size, m.Bold}
	if r.faces[key] == nil {
		made, err := openFace(m.Bold, m.Size*r.scale)
		if err != nil {
			return err
		}
		r.faces[key] = made
	}
	r.SetFontFace(r.faces[key])
	r.SetColor(r.scheme[m.Ink])
	r.DrawStringAnchored(m.Text, m.At[0].X*r.scale, m.At[0].Y*r.scale, float64(m.Anchor)/2, 0)
	return nil
}

// openFace opens one of the Go fonts, which come with the program.
func openFace(bold bool, pixels float64) (font.Face, error) {
	data := goregular.TTF
	if bold {
		data = gobold.TTF
	}
	parsed, err := opentype.Parse(data)
	if err != nil {
		return nil, err
	}
	return opentype.NewFace(parsed, &opentype.FaceOptions{Size: pixels, DPI: 72, Hinting: font.HintingNone})
}

// bright tells whether most of a pixel is drawn on.
func bright(img image.Image, x, y int) bool {
	return color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y > 0x7F
}
