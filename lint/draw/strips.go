package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// CurveOptions is what a picture of curves shows.
type CurveOptions struct {
	Channels []*motion.Channel
	Findings []lint.Finding // shown where they are
	// Against is another motion whose curves are laid over; nil for none.
	Against *motion.Motion
	// PointsABeat is how far time goes down in a beat; 0 for what fits a page.
	PointsABeat float64
}

// The measures of a picture of curves, in points.
const (
	stripWide, stripGap    = 104.0, 16.0
	marginLeft, marginEdge = 62.0, 14.0
	headTall               = 66.0
	pageTall               = 430.0
	casingWide             = 1.2
)

// Curves draws channels over time as the sheet has it: time runs down, and each channel is a strip. The seam of a cycle is
// one line, over which the curves go on a little into the next round; where a curve jumps there, the jump is drawn.
func Curves(m *motion.Motion, o CurveOptions) *Picture {
	c := newCurves(m, o)
	c.paper()
	c.seam()
	for i, channel := range o.Channels {
		c.strip(i, channel)
	}
	c.faults()
	c.legend()
	return c.Picture
}

// curves is a picture of curves on its way.
type curves struct {
	*Picture
	motion *motion.Motion
	o      CurveOptions
	length float64 // frames
	beyond float64 // frames of the next round that are shown
	scale  float64 // points a frame
	top    float64
	badges []badge
}

func newCurves(m *motion.Motion, o CurveOptions) *curves {
	c := &curves{Picture: &Picture{}, motion: m, o: o, length: m.Sheet.Length.Float(), top: headTall + 22}
	beat := m.Sheet.Beat.Float()
	if m.Sheet.Closed {
		c.beyond = min(c.length, beat)
	}
	aBeat := o.PointsABeat
	if aBeat <= 0 {
		aBeat = min(max(pageTall/((c.length+c.beyond)/beat), 18), 72)
	}
	c.scale = aBeat / beat
	c.Width = max(marginLeft+float64(len(o.Channels))*(stripWide+stripGap)-stripGap+marginEdge, 320)
	c.Title = m.Sheet.Name
	if o.Against != nil {
		c.Title += " against " + o.Against.Sheet.Name
	}
	c.badges = c.locate()
	return c
}

func (c *curves) y(frames float64) float64 { return c.top + frames*c.scale }

func (c *curves) x(strip int) float64 { return marginLeft + float64(strip)*(stripWide+stripGap) }

// right is where the last strip ends.
func (c *curves) right() float64 { return c.x(max(1, len(c.o.Channels))-1) + stripWide }

// paper draws what lies behind the curves: the next round, the grid and the beats.
func (c *curves) paper() {
	s := c.motion.Sheet
	c.heading(fitted(c.Title, 12, c.Width-2*marginEdge), Point{marginEdge, 18}, 12, Strong, Start)
	if c.beyond > 0 {
		c.box(Panel, 0, c.y(c.length), c.Width, c.beyond*c.scale)
	}
	beat, grid := s.Beat.Float(), s.Grid.Float()
	end := c.length + c.beyond
	if grid > 0 && grid*c.scale >= 5 {
		for t := 0.0; t <= end+1e-6; t += grid {
			c.add(Mark{Kind: Line, At: []Point{{marginLeft, c.y(t)}, {c.right(), c.y(t)}}, Ink: Rule, Width: 0.4, Dash: []float64{0.1, 3}})
		}
	}
	every := math.Ceil(11 / (beat * c.scale)) // beats a label
	for i := 0.0; i*beat <= end+1e-6; i++ {
		t := i * beat
		c.line(Rule, 0.7, Point{marginLeft - 4, c.y(t)}, Point{c.right(), c.y(t)})
		if math.Mod(i, every) == 0 && math.Abs(t-c.length) > beat/4 {
			c.beatLabel(t)
		}
	}
}

// beatLabel names a beat, in the next round as in the first one, with its frame.
func (c *curves) beatLabel(t float64) {
	ink, shown := Strong, t
	if c.beyond > 0 && t > c.length {
		ink, shown = Soft, t-c.length
	}
	c.words(MomentName(c.motion.Sheet, shown), Point{marginLeft - 8, c.y(t) + 3}, 9, ink, End)
	if c.motion.Sheet.Beat.Float()*c.scale > 24 {
		c.words("f"+number(shown), Point{marginLeft - 34, c.y(t) + 3}, 7, Soft, End)
	}
}

// axis maps a channel's values to the width of its strip.
type axis struct{ x, least, most float64 }

