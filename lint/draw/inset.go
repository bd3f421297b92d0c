package draw

import (
	"bufio"
	"bytes"
	"fmt"
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// An inset is a picture of a few centimetres for an editor's hover: an SVG document in the colours of the light or of the
// dark scheme, whichever its viewer prefers. However long a sheet is and however many joints a rig has, it stays below
// [InsetBytes]: a figure of very many limbs does not move in it.

// InsetBytes is more than any inset has; in base64 it is 4/3 of that.
const InsetBytes = 72_000

// The measures of a curve's inset, in pixels.
const (
	insetWide, insetTall             = 380.0, 132.0
	insetLeft, insetRight            = 42.0, 8.0
	insetTop, insetFoot              = 14.0, 18.0
	insetLabel                       = 30.0 // room for a beat's name
	mostInsetKeys                    = 64   // more would be one blot
	insetHeight                      = 190.0
	insetEnds, insetLimb, insetFrame = 26, 100, 3000 // bytes of a limb's ends, of a limb, of all else
	fewestMoments, mostMoments       = 8, 64
)

// CurveInset draws a channel over the whole cycle: time runs to the right over the beats, the seam is a line over which
// the curve goes on into the next round, and where it jumps there, the jump is drawn. A moment is marked; one below 0 is
// none.
func CurveInset(m *motion.Motion, channel *motion.Channel, frames float64) []byte {
	c := &insetCurve{Picture: &Picture{Width: insetWide, Height: insetTall}, motion: m, length: m.Sheet.Length.Float()}
	c.Title = channel.Dial.Path + " of " + m.Sheet.Name
	if m.Sheet.Closed {
		c.beyond = min(c.length, m.Sheet.Beat.Float())
	}
	c.scale = (insetWide - insetLeft - insetRight) / (c.length + c.beyond)
	times, values := sampled(channel, c.length, c.length+c.beyond)
	c.least, c.most = values[0], values[0]
	for _, v := range values {
		c.least, c.most = min(c.least, v), max(c.most, v)
	}
	c.paper(channel.Dial)
	ink, shape := InkOf(channel.Dial), shapeOf(channel.Dial)
	c.line(ink, 1.6, c.thinned(times, values)...)
	c.seam(channel)
	if keys := KeysOf(channel, c.length); len(keys) <= mostInsetKeys {
		for _, k := range keys {
			if k.Frames <= c.length+c.beyond {
				c.add(marker(shape, c.at(k.Frames, k.Value), 2.8, ink, ""))
			}
		}
	}
	if 0 <= frames && frames <= c.length {
		at := c.at(frames, channel.At(frames))
		c.add(Mark{Kind: Line, At: []Point{{at.X, insetTop}, {at.X, insetTall - insetFoot}}, Ink: Strong, Width: 0.8, Dash: []float64{2, 3}})
		c.add(Mark{Kind: Disc, At: []Point{at}, R0: 4, Ink: Paper, Rim: Strong, Width: 1.6})
	}
	return c.inset(nil)
}

// insetCurve is a curve's inset on its way.
type insetCurve struct {
	*Picture
	motion         *motion.Motion
	length, beyond float64 // frames
	scale          float64 // pixels a frame
	least, most    float64
}

func (c *insetCurve) at(frames, value float64) Point {
	y := (insetTop + insetTall - insetFoot) / 2
	if tall := c.most - c.least; tall > 1e-9*max(1, math.Abs(c.most)) {
		const room = insetTall - insetFoot - insetTop - 12
		y = insetTop + 6 + (c.most-value)/tall*room
	}
	return Point{insetLeft + frames*c.scale, y}
}

// paper draws what lies behind the curve.
func (c *insetCurve) paper(d *motion.Dial) {
	const bottom = insetTall - insetFoot
	if c.beyond > 0 {
		c.box(Panel, insetLeft+c.length*c.scale, insetTop, c.beyond*c.scale, bottom-insetTop)
	}
	beat := c.motion.Sheet.Beat.Float()
	every := max(1, math.Ceil(4/(beat*c.scale)))
	labels := math.Ceil(insetLabel/(beat*c.scale)/every) * every
	for i := 0.0; i*beat <= c.length+c.beyond+1e-6; i += every {
		x := insetLeft + i*beat*c.scale
		c.line(Rule, 0.7, Point{x, insetTop}, Point{x, bottom})
		if math.Mod(i, labels) == 0 && i*beat <= c.length+1e-6 {
			c.words(MomentName(c.motion.Sheet, i*beat), Point{x, bottom + 12}, 9, Soft, Middle)
		}
	}
	c.words(WithUnit(c.most, d.Unit), Point{insetLeft - 6, c.at(0, c.most).Y + 3}, 9, Soft, End)
	if c.most-c.least > 1e-9*max(1, math.Abs(c.most)) {
		c.words(WithUnit(c.least, d.Unit), Point{insetLeft - 6, c.at(0, c.least).Y + 3}, 9, Soft, End)
	}
	if c.least < 0 && 0 < c.most {
		c.add(Mark{Kind: Line, At: []Point{{insetLeft, c.at(0, 0).Y}, {insetWide - insetRight, c.at(0, 0).Y}}, Ink: Rule, Width: 0.7, Dash: []float64{2, 3}})
	}
}

func (c *insetCurve) seam(channel *motion.Channel) {
	if c.beyond == 0 {
		return
	}
	x := insetLeft + c.length*c.scale
	c.line(Strong, 1, Point{x, insetTop}, Point{x, insetTall - insetFoot})
	late, from, to, jumps := seamJump(channel, c.length)
	if !jumps {
		c.words("seam", Point{x, insetTop - 4}, 9, Soft, Middle)
		return
	}
	c.line(Fault, 2.4, c.at(c.length+late, from), c.at(c.length+late, to))
	// To the left, where there is room: the next round is one beat wide.
	c.words("the seam jumps "+WithUnit(math.Abs(to-from), channel.Dial.Unit), Point{x + 4, insetTop - 4}, 9, Fault, End)
}

// thinned are the points of a curve, as many as the eye can tell apart: the first, the last, the highest and the lowest
// of each pixel's column.
func (c *insetCurve) thinned(times, values []float64) []Point {
	var out []Point
	for i := 0; i < len(times); {
		column := math.Floor(times[i] * c.scale)
		low, high, j := i, i, i
		for ; j < len(times) && math.Floor(times[j]*c.scale) == column; j++ {
			if values[j] < values[low] {
				low = j
			}
			if values[j] > values[high] {
				high = j
			}
		}
		before := -1
		for _, k := range [...]int{i, min(low, high), max(low, high), j - 1} {
			if before < k {
				out, before = append(out, c.at(times[k], values[k])), k
			}
		}
		i = j
	}
	return out
}

// CycleInset draws the figure moving through the whole sheet, in its own time, over and over. Who prefers less motion
// sees it stand as the sheet begins. It is nil where the figure has no limbs, or too many for an inset.
func CycleInset(m *motion.Motion, view View) []byte {
	s := NewStage(m, view, insetHeight)
	length := m.Sheet.Length.Float()
	s.onWholeGround()
	n := s.insetSamples(int(math.Ceil(8 * length / m.Sheet.Beat.Float())))
	f := s.film(n, func(i int) { s.pose(length * float64(i) / float64(n)) })
	f.title = m.Sheet.Name + " from the " + view.Name
	f.seconds = length / m.Sheet.Rate.Float()
	return s.filmInset(f)
}

// PoseInset draws the figure going from rest into a pose and back, as the sheet's plants hold it when it begins. Who
// prefers less motion sees it stand in the pose. It is nil where the figure has no limbs, or too many for an inset.
func PoseInset(m *motion.Motion, pose *motion.Pose, view View) []byte {
	s := &Stage{Motion: m, Body: NewBody(m.Rig), View: view, player: m.Player()}
	values := make([]float64, len(m.Rig.Channels))
	show := func(share float64) {
		for i := range values {
			values[i] = m.Rig.Channels[i].Rest
			if v, ok := pose.Value(i); ok {
				values[i] += share * (v.Value - values[i])
			}
		}
		s.places = s.Body.Places(s.player.Posed(values).World, s.places)
	}
	const steps = 24
	// It begins in the pose, which is what is told apart, and comes to rest in the middle.
	share := func(i int) float64 { return 0.5 + 0.5*math.Cos(2*math.Pi*float64(i)/steps) }
	s.frame(insetHeight, steps, func(i int) { show(share(i)) })
	s.onWholeGround()
	n := s.insetSamples(steps)
	f := s.film(n, func(i int) { show(share(i * steps / n)) })
	f.title, f.seconds = "the pose "+pose.Name+" from the "+view.Name, 2.4
	return s.filmInset(f)
}

// onWholeGround widens the frame to the disc that the figure stands on.
func (s *Stage) onWholeGround() {
	half := 1.05 * groundShare * s.Body.Height
	s.left, s.right = min(s.left, -half), max(s.right, half)
}

// film is a figure in motion: each limb's two ends at every moment, those of limbs that are farther away first. The last
// moment is the first one of the next round.
type film struct {
	title   string
	seconds float64
	limbs   []filmLimb
}

type filmLimb struct {
	ink   Ink
	width float64
	near  float64 // cm, on the whole
	ends  [][2]Point
}

// insetSamples is how many moments of the figure fit an inset, of those that are wished for; 1 where it can only stand.
func (s *Stage) insetSamples(wished int) int {
	limbs := max(1, len(s.Body.Limbs))
	fit := min(wished, mostMoments, (InsetBytes-insetFrame-2*limbs*insetLimb)/(limbs*insetEnds)-1)
	if fit < fewestMoments {
		return 1
	}
	return fit
}

// film takes the figure at n moments and at the end; show moves it to one of them.
func (s *Stage) film(n int, show func(i int)) *film {
	f := &film{}
	bones := make([]int, 0, len(s.Body.Limbs))
	for i := range s.Body.Limbs {
		if bone := &s.Body.Limbs[i]; !bone.Eye {
			bones = append(bones, i)
			f.limbs = append(f.limbs, filmLimb{ink: bone.Side, width: (bone.R0 + bone.R1) * s.Scale})
		}
	}
	for i := range n + 1 {
		show(i)
		for k, bone := range bones {
			b := &s.Body.Limbs[bone]
			from, nearFrom := s.at(s.places[b.From])
			to, nearTo := s.at(s.places[b.To])
			f.limbs[k].ends = append(f.limbs[k].ends, [2]Point{from, to})
			f.limbs[k].near += ((nearFrom+nearTo)/2 + b.Over) / float64(n+1)
		}
	}
	f.sort()
	return f
}

func (f *film) sort() {
	for i := range f.limbs { // they are few
		for j := i; j > 0 && f.limbs[j].near < f.limbs[j-1].near; j-- {
			f.limbs[j], f.limbs[j-1] = f.limbs[j-1], f.limbs[j]
		}
	}
}

// filmInset writes the film with the ground below it. The figure is there twice: once moving, and once standing, for who
// prefers that; a style sheet shows one of them.
func (s *Stage) filmInset(f *film) []byte {
	p := &Picture{Width: s.Width(), Height: (s.top - s.bottom) * s.Scale, Title: f.title}
	s.ground(p)
	if len(f.limbs) == 0 || InsetBytes < insetFrame+len(f.limbs)*insetLimb {
		return nil
	}
	moments := len(f.limbs[0].ends) - 1
	return p.inset(func(w *svgWriter) {
		classes := []string{"still", "moving"}
		if moments == 1 {
			classes = classes[:1]
		} else {
			w.put("<style>.still{display:none}@media(prefers-reduced-motion:reduce){.moving{display:none}.still{display:inline}}</style>\n")
		}
		for _, class := range classes {
			w.put(`<g class="`, class, `" fill="none">`, "\n")
			for i := range f.limbs {
				w.limbInFilm(&f.limbs[i], class == "moving", f.seconds)
			}
			w.put("</g>\n")
		}
	})
}

func (s *svgWriter) limbInFilm(l *filmLimb, moving bool, seconds float64) {
	s.put(`<path stroke="`, s.color(l.ink), `" stroke-width="`, decimal(l.width), `" d="`, tenths(l.ends[0]), `"`)
	if !moving {
		s.put("/>\n")
		return
	}
	s.put(`><animate attributeName="d" dur="`, decimal(seconds), `s" repeatCount="indefinite" values="`)
	for i, ends := range l.ends {
		if i > 0 {
			s.put(";")
		}
		s.put(tenths(ends))
	}
	s.put(`"/></path>`, "\n")
}

// tenths is a line between two points, in tenths of a pixel.
func tenths(ends [2]Point) string {
	return fmt.Sprintf("M%.1f %.1fL%.1f %.1f", ends[0].X, ends[0].Y, ends[1].X, ends[1].Y)
}

// inset writes the picture as an inset, with what more adds at its end.
func (p *Picture) inset(more func(*svgWriter)) []byte {
	var out bytes.Buffer
	s := svgWriter{out: bufio.NewWriter(&out), anyScheme: true}
	shown := min(1, insetWide/p.Width) // a figure that goes far is drawn smaller
	s.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 `, decimal(p.Width), " ", decimal(p.Height), `" width="`, decimal(shown*p.Width), `" height="`, decimal(shown*p.Height), `" role="img" font-family="`, fontFamily, `" stroke-linecap="round" stroke-linejoin="round">`, "\n")
	s.put("<title>", escaped(p.Title), "</title>\n")
	s.put("<style>svg{", Light().CSS(), "}@media(prefers-color-scheme:dark){svg{", Dark().CSS(), "}}</style>\n")
	s.put(`<rect width="`, decimal(p.Width), `" height="`, decimal(p.Height), `" rx="4" fill="`, s.color(Paper), `"/>`, "\n")
	for i := range p.Marks {
		s.mark(&p.Marks[i])
	}
	if more != nil {
		more(&s)
	}
	s.put("</svg>\n")
	_ = s.out.Flush() // a bytes.Buffer takes everything
	return out.Bytes()
}
