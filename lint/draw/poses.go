package draw

import (
	"github.com/motet-sheet/motet/lint/motion"
)

// moment is one figure of the pose strip.
type moment struct {
	frames float64
	name   string // of the pose, or of the channel that turns there
}

// mostPoses is how many figures a pose strip has at most, but for the rows of the blocking, which are all there.
const mostPoses = 12

// Poses draws the figure at each accent: at the rows of the blocking and where tracks take it furthest from those, or on
// each beat where nothing has a key at which it turns. The figures stand side by side on one ground, as large as each other,
// in rows of at most so many.
func Poses(m *motion.Motion, view View, height float64, inARow int) *Picture {
	const edge, label = 12.0, 30.0
	moments := accents(m, mostPoses)
	stage := NewStage(m, view, height)
	step := max(stage.Width(), 64)
	p := &Picture{Title: m.Sheet.Name + ": its poses, " + view.Name + " view"}
	inARow = max(1, min(inARow, len(moments)))
	rows := (len(moments) + inARow - 1) / inARow
	p.Width, p.Height = max(2*edge+step*float64(inARow), widthOf(p.Title, 10)+2*edge), edge+float64(rows)*(height+label)+18
	for i, at := range moments {
		x, y := edge+step*float64(i%inARow), edge+float64(i/inARow)*(height+label)
		p.place(stage.Figure(at.frames), Point{x + (step-stage.Width())/2, y})
		p.heading(MomentName(m.Sheet, at.frames), Point{x + step/2, y + height + 10}, 9, Strong, Middle)
		p.words(fitted(at.name, 8, step-4), Point{x + step/2, y + height + 20}, 8, Soft, Middle)
	}
	p.heading(p.Title, Point{edge, p.Height - 8}, 10, Strong, Start)
	return p
}