func axisOf(x float64, values []float64) axis {
	return axis{x, slices.Min(values), slices.Max(values)}
}

func (a axis) at(v float64) float64 {
	if a.most-a.least < 1e-9*max(1, math.Abs(a.most)) {
		return a.x + stripWide/2
	}
	return a.x + 6 + (v-a.least)/(a.most-a.least)*(stripWide-12)
}

// strip draws one channel.
func (c *curves) strip(i int, channel *motion.Channel) {
	times, values := sampled(channel, c.length, c.length+c.beyond)
	a := axisOf(c.x(i), values)
	other := c.other(channel)
	var otherTimes, otherValues []float64
	if other != nil {
		// The other one is stretched to this one's length: beats are compared with beats only where both have as many.
		length := c.o.Against.Sheet.Length.Float()
		otherTimes, otherValues = sampled(other, length, length)
		for k, v := range otherValues {
			a.least, a.most = min(a.least, v), max(a.most, v)
			otherTimes[k] *= c.motion.Sheet.Beat.Float() / c.o.Against.Sheet.Beat.Float()
		}
	}
	ink, shape := InkOf(channel.Dial), shapeOf(channel.Dial)
	c.stripHead(i, channel.Dial, a)
	if rest := channel.Dial.Rest; a.least < rest && rest < a.most {
		c.add(Mark{Kind: Line, At: []Point{{a.at(rest), c.top}, {a.at(rest), c.y(c.length + c.beyond)}}, Ink: Soft, Width: 0.5, Dash: []float64{2, 3}, Tip: "rest, " + WithUnit(rest, channel.Dial.Unit)})
	}
	if other != nil {
		c.trace(a, otherTimes, otherValues, Other, 1.2, []float64{4, 3})
	}
	c.trace(a, times, values, ink, 1.8, nil)
	for _, key := range KeysOf(channel, c.length) {
		at := Point{a.at(key.Value), c.y(key.Frames)}
		c.add(marker(shape, at, 3, ink, fmt.Sprintf("%s is %s at %s", channel.Dial.Path, WithUnit(key.Value, channel.Dial.Unit), MomentName(c.motion.Sheet, key.Frames))))
	}
	c.jump(a, channel)
}

// stripHead names a channel, and says which way is plus and how far it goes.
func (c *curves) stripHead(i int, d *motion.Dial, a axis) {
	x, ink := c.x(i), InkOf(d)
	c.add(marker(shapeOf(d), Point{x + 4, c.top - headTall + 9}, 3.4, ink, ""))
	c.heading(fitted(d.Control, 10, stripWide-14), Point{x + 12, c.top - headTall + 12}, 10, Strong, Start)
	c.words(fitted(d.Name, 10, stripWide), Point{x, c.top - headTall + 25}, 10, Strong, Start)
	if d.Positive != "" {
		c.words(fitted("+ "+d.Positive+" →", 7.5, stripWide), Point{x + stripWide, c.top - headTall + 38}, 7.5, Soft, End)
	}
	if a.most-a.least < 1e-9 {
		c.words("stays at "+WithUnit(a.least, d.Unit), Point{x + stripWide/2, c.top - 6}, 8, Soft, Middle)
		return
	}
	c.words(number(a.least), Point{x, c.top - 6}, 8, Soft, Start)
	c.words(WithUnit(a.most, d.Unit), Point{x + stripWide, c.top - 6}, 8, Soft, End)
}

// trace draws values over time; where the curve steps, the line is broken.
func (c *curves) trace(a axis, times, values []float64, ink Ink, width float64, dash []float64) {
	var way []Point
	flush := func() {
		if len(way) > 1 {
			c.casing(way, width)
			c.add(Mark{Kind: Line, At: way, Ink: ink, Width: width, Dash: dash})
		}
		way = nil
	}
	for i, v := range values {
		if i > 0 && times[i]-times[i-1] < stepTime*2 && math.Abs(v-values[i-1]) > leastStep*(a.most-a.least) {
			from := way[len(way)-1]
			flush()
			c.casing([]Point{from, {a.at(v), c.y(times[i])}}, 0.7)
			c.add(Mark{Kind: Line, At: []Point{from, {a.at(v), c.y(times[i])}}, Ink: ink, Width: 0.7, Dash: []float64{1.5, 2}})
		}
		at := Point{a.at(v), c.y(times[i])}
		if n := len(way); n > 1 && straight(way[n-2], way[n-1], at) {
			way = way[:n-1]
		}
		way = append(way, at)
	}
	flush()
}

