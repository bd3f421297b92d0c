package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// Stage is a motion's figure with the frame in which it is always drawn, so that pictures of several moments fit each
// other. It belongs to one goroutine.
type Stage struct {
	Motion *motion.Motion
	Body   *Body
	View   View
	Scale  float64 // points a cm

	player *motion.Player
	places [][3]float64
	// The frame holds the whole motion, in cm of the view.
	left, right, top, bottom float64
}

// NewStage frames the figure of a whole motion for a view, as high as there are points.
func NewStage(m *motion.Motion, view View, height float64) *Stage {
	s := &Stage{Motion: m, Body: NewBody(m.Rig), View: view, player: m.Player()}
	length := m.Sheet.Length.Float()
	const looks = 48 // enough to frame a cycle, which is slow beside its own length
	s.frame(height, looks, func(i int) { s.pose(length * float64(i) / looks) })
	return s
}

// frame makes the frame hold the figure at each of n moments and at the end; show moves it to one of them.
func (s *Stage) frame(height float64, n int, show func(i int)) {
	s.left, s.right = -0.14*s.Body.Height, 0.14*s.Body.Height
	s.bottom = -0.05 * s.Body.Height
	for i := range n + 1 {
		show(i)
		for k := range s.Body.Limbs {
			bone := &s.Body.Limbs[k]
			s.include(s.places[bone.From], bone.R0)
			s.include(s.places[bone.To], bone.R1)
		}
	}
	margin := 0.03 * s.Body.Height
	s.left, s.right, s.top, s.bottom = s.left-margin, s.right+margin, s.top+margin, s.bottom-margin
	s.Scale = height / (s.top - s.bottom)
}

// pose moves the places of the body's spots to a moment, and gives the joints' transforms.
func (s *Stage) pose(frames float64) []motion.Transform {
	world := s.player.Figure(frames).World
	s.places = s.Body.Places(world, s.places)
	return world
}

func (s *Stage) include(p [3]float64, r float64) {
	x, y, _ := s.View.project(p)
	s.left, s.right = min(s.left, x-r), max(s.right, x+r)
	s.bottom, s.top = min(s.bottom, y-r), max(s.top, y+r)
}

// Width is how many points the frame is wide.
func (s *Stage) Width() float64 { return (s.right - s.left) * s.Scale }

func (s *Stage) at(p [3]float64) (at Point, near float64) {
	x, y, near := s.View.project(p)
	return Point{(x - s.left) * s.Scale, (s.top - y) * s.Scale}, near
}

// Figure draws the figure at a moment, in frames, as it stands on the ground.
func (s *Stage) Figure(frames float64) *Picture { return s.figure(frames, true) }

func (s *Stage) figure(frames float64, onGround bool) *Picture {
	p := &Picture{Width: s.Width(), Height: (s.top - s.bottom) * s.Scale}
	s.pose(frames)
	if onGround {
		s.ground(p)
	}
	s.stands(p, frames)
	s.body(p, frames)
	return p
}

// Ghost draws the figure at a moment as an outline, to lay another one over it.
func (s *Stage) Ghost(frames float64) *Picture {
	p := &Picture{Width: s.Width(), Height: (s.top - s.bottom) * s.Scale}
	s.pose(frames)
	s.ground(p)
	body := &Picture{}
	s.body(body, frames)
	for _, m := range body.Marks {
		p.add(Mark{Kind: m.Kind, At: m.At, R0: m.R0, R1: m.R1, Ink: Paper, Rim: Other, Width: 1.6})
	}
	for _, m := range body.Marks {
		p.add(Mark{Kind: m.Kind, At: m.At, R0: m.R0, R1: m.R1, Ink: Panel})
	}
	return p
}

// share gives two stages one frame that holds both motions.
func (s *Stage) share(o *Stage, height float64) {
	s.left, s.right = min(s.left, o.left), max(s.right, o.right)
	s.bottom, s.top = min(s.bottom, o.bottom), max(s.top, o.top)
	s.Scale = height / (s.top - s.bottom)
	o.left, o.right, o.bottom, o.top, o.Scale = s.left, s.right, s.bottom, s.top, s.Scale
}

// groundShare is how far the disc of the ground reaches, as a share of the body's height.
const groundShare = 0.22

