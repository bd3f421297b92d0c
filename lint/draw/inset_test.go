package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion"
)

// wellFormed reads an inset to its end, and gives how many elements of each kind it has.
func wellFormed(t *testing.T, inset []byte) map[string]int {
	t.Helper()
	elements := map[string]int{}
	for in := xml.NewDecoder(bytes.NewReader(inset)); ; {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return elements
		}
		require.NoError(t, err)
		if start, ok := token.(xml.StartElement); ok {
			elements[start.Name.Local]++
		}
	}
}

// MOTET_SEE is a folder for pictures to look at.
func see(t *testing.T, name string, inset []byte) {
	t.Helper()
	if folder := os.Getenv("MOTET_SEE"); folder != "" {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name+".svg"), inset, 0o600))
	}
}

// Every channel, the figure and every pose of the whole cast has an inset that an SVG viewer can read, and that is small
// enough for a hover.
func TestInsetsOfTheCast(t *testing.T) {
	for _, name := range cast {
		m := resolve(t, "quay/"+name+".motet")
		drawn := 0
		for i := range m.Channels {
			c := &m.Channels[i]
			if !c.Moves() || testing.Short() && i%7 != 0 {
				continue
			}
			drawn++
			inset := CurveInset(m, c, 20)
			require.Less(t, len(inset), InsetBytes)
			wellFormed(t, inset)
			if name == "keeper" {
				see(t, strings.ReplaceAll(c.Dial.Path, "/", "-"), inset)
			}
		}
		require.NotZero(t, drawn)
		inset := CycleInset(m, Views(m.Sheet.View)[0])
		see(t, name, inset)
		require.Less(t, len(inset), InsetBytes)
		elements := wellFormed(t, inset)
		require.Equal(t, 2*elements["animate"]+1, elements["path"], "each limb stands and moves, on one ground")
		for _, pose := range m.Poses {
			inset := PoseInset(m, pose, Front())
			see(t, name+"-"+pose.Name, inset)
			require.Less(t, len(inset), InsetBytes)
			wellFormed(t, inset)
		}
	}
}

// What the inset of a curve says is what the sheet says: the seam's gap where there is one, and the moment.
func TestCurveInsetOfABrokenSeam(t *testing.T) {
	slips := resolve(t, "draw/slips.motet")
	broken := 0
	for i := range slips.Channels {
		c := &slips.Channels[i]
		if !c.Moves() {
			continue
		}
		inset := CurveInset(slips, c, -1)
		see(t, "slips-"+strings.ReplaceAll(c.Dial.Path, "/", "-"), inset)
		_, jump := SeamJump(c, slips.Sheet.Length.Float())
		if jump != 0 {
			broken++
			require.Contains(t, string(inset), "the seam jumps "+WithUnit(max(jump, -jump), c.Dial.Unit))
			continue
		}
		require.Contains(t, string(inset), ">seam<")
	}
	require.NotZero(t, broken)
	keeper := resolve(t, "quay/keeper.motet")
	side := keeper.Channel("hips/side")
	marked, unmarked := CurveInset(keeper, side, 0), CurveInset(keeper, side, -1)
	require.Equal(t, strings.Count(string(unmarked), "<circle")+1, strings.Count(string(marked), "<circle"))
}

// A figure's film begins and ends at the same place, and holds the limbs where the figure's picture has them.
func TestCycleInsetIsTheFigure(t *testing.T) {
	m := resolve(t, "quay/keeper.motet")
	s := NewStage(m, Front(), insetHeight)
	length := m.Sheet.Length.Float()
	f := s.film(32, func(i int) { s.pose(length * float64(i) / 32) })
	for _, l := range f.limbs {
		for end := range 2 {
			require.InDelta(t, l.ends[0][end].X, l.ends[32][end].X, 1e-6)
			require.InDelta(t, l.ends[0][end].Y, l.ends[32][end].Y, 1e-6)
		}
	}
	pieces := map[string]bool{}
	for _, mark := range s.Figure(length / 4).Marks {
		if mark.Kind == Limb {
			pieces[fmt.Sprint(mark.At)] = true
		}
	}
	for _, l := range f.limbs {
		require.True(t, pieces[fmt.Sprint(l.ends[8][:])], "a limb at %v", l.ends[8])
	}
}

// A pose's figure stands in the pose, and at rest in the middle; the planted feet stay on the ground.
func TestPoseInsetStandsInThePose(t *testing.T) {
	m := resolve(t, "quay/keeper.motet")
	require.NotEmpty(t, m.Poses)
	values := make([]float64, len(m.Rig.Channels))
	for i := range values {
		values[i] = m.Rig.Channels[i].Rest
	}
	rest := append([]motion.Transform{}, m.Player().Posed(values).World...)
	pose := m.Poses[0]
	for _, v := range pose.Values {
		values[v.Channel] = v.Value
	}
	posed := m.Player().Posed(values).World
	moved := false
	for i := range posed {
		moved = moved || posed[i].Position() != rest[i].Position()
	}
	require.True(t, moved, "the pose moves the figure")
	for i := range m.Rig.Chains {
		if end := m.Rig.Chains[i].End; strings.HasPrefix(m.Rig.Joints[end].Name, "foot") {
			require.InDelta(t, rest[end].Position()[1], posed[end].Position()[1], 0.5, m.Rig.Joints[end].Name)
		}
	}
}

// However many keys and joints there are, an inset is small.
func TestInsetsOfHugeSheets(t *testing.T) {
	m := resolve(t, "quay/keeper.motet")
	body := NewBody(m.Rig)
	for range 7 {
		body.Limbs = append(body.Limbs, body.Limbs...)
		s := &Stage{Motion: m, Body: body, View: Front(), player: m.Player()}
		s.frame(insetHeight, 4, func(i int) { s.pose(float64(i)) })
		n := s.insetSamples(1000)
		inset := s.filmInset(s.film(n, func(i int) { s.pose(float64(i)) }))
		t.Logf("%d limbs at %d moments: %d bytes", len(body.Limbs), n, len(inset))
		require.Less(t, len(inset), InsetBytes)
		require.Equal(t, len(body.Limbs) > 700, inset == nil)
	}
	none := &Stage{Motion: m, Body: &Body{Height: 100}, View: Front(), player: m.Player()}
	none.frame(insetHeight, 4, func(i int) { none.pose(float64(i)) })
	require.Nil(t, none.filmInset(none.film(none.insetSamples(9), func(i int) { none.pose(float64(i)) })))
	c := insetCurve{Picture: &Picture{}, scale: 0.005, least: -1, most: 1}
	var times, values []float64
	for i := range 100_000 {
		times, values = append(times, float64(i)*0.6), append(values, float64(i*7919%201)/100-1)
	}
	require.LessOrEqual(t, len(c.thinned(times, values)), 4*301)
}