// casing lays paper under the part of a line that is drawn on the panel of the next round, on which the line's own ink
// would stand out by less than 3 to 1 (WCAG 2.2, 1.4.11).
func (c *curves) casing(way []Point, width float64) {
	from := slices.IndexFunc(way, func(p Point) bool { return p.Y >= c.y(c.length) })
	if from < 0 || c.beyond == 0 {
		return
	}
	if from = max(0, from-1); len(way)-from > 1 {
		c.line(Paper, width+2*casingWide, way[from:]...)
	}
}

// straight tells whether a point lies so near the line between its neighbors that it can be left out.
func straight(a, b, c Point) bool {
	long := math.Hypot(c.X-a.X, c.Y-a.Y)
	return long < 14 && math.Abs((b.X-a.X)*(c.Y-a.Y)-(b.Y-a.Y)*(c.X-a.X)) < 0.02*long
}

// jump draws, across the seam, how far a channel's curve jumps there.
func (c *curves) jump(a axis, channel *motion.Channel) {
	at, from, to, ok := seamJump(channel, c.length)
	if !ok {
		return
	}
	y := c.y(c.length + at)
	c.rift(Point{a.at(from), y}, Point{a.at(to), y}, 1)
	c.heading("jumps "+WithUnit(math.Abs(to-from), channel.Dial.Unit), Point{a.x + stripWide/2, y + 14}, 9, Strong, Middle)
}

// rift is the sign of a seam whose two ends do not meet.
func (c *curves) rift(from, to Point, size float64) {
	c.line(Paper, 3*size+2*casingWide, from, to)
	c.line(Fault, 3*size, from, to)
	for _, end := range []Point{from, to} {
		c.add(Mark{Kind: Disc, At: []Point{end}, R0: 3.4 * size, Ink: Paper, Rim: Fault, Width: 1.6 * size})
	}
}

// seam draws the seam across all strips.
func (c *curves) seam() {
	if c.beyond == 0 {
		return
	}
	y := c.y(c.length)
	c.line(Strong, 0.8, Point{8, y - 1.2}, Point{c.right() + 6, y - 1.2})
	c.line(Strong, 0.8, Point{8, y + 1.2}, Point{c.right() + 6, y + 1.2})
	c.heading("seam", Point{8, y - 5}, 8, Strong, Start)
	c.words("the next", Point{8, y + 12}, 7, Soft, Start)
	c.words("round", Point{8, y + 21}, 7, Soft, Start)
}

// badge is a finding with its place in the picture.
type badge struct {
	finding *lint.Finding
	strip   int     // -1 where it is of no channel that is drawn
	frames  float64 // NaN where it is of no moment
}

// locate finds where each finding belongs: at the key whose cell it is about, or else at one of its row.
func (c *curves) locate() []badge {
	var out []badge
	for i := range c.o.Findings {
		b := badge{&c.o.Findings[i], -1, math.NaN()}
		for _, exactly := range []bool{true, false} {
			for strip, channel := range c.o.Channels {
				frames, ok := keyAt(channel, b.finding.At, exactly)
				if ok && frames <= c.length+c.beyond && b.strip < 0 {
					b.strip, b.frames = strip, frames
				}
			}
		}
		out = append(out, b)
	}
	return out
}

// keyAt finds the key that is written at a place of the text, and when it is played.
func keyAt(channel *motion.Channel, at grammar.Ref, exactly bool) (frames float64, ok bool) {
	for _, strand := range channel.Strands() {
		late := 0.0
		if strand == channel.Base {
			late = channel.Late.Float()
		}
		for i := range strand.Keys {
			key := &strand.Keys[i]
			if sameLine(key.At, at) && (key.At.Span == at.Span || !exactly) {
				return key.Time.Float() + late, true
			}
		}
	}
	return 0, false
}

func sameLine(a, b grammar.Ref) bool { return a.Block != nil && a.Block == b.Block && a.Line == b.Line }

// faults draws a numbered ring at each finding's moment, or lists it alone.
func (c *curves) faults() {
	for i, b := range c.badges {
		if b.strip < 0 {
			continue
		}
		channel := c.o.Channels[b.strip]
		_, values := sampled(channel, c.length, c.length+c.beyond)
		a := axisOf(c.x(b.strip), values)
		at := Point{a.at(channel.At(math.Nextafter(b.frames, 0))), c.y(b.frames)}
		c.line(Fault, 1.4, ring(at, 7)...)
		before := 0 // that stand at the same key
		for _, other := range c.badges[:i] {
			if other.strip == b.strip && math.Abs(other.frames-b.frames)*c.scale < 14 {
				before++
			}
		}
		side := 15 + 13*float64(before)
		if at.X > a.x+stripWide-24 {
			side = -side
		}
		c.number(i+1, Point{at.X + side, at.Y - 8}, b.finding.Message)
	}
}

