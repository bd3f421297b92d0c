package lint

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

// slopeMend is one way to give both ends of a cycle one slope: the marks of the first and of the closing key, empty for
// none.
type slopeMend struct {
	title          string
	first, closing string
	change         float64
}

// oneSlope offers ways to take the kink out of a curve's seam, those that change the curve least first. Each is tried on
// the curve itself, and only what brings the jump under the limit, in units a frame, is offered.
func (p *Pass) oneSlope(s *Strand, limit float64) []motion.Mend {
	last := len(s.Keys) - 1
	first, closing := &s.Keys[0], &s.Keys[last]
	if !p.writable(first) || s.Closes(last) && !p.writable(closing) {
		return nil
	}
	var out []motion.Mend
	tried := p.slopeMends(s)
	for i := range tried {
		curve := p.withMarks(s, tried[i].first, tried[i].closing)
		tried[i].change, _ = motion.MaxDifference(s.Curve, curve)
		if math.Abs(curve.SeamCorner()) > limit {
			tried[i].change = math.Inf(1)
		}
	}
	least, most := s.Curve.Range()
	small := (most - least) / 10 // more than that is another motion
	slices.SortStableFunc(tried, func(a, b slopeMend) int { return cmp.Compare(a.change, b.change) })
	for _, t := range tried {
		if math.IsInf(t.change, 1) {
			break
		}
		edits := markEdits(first, t.first)
		if s.Closes(last) {
			edits = append(edits, markEdits(closing, t.closing)...)
		}
		if len(edits) > 0 && !slices.ContainsFunc(out, func(m motion.Mend) bool { return slices.Equal(m.Edits, edits) }) {
			out = append(out, motion.Mend{Title: t.title, Edits: edits, Safe: len(out) == 0 && t.change <= small})
		}
	}
	return out
}

// writable tells whether a key is one cell of this file.
func (p *Pass) writable(k *motion.Key) bool {
	return k.From == motion.FromTrack && k.At.Path() == p.Motion.File.Path
}

func (p *Pass) slopeMends(s *Strand) []slopeMend {
	last := len(s.Keys) - 1
	first, closing := markOf(&s.Keys[0]), markOf(&s.Keys[last])
	arrives, leaves := p.slopeMark(s.Curve.Arrive().Slope), p.slopeMark(s.Curve.Leave().Slope)
	mends := []slopeMend{{title: "smooth the curve round the seam"}}
	if !s.Closes(last) {
		return append(mends, slopeMend{title: "leave the seam as the curve arrives", first: arrives})
	}
	shared := func(title, slope string) {
		mends = append(mends,
			slopeMend{title: title, first: slope, closing: either(closing != "", slope)},
			slopeMend{title: title, first: either(first != "", slope), closing: slope},
			slopeMend{title: title, first: first, closing: slope},
			slopeMend{title: title, first: slope, closing: closing})
	}
	shared("leave the seam as the curve arrives", arrives)
	shared("arrive at the seam as the curve leaves", leaves)
	if first == "^" || closing == "^" {
		shared("rest at the seam", "^")
	}
	return mends
}

func either(marked bool, slope string) string {
	if marked {
		return slope
	}
	return ""
}

// slopeMark writes a slope of units a frame as a mark in units a beat.
func (p *Pass) slopeMark(perFrame float64) string {
	perBeat := rounded(perFrame*p.Motion.Sheet.Beat.Float(), 3)
	if perBeat == 0 {
		return "^"
	}
	return "@" + strconv.FormatFloat(perBeat, 'f', -1, 64)
}

// markOf is the shape mark that a key's cell has, empty for none.
func markOf(k *motion.Key) string {
	text := k.At.Text()
	if at := strings.IndexAny(text, "~^>=@"); at >= 0 {
		return text[at:]
	}
	return ""
}

func markEdits(k *motion.Key, mark string) []motion.Edit {
	if mark == markOf(k) {
		return nil
	}
	text := strings.TrimSuffix(k.At.Text(), markOf(k))
	return []motion.Edit{writeCell(k.At.Block, k.At.Line, k.At.Span, text+mark)}
}

// withMarks is the curve with other marks on its first and its closing key.
func (p *Pass) withMarks(s *Strand, first, closing string) *motion.Curve {
	knots := slices.Clone(s.Curve.Knots())
	p.mark(&knots[0], &s.Keys[0], first)
	if last := len(knots) - 1; s.Closes(last) {
		p.mark(&knots[last], &s.Keys[last], closing)
	}
	return motion.NewCurve(knots, s.Curve.Extent())
}

// mark gives a knot another mark: none, `^`, or `@` with one slope. Any other mark is the key's own, and stays.
func (p *Pass) mark(knot *motion.Knot, key *motion.Key, mark string) {
	if mark == markOf(key) {
		return
	}
	knot.Marked, knot.Shape = mark != "", motion.Smooth
	if mark == "^" {
		knot.Shape = motion.Rest
	} else if mark != "" {
		perBeat, _ := strconv.ParseFloat(mark[1:], 64)
		slope := perBeat / p.Motion.Sheet.Beat.Float()
		knot.Shape, knot.SlopeIn, knot.SlopeOut = motion.Sloped, slope, slope
	}
}
