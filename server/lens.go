package server

import (
	"context"
	"fmt"
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// lenses tell above a sheet how long it is, how many keys it has a second and whether its seam closes, and above a track
// how many keys it has and how dense they are.
func (s *session) lenses(_ context.Context, snap snapshot, _ *protocol.CodeLensParams) (any, error) {
	out := []protocol.CodeLens{}
	m := snap.motion()
	if !m.Whole() {
		return out, nil
	}
	for _, b := range snap.tree().Blocks {
		title := ""
		switch {
		case b.Kind == grammar.SheetBlock && b == m.Sheet.Block:
			title = sheetLens(m)
		case b.Kind == grammar.TrackBlock:
			title = trackLens(m, b)
		}
		if title != "" {
			out = append(out, protocol.CodeLens{
				Range: snap.rangeOfRef(b.RefLine(b.Open)), Command: protocol.Command{Title: title},
			})
		}
	}
	return out, nil
}

func sheetLens(m *motion.Motion) string {
	s := m.Sheet
	title := fmt.Sprintf("%s · %s · %s keys a second", seconds(s, s.Length), several(s.Length, "frame"),
		figure(float64(m.KeyCount())/s.Seconds(s.Length).Float(), 1))
	if !s.Closed {
		return title
	}
	// Half of the last digit that is shown is no gap.
	worst, gap := m.WorstSeam(func(string) float64 { return 1 })
	if worst == nil || math.Abs(gap) < 5e-4 {
		return title + " · the seam closes"
	}
	return title + " · the seam gapes " + measured(math.Abs(gap), worst.Dial.Unit) + " in " + worst.Dial.Path
}

func trackLens(m *motion.Motion, b *grammar.Block) string {
	control, layer, ok := trackOf(b)
	if !ok {
		return ""
	}
	all, most, of := 0, 0, ""
	var period grammar.Rat
	for _, i := range m.Rig.ControlChannels(control) {
		strand := strandOf(&m.Channels[i], layer)
		if strand == nil {
			continue
		}
		count, keys := densest(m.Sheet, strand, b)
		if all += keys; most < count {
			most, of = count, m.Channels[i].Dial.Name
		}
		if 0 < keys {
			period = strand.Period
		}
	}
	if all == 0 || period.Sign() <= 0 {
		return ""
	}
	return fmt.Sprintf("%s · %s a second · busiest second: %d of `%s`", several(grammar.Whole(int64(all)), "key"),
		figure(float64(all)/m.Sheet.Seconds(period).Float(), 1), most, of)
}