func (c *curves) number(n int, at Point, tip string) {
	c.add(Mark{Kind: Disc, At: []Point{at}, R0: 6, Ink: Paper, Rim: Fault, Width: 1.4, Tip: tip})
	c.heading(strconv.Itoa(n), Point{at.X, at.Y + 2.8}, 8, Strong, Middle)
}

// ring is a circle as a closed line.
func ring(about Point, r float64) []Point {
	var out []Point
	for i := range 25 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 24)
		out = append(out, Point{about.X + r*cos, about.Y + r*sin})
	}
	return out
}

// legend says below the strips what the marks are, and lists the findings.
func (c *curves) legend() {
	y := c.y(c.length+c.beyond) + 16
	x := marginEdge
	for _, sign := range c.signs() {
		if wide := 16 + widthOf(sign.text, 8) + 12; x+wide > c.Width && x > marginEdge {
			x, y = marginEdge, y+12
		}
		sign.draw(Point{x + 5, y - 3})
		c.words(sign.text, Point{x + 14, y}, 8, Soft, Start)
		x += 16 + widthOf(sign.text, 8) + 12
	}
	y += 8
	for i, b := range c.badges {
		y += 12
		c.number(i+1, Point{marginEdge + 6, y - 3}, "")
		for k, line := range lines(b.finding.Level.String()+" "+b.finding.Rule+": "+b.finding.Message, 8.5, c.Width-marginEdge-34) {
			if k > 0 {
				y += 11
			}
			c.words(line, Point{marginEdge + 18, y}, 8.5, Strong, Start)
		}
		y += 3
	}
	c.Height = y + 12
}

// sign is a mark with its meaning.
type sign struct {
	text string
	draw func(Point)
}

func (c *curves) signs() []sign {
	seen := map[Ink]bool{}
	for _, channel := range c.o.Channels {
		seen[InkOf(channel.Dial)] = true
	}
	var out []sign
	for _, side := range []struct {
		ink  Ink
		text string
	}{{Left, "key of their left"}, {Right, "key of their right"}, {Center, "key"}} {
		if seen[side.ink] {
			out = append(out, sign{side.text, func(at Point) { c.add(marker(shapes[side.ink], at, 3, side.ink, "")) }})
		}
	}
	out = append(out, sign{"rest", func(at Point) {
		c.add(Mark{Kind: Line, At: []Point{{at.X, at.Y - 5}, {at.X, at.Y + 5}}, Ink: Soft, Width: 0.5, Dash: []float64{2, 3}})
	}})
	if c.beyond > 0 {
		out = append(out, sign{"seam, where the round starts anew", func(at Point) {
			for _, y := range []float64{-1.2, 1.2} {
				c.line(Strong, 0.8, Point{at.X - 6, at.Y + y}, Point{at.X + 6, at.Y + y})
			}
		}})
	}
	if slices.ContainsFunc(c.o.Channels, func(channel *motion.Channel) bool { _, _, _, jumps := seamJump(channel, c.length); return jumps }) {
		out = append(out, sign{"the seam is broken: the end is not where the start is", func(at Point) {
			c.rift(Point{at.X - 7, at.Y}, Point{at.X + 3, at.Y}, 0.7)
		}})
	}
	if c.o.Against != nil {
		out = append(out, sign{c.o.Against.Sheet.Name, func(at Point) {
			c.add(Mark{Kind: Line, At: []Point{{at.X - 6, at.Y}, {at.X + 6, at.Y}}, Ink: Other, Width: 1.2, Dash: []float64{4, 3}})
		}})
	}
	return out
}

// other is the same channel of the other motion.
func (c *curves) other(channel *motion.Channel) *motion.Channel {
	if c.o.Against == nil {
		return nil
	}
	return c.o.Against.Channel(channel.Dial.Path)
}

// InkOf is the ink of a channel's side.
func InkOf(d *motion.Dial) Ink {
	switch {
	case strings.HasSuffix(d.Control, ".left"):
		return Left
	case strings.HasSuffix(d.Control, ".right"):
		return Right
	}
	return Center
}
