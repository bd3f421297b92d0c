package draw

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion"
)

// contrast is the contrast ratio of WCAG 2.2 (definitions of "contrast ratio" and "relative luminance"; from memory).
func contrast(a, b color.NRGBA) float64 {
	luminance := func(c color.NRGBA) float64 {
		sum := 0.0
		for i, v := range []uint8{c.R, c.G, c.B} {
			s := float64(v) / 255
			if s <= 0.04045 {
				s /= 12.92
			} else {
				s = math.Pow((s+0.055)/1.055, 2.4)
			}
			sum += s * []float64{0.2126, 0.7152, 0.0722}[i]
		}
		return sum
	}
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestContrast(t *testing.T) {
	// Black on white is 21 to 1 by definition.
	assert.InDelta(t, 21, contrast(rgb(0), rgb(0xFFFFFF)), 1e-9)
	for name, scheme := range map[string]Scheme{"light": Light(), "dark": Dark()} {
		for _, paper := range []Ink{Paper, Panel} {
			for _, words := range []Ink{Soft, Strong} {
				assert.GreaterOrEqual(t, contrast(scheme[words], scheme[paper]), 4.5, "%s: words %d on %d (WCAG 2.2, 1.4.3)", name, words, paper)
			}
		}
		for _, mark := range []Ink{Center, Left, Right, Fault, Other, Trace, Skin} {
			assert.GreaterOrEqual(t, contrast(scheme[mark], scheme[Paper]), 3.0, "%s: mark %d (WCAG 2.2, 1.4.11)", name, mark)
		}
	}
}

// TestMarksInTheNextRoundStandOut holds that what is drawn on the panel of the next round has paper about it wherever its
// ink alone would be too near to the panel's.
func TestMarksInTheNextRoundStandOut(t *testing.T) {
	looked := 0
	for name, p := range pictures(t) {
		top, bottom := math.Inf(1), math.Inf(-1)
		for _, m := range p.Marks {
			if m.Kind == Shape && m.Ink == Panel && len(m.At) == 4 {
				top, bottom = m.At[0].Y, m.At[2].Y
			}
		}
		for i, m := range p.Marks {
			inside := slices.ContainsFunc(m.At, func(at Point) bool { return at.Y > top+1e-6 && at.Y < bottom-1e-6 })
			faint := false
			for _, scheme := range []Scheme{Light(), Dark()} {
				faint = faint || contrast(scheme[m.Ink], scheme[Panel]) < 3
			}
			data := slices.Contains([]Ink{Center, Left, Right, Fault, Other, Trace}, m.Ink)
			switch {
			case !inside || !faint || !data:
			case m.Kind == Line:
				looked++
				below := p.Marks[i-1]
				assert.True(t, below.Kind == Line && below.Ink == Paper && below.Width >= m.Width+2, "%s: a line without paper under it", name)
				assert.Equal(t, m.At[len(m.At)-1], below.At[len(below.At)-1], name)
			default:
				looked++
				assert.True(t, m.Rim == Paper && m.Width > 0, "%s: a mark without a rim", name)
			}
		}
	}
	assert.Greater(t, looked, 0, "there are such marks")
}

// TestSidesAreToldApartWithoutColour: each side has a marker of a shape of its own.
func TestSidesAreToldApartWithoutColour(t *testing.T) {
	seen := map[string]bool{}
	for _, ink := range []Ink{Center, Left, Right} {
		m := marker(shapes[ink], Point{}, 3, ink, "")
		seen[fmt.Sprint(m.Kind, m.At)] = true
	}
	assert.Len(t, seen, 3)
}

// TestAViewOnlyTurns holds that looking from elsewhere changes no distance.
func TestAViewOnlyTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := View{"", rapid.Float64Range(-360, 360).Draw(t, "turn"), rapid.Float64Range(-90, 90).Draw(t, "height")}
		var p [3]float64
		for i := range p {
			p[i] = rapid.Float64Range(-200, 200).Draw(t, "place")
		}
		x, y, z := v.project(p)
		assert.InDelta(t, p[0]*p[0]+p[1]*p[1]+p[2]*p[2], x*x+y*y+z*z, 1e-6)
	})
}