// ground draws the ground as a disc about the middle between the feet's rest places.
func (s *Stage) ground(p *Picture) {
	r := groundShare * s.Body.Height
	p.add(Mark{Kind: Shape, At: s.ring([3]float64{}, r), Ink: Panel, Rim: Rule, Width: 0.8})
}

// ring is a circle that lies on the ground.
func (s *Stage) ring(about [3]float64, radius float64) []Point {
	const corners = 40
	out := make([]Point, corners)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		out[i], _ = s.at([3]float64{about[0] + radius*cos, about[1], about[2] + radius*sin})
	}
	return out
}

// stands draws where each foot is over the ground: a full print where it is planted, the rim of one where it is free.
func (s *Stage) stands(p *Picture, frames float64) {
	for _, foot := range s.Body.Feet {
		heel, toe := s.places[foot.Heel], s.places[foot.Toe]
		heel[1], toe[1] = 0, 0
		a, _ := s.at(heel)
		b, _ := s.at(toe)
		r := 0.022 * s.Body.Height * s.Scale
		print := Mark{Kind: Limb, At: []Point{a, b}, R0: r, R1: r, Ink: Panel, Rim: Soft, Width: 0.8, Tip: "the foot is free"}
		if s.planted(foot, frames) {
			print.Ink, print.Tip = Soft, "the foot is planted"
		}
		p.add(print)
	}
}

func (s *Stage) planted(foot Foot, frames float64) bool {
	return slices.ContainsFunc(s.Motion.Plants, func(plant motion.Plant) bool {
		same := plant.Joint == foot.Joint || foot.Chain >= 0 && plant.Chain == foot.Chain
		return same && plant.On < 0 && plant.Holds(frames, s.Motion.Sheet.Closed)
	})
}

// body draws the limbs, those that are farther away first, each with a rim of paper so that one sees which is in front.
func (s *Stage) body(p *Picture, frames float64) {
	pieces := s.pieces(s.pinned(frames))
	slices.SortStableFunc(pieces, func(a, b piece) int { return cmp.Compare(a.near, b.near) })
	for i := range pieces {
		// What is one piece of paper gets its rim first, so that none runs through it.
		for _, m := range pieces[i].marks {
			if len(pieces[i].marks) > 1 {
				m.Rim, m.Width = Paper, 2*m.Width
				p.add(m)
			}
		}
		for _, m := range pieces[i].marks {
			if len(pieces[i].marks) > 1 {
				m.Width = 0
			}
			p.add(m)
		}
	}
}

// piece is what is drawn at one depth.
type piece struct {
	near  float64 // cm
	marks []Mark
}

// pieces gives the body's limbs, those of a group together, and the pins that hold their ends.
func (s *Stage) pieces(pins map[int]string) []piece {
	groups := make([]piece, Head+1)
	all := make([]piece, 0, len(s.Body.Limbs))
	rim := max(0.5, 0.006*s.Body.Height*s.Scale)
	for i := range s.Body.Limbs {
		bone := &s.Body.Limbs[i]
		a, nearA := s.at(s.places[bone.From])
		b, nearB := s.at(s.places[bone.To])
		near := (nearA+nearB)/2 + bone.Over
		mark := Mark{Kind: Limb, At: []Point{a, b}, R0: bone.R0 * s.Scale, R1: bone.R1 * s.Scale, Ink: bone.Side, Rim: Paper, Width: rim}
		switch {
		case bone.Eye && nearB-nearA < 0.35*0.012*s.Body.Height: // it looks elsewhere
		case bone.Eye:
			all = append(all, piece{near + 0.05*s.Body.Height, []Mark{{Kind: Disc, At: []Point{b}, R0: mark.R0, Ink: Paper}}})
		case bone.Group != Alone:
			g := &groups[bone.Group]
			g.near = (g.near*float64(len(g.marks)) + near) / float64(len(g.marks)+1)
			g.marks = append(g.marks, mark)
		default:
			all = append(all, piece{near, []Mark{mark}})
		}
		if tip, ok := pins[bone.To]; ok && bone.To < len(s.Motion.Rig.Joints) {
			r := max(1.2, 0.008*s.Body.Height*s.Scale)
			all = append(all, piece{near + 1, []Mark{{Kind: Disc, At: []Point{b}, R0: r, Ink: Paper, Rim: Strong, Width: 0.8, Tip: tip}}})
		}
	}
	return append(all, groups[Trunk:]...)
}

