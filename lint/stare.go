package lint

import (
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func stare() *Rule {
	return &Rule{
		Name: "stare", Group: MotionGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 6, Unit: "s"}},
		Doc: Doc{
			Reports: "Eyes and lids that stay still for too long.",
			Why:     "Nothing looks as dead as eyes that neither blink nor look elsewhere, however well the body moves.",
			Decides: "The first stretch, round the seam too, in which no channel of an eye or of a lid, or of a morph target called after eyes, lids or a blink, moves by 20 % of its range (of 60° where the rig gives none) for 6 s or more (common practice: people at rest blink every three to six seconds). A sheet that lasts no more than that is not judged, since a short cycle is often made for a face that something else moves.",
			Allow:   "When the eyes are moved where the clip is played, or the figure sleeps.",
			Bad:     "sheet example\n  rig       small in \"small.motet\"\n  tempo     80 bpm\n  cycle     12b\n\ntrack eyes\n  at      side\n  0b      2\n  6b      -2\n",
			Good:    "sheet example\n  rig       small in \"small.motet\"\n  tempo     80 bpm\n  cycle     12b\n\ntrack eyes\n  at      side\n  0b      2\n  3b      -14\n  6b      9\n  9b      -6\n",
		},
		Check: checkStare,
	}
}

// still is a stretch of time in which no eye and no lid moves, in frames; it has no end in a cycle without any move.
type still struct{ from, to float64 }

func checkStare(p *Pass) {
	if !p.certain() {
		return
	}
	eyes := eyeChannels(p.Motion)
	stretch, moves, stares := p.staring(p.Motion, eyes)
	if !stares {
		return
	}
	if base := p.Motion.Base; base != nil && certain(base) {
		if _, _, before := p.staring(base, eyeChannels(base)); before {
			return // the base's own business
		}
	}
	s := p.Motion.Sheet
	at := s.Block.RefLine(s.Block.Open)
	if moves >= 0 {
		if moved := p.movedBy(&p.Motion.Channels[moves], stretch.from); moved.Path() == p.Motion.File.Path {
			at = moved
		}
	}
	switch {
	case math.IsInf(stretch.to, 1) && moves < 0:
		p.Report(at, "neither eyes nor lids move, and the sheet lasts %s s; let them blink or look elsewhere, once in %s s", number(rounded(s.Seconds(s.Length).Float(), 2)), number(p.Limit("s")))
	case math.IsInf(stretch.to, 1):
		p.Report(at, "eyes and lids never move by a fifth of their range; let them blink or look elsewhere, once in %s s", number(p.Limit("s")))
	default:
		frames := near(stretch.to - stretch.from)
		p.Report(at, "eyes and lids stay as they are for %s, from %s on; let them blink or look elsewhere, once in %s s", duration(s, frames), moment(s, near(math.Mod(stretch.from, s.Length.Float()))), number(p.Limit("s")))
	}
}

// eyeChannels are the channels that move eyes and lids.
func eyeChannels(m *motion.Motion) (out []int) {
	for i := range m.Channels {
		for _, d := range m.Channels[i].Dial.Drives {
			if d.Joint < 0 {
				continue
			}
			if part := m.Rig.Joints[d.Joint].Part; part == motion.PartEye || part == motion.PartLid {
				out = append(out, i)
				break
			}
		}
		if n := len(out); (n == 0 || out[n-1] != i) && shapesEyes(m, m.Channels[i].Dial) {
			out = append(out, i)
		}
	}
	return out
}

// shapesEyes tells whether a channel blends in a morph target that is called after eyes, lids or a blink.
func shapesEyes(m *motion.Motion, dial *motion.Dial) bool {
	for _, d := range dial.Morphs {
		name := strings.ToLower(m.Rig.Morphs[d.Target].Target.Name)
		if strings.Contains(name, "brow") {
			continue
		}
		for _, word := range []string{"eye", "blink", "lid"} {
			if strings.Contains(name, word) {
				return true
			}
		}
	}
	return false
}

// staring finds the first stretch that is too long, to its end, and a channel that moves at all, or -1.
func (p *Pass) staring(m *motion.Motion, eyes []int) (stretch still, moves int, stares bool) {
	moves = -1
	for _, i := range eyes {
		if m.Channels[i].Moves() && moves < 0 {
			moves = i
		}
	}
	seconds := m.Sheet.Seconds(m.Sheet.Length).Float()
	if len(eyes) == 0 || seconds <= p.Limit("s")+1e-9 {
		return stretch, moves, false
	}
	if moves < 0 {
		return still{0, math.Inf(1)}, moves, true
	}
	signals, shares := eyeSignals(m, eyes)
	n := len(signals[0])
	long := int(math.Ceil(p.Limit("s")*m.Sheet.Rate.Float() - 1e-9))
	for from := range n {
		steps := stillFor(signals, shares, from, m.Sheet.Closed)
		switch {
		case m.Sheet.Closed && steps >= n:
			return still{0, math.Inf(1)}, moves, true
		case steps >= long:
			return still{float64(from), float64(from + steps)}, moves, true
		}
	}
	return stretch, moves, false
}

// eyeSignals are the values of channels frame by frame, and by how much each must move to count.
func eyeSignals(m *motion.Motion, eyes []int) (signals [][]float64, shares []float64) {
	n := int(max(1, m.Sheet.Length.Round()))
	if !m.Sheet.Closed {
		n++
	}
	for _, i := range eyes {
		c := &m.Channels[i]
		if !c.Moves() {
			continue
		}
		values := make([]float64, n)
		for k := range values {
			values[k] = c.At(float64(k))
		}
		whole := 60.0
		if c.Dial.HasRange {
			whole = c.Dial.Range[1] - c.Dial.Range[0]
		}
		signals, shares = append(signals, values), append(shares, 0.2*whole)
	}
	return signals, shares
}

// stillFor is for how many frames from one on no signal moves by its share; at most two rounds, and to the end of a span.
func stillFor(signals [][]float64, shares []float64, from int, closed bool) int {
	n := len(signals[0])
	end := n - 1
	if closed {
		end = from + 2*n
	}
	shortest := end - from
	for i, signal := range signals {
		low, high := signal[from], signal[from]
		for k := from + 1; k <= from+shortest; k++ {
			v := signal[k%n]
			low, high = min(low, v), max(high, v)
			if high-low >= shares[i] {
				shortest = k - from - 1
			}
		}
	}
	return shortest
}