// TestSidesOfTheViews: glTF 2.0 has +x at the left hand of who faces +z, so whoever looks at them sees it on the right.
func TestSidesOfTheViews(t *testing.T) {
	x, _, _ := Front().project([3]float64{1, 0, 0})
	assert.InDelta(t, 1, x, 1e-9, "their left is on the right of the picture")
	x, _, near := Side().project([3]float64{0, 0, 1})
	assert.InDelta(t, 1, x, 1e-9, "seen from their right, they look to the right")
	assert.InDelta(t, 0, near, 1e-9)
	_, up, _ := Front().project([3]float64{0, 0, 1})
	assert.Less(t, up, 0.0, "what is nearer is lower in the picture")
}

// TestTheHullTouchesBothCircles: a tangent is perpendicular to the radius.
func TestTheHullTouchesBothCircles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(name string, least, most float64) float64 { return rapid.Float64Range(least, most).Draw(t, name) }
		m := &Mark{At: []Point{{number("ax", -50, 50), number("ay", -50, 50)}, {number("bx", -50, 50), number("by", -50, 50)}}, R0: number("r0", 0.1, 20), R1: number("r1", 0.1, 20)}
		h, ok := hullOf(m)
		if !ok {
			assert.LessOrEqual(t, math.Hypot(m.At[0].X-m.At[1].X, m.At[0].Y-m.At[1].Y), math.Abs(m.R0-m.R1)+1e-6, "one lies in the other")
			return
		}
		for _, side := range [][2]Point{{h.a0, h.b0}, {h.a1, h.b1}} {
			assert.InDelta(t, m.R0, math.Hypot(side[0].X-m.At[0].X, side[0].Y-m.At[0].Y), 1e-9)
			assert.InDelta(t, m.R1, math.Hypot(side[1].X-m.At[1].X, side[1].Y-m.At[1].Y), 1e-9)
			along := Point{side[1].X - side[0].X, side[1].Y - side[0].Y}
			assert.InDelta(t, 0, along.X*(side[0].X-m.At[0].X)+along.Y*(side[0].Y-m.At[0].Y), 1e-6)
		}
	})
}

// TestTheCastStandsOnTheGround holds that soles of planted feet are on the ground and no limb is under it, in all members
// and moments, so that a figure reads as a person who stands.
func TestTheCastStandsOnTheGround(t *testing.T) {
	for _, who := range cast {
		m := resolve(t, "quay/"+who+".motet")
		stage := NewStage(m, Front(), 200)
		require.Len(t, stage.Body.Feet, 2, who)
		require.Greater(t, stage.Scale, 0.0)
		for i := range 48 {
			frames := m.Sheet.Length.Float() * float64(i) / 48
			stage.pose(frames)
			for _, foot := range stage.Body.Feet {
				assert.True(t, stage.planted(foot, frames), "%s stands on both feet", who)
				heel, toe := stage.places[foot.Heel][1], stage.places[foot.Toe][1]
				assert.InDelta(t, thickToe*stage.Body.Height, heel, 1.5, "%s's heel at %g", who, frames)
				assert.InDelta(t, thickToe*stage.Body.Height, toe, 2.5, "%s's toe at %g", who, frames)
			}
			for _, bone := range stage.Body.Limbs {
				assert.Greater(t, stage.places[bone.To][1]-bone.R1, -2.0, "%s: %s at %g", who, stage.Body.Points[bone.To].Name, frames)
			}
		}
	}
}

// TestAFilmKeepsItsFrame: frames of a film are as large as asked for, hold the whole figure at every moment, and show the
// ground in one place.
func TestAFilmKeepsItsFrame(t *testing.T) {
	for _, size := range [][2]float64{{300, 200}, {80, 400}} {
		m := resolve(t, "quay/catfeeder.motet")
		stage := NewStage(m, ThreeQuarter(), 100)
		var ground []Point
		for frames := 0.0; frames < m.Sheet.Length.Float(); frames += 7 {
			p := stage.Fill(frames, size[0], size[1])
			assert.Equal(t, size, [2]float64{p.Width, p.Height})
			for _, mark := range p.Marks {
				if mark.Kind != Limb {
					continue
				}
				for i, at := range mark.At {
					r := []float64{mark.R0, mark.R1}[i]
					assert.True(t, at.X-r > -1 && at.X+r < p.Width+1 && at.Y-r > -1 && at.Y+r < p.Height+1, "%v at frame %g", size, frames)
				}
			}
			if ground == nil {
				ground = p.Marks[0].At
			}
			assert.Equal(t, ground, p.Marks[0].At)
		}
	}
}