// pinned gives the joints, other than feet, that are planted on the body or in the air, and on what.
func (s *Stage) pinned(frames float64) map[int]string {
	pins := map[int]string{}
	for i := range s.Motion.Plants {
		plant := &s.Motion.Plants[i]
		isFoot := slices.ContainsFunc(s.Body.Feet, func(f Foot) bool { return f.Joint == plant.Joint })
		if isFoot || !plant.Holds(frames, s.Motion.Sheet.Closed) {
			continue
		}
		pins[plant.Joint] = "planted here"
		if plant.On >= 0 {
			pins[plant.Joint] = "planted on " + s.Motion.Rig.Joints[plant.On].Name
		}
	}
	return pins
}

// Arc draws the way of a joint through the whole motion: a dot a frame, larger on each beat, so that dots far apart are a
// joint that is fast.
func (s *Stage) Arc(joint int) *Picture {
	p := &Picture{Width: s.Width(), Height: (s.top - s.bottom) * s.Scale}
	sheet := s.Motion.Sheet
	sampled := s.Motion.SampledByFrame()
	var way []Point
	for i := range sampled.Count {
		way = append(way, s.arcPoint(sampled, joint, i))
	}
	if sheet.Closed && len(sheet.Advance) == 0 {
		way = append(way, way[0])
	}
	p.line(Trace, 1, way...)
	beat := sheet.Beat.Float()
	for i := range sampled.Count {
		r := 1.1
		if t := sampled.Time(i); math.Abs(t-math.Round(t/beat)*beat) < sampled.Step/2 {
			r = 2.2
		}
		p.add(Mark{Kind: Disc, At: []Point{way[i]}, R0: r, Ink: Trace})
	}
	return p
}

func (s *Stage) arcPoint(sampled *motion.Sampled, joint, i int) Point {
	var place [3]float64
	for axis := range place {
		place[axis] = sampled.Place(joint, axis).Samples[i]
	}
	at, _ := s.at(place)
	return at
}

// FigureOptions is what a picture of the figure shows.
type FigureOptions struct {
	Frames float64 // the moment
	Views  []View
	Height float64 // points
	Arcs   []int   // joints whose ways are drawn
	// Against is another motion whose figure stands behind this one, as an outline; nil for none.
	Against *motion.Motion
}

// Figure draws a whole motion's figure at one moment, from each view, with what the moment is called.
func Figure(m *motion.Motion, o FigureOptions) *Picture {
	const edge, foot = 12.0, 34.0
	p := &Picture{Title: fmt.Sprintf("%s at %s", m.Sheet.Name, MomentName(m.Sheet, o.Frames))}
	if o.Against != nil {
		p.Title += ", outlined: " + o.Against.Sheet.Name
	}
	for i, joint := range o.Arcs {
		p.Title += [2]string{", the way of ", " and "}[min(i, 1)] + m.Rig.Joints[joint].Name
	}
	x := edge
	for _, view := range o.Views {
		stage := NewStage(m, view, o.Height)
		if o.Against != nil {
			ghost := NewStage(o.Against, view, o.Height)
			stage.share(ghost, o.Height)
			p.place(ghost.Ghost(o.Frames), Point{x, edge})
		}
		p.place(stage.figure(o.Frames, o.Against == nil), Point{x, edge})
		for _, joint := range o.Arcs {
			p.place(stage.Arc(joint), Point{x, edge})
		}
		p.words(view.Name, Point{x + stage.Width()/2, edge + o.Height + 12}, 9, Soft, Middle)
		x += stage.Width() + edge
	}
	p.Width, p.Height = max(x, widthOf(p.Title, 10)+2*edge), edge+o.Height+foot
	p.heading(p.Title, Point{edge, p.Height - 8}, 10, Strong, Start)
	if len(o.Arcs) > 0 {
		const key = "on the way a dot for each frame, a larger one on each beat"
		p.words(key, Point{edge, p.Height + 4}, 8, Soft, Start)
		p.Width, p.Height = max(p.Width, widthOf(key, 8)+2*edge), p.Height+12
	}
	return p
}