// TestAContactSheetIsToOneScale: who is smaller is drawn smaller, by as much.
func TestAContactSheetIsToOneScale(t *testing.T) {
	keeper, apprentice := resolve(t, "quay/keeper.motet"), resolve(t, "quay/apprentice.motet")
	cells, tallest := contactCells([]*motion.Motion{apprentice, keeper}, ContactOptions{Height: 120})
	assert.InDelta(t, 120, tallest, 1e-9)
	assert.Equal(t, cells[0].stage.Scale, cells[1].stage.Scale)
	assert.InDelta(t, 138.0/168, cells[0].stage.Body.Height/cells[1].stage.Body.Height, 1e-9) // by their rigs
}

// TestWhatJumpsAtTheSeam goes by testdata/draw/slips.motet, which says how far each channel's ends are apart.
func TestWhatJumpsAtTheSeam(t *testing.T) {
	m := resolve(t, "draw/slips.motet")
	length := m.Sheet.Length.Float()
	tests := map[string]struct {
		jumps          bool
		late, from, to float64
	}{
		"hips/side": {true, 0, 1, 3},
		"head/turn": {true, 3, 2, 4}, // three frames late, by `overlap`
		"hips/drop": {},
		"eyes/side": {}, // it stays until the next key, which is no jump at the seam
	}
	for name, want := range tests {
		late, from, to, ok := seamJump(m.Channel(name), length)
		require.Equal(t, want.jumps, ok, name)
		if ok {
			assert.InDeltaSlice(t, []float64{want.late, want.from, want.to}, []float64{late, from, to}, 1e-2, name)
		}
	}
	for _, who := range cast {
		m := resolve(t, "quay/"+who+".motet")
		for i := range m.Channels {
			_, _, _, ok := seamJump(&m.Channels[i], m.Sheet.Length.Float())
			assert.False(t, ok, "%s: %s", who, m.Channels[i].Dial.Path)
		}
	}
}

func TestFindingsStandAtTheirKeys(t *testing.T) {
	m := resolve(t, "draw/slips.motet")
	c := newCurves(m, CurveOptions{Channels: channels(m, "head/turn", "hips/side"), Findings: found(m)})
	placed := map[string][]float64{}
	for _, b := range c.badges {
		if b.strip >= 0 {
			name := c.o.Channels[b.strip].Dial.Path
			placed[name] = append(placed[name], b.frames)
		}
	}
	assert.Contains(t, placed["hips/side"], 72.0, "the closing row is frame 72")
	assert.Contains(t, placed["hips/side"], 31.5, "7/4 beats of 18 frames")
	assert.Equal(t, []float64{75}, placed["head/turn"], "three frames after the closing row")
}

// TestWhoLeadsWhom goes by the keeper's `overlap` block, which says how much later than the hips each control plays.
func TestWhoLeadsWhom(t *testing.T) {
	m := resolve(t, "quay/keeper.motet")
	want := map[string]float64{"hips": 0, "spine": 3, "arm.left": 5, "arm.right": 5, "fingers.left": 8, "fingers.right": 8}
	got := map[string]float64{}
	for _, lead := range Leads(m, "hips") {
		got[lead.Control] = lead.LagFrames
	}
	for control, lag := range want {
		require.Contains(t, got, control)
		assert.InDelta(t, lag, got[control], 0.3, control)
	}
	assert.Empty(t, Leads(m, "brows"), "brows that don't move lead nobody")
}

func TestMomentsAreNamedAsSheetsDo(t *testing.T) {
	s := resolve(t, "quay/keeper.motet").Sheet
	for frames, want := range map[float64]string{0: "0b", 18: "1b", 27: "3/2b", 22.5: "1.25b", 108: "6b"} {
		assert.Equal(t, want, MomentName(s, frames))
	}
}
