package lint

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func spin() *Rule {
	return &Rule{
		Name: "spin", Group: MotionGroup, Level: Error,
		Limits: []grammar.Limit{{Value: 180, Unit: "deg"}},
		Doc: Doc{
			Reports: "A joint that turns by more than 180° from one key to the next.",
			Why:     "In the sheet it goes the long way round; whoever stores turns as quaternions, as glTF does, goes the short way, the other way round. And mostly it is a slip: 190 where -170 was meant.",
			Decides: "The difference of neighbouring keys, round the seam too, times the largest gain with which the channel turns a joint. A value that stays until the next key (`=`) turns nowhere. The limit is where the short way changes sides: glTF 2.0 interpolates turns along the shortest way.",
			Allow:   "Never for a clip that is handed on; write a real turn on the spot with a key every half turn or closer.",
			Mends:   "Writes the same turn the short way, where both neighbours are then within reach.",
			Bad:     "track head\n  at      turn\n  0b      -30\n  1b      -60\n  2b      170\n  3b      -60\n\nhouse\n  rule            level\n  out-of-range    off\n",
			Good:    "track head\n  at      turn\n  0b      -30\n  1b      -60\n  2b      -40\n  3b      -60\n",
		},
		Check: checkSpin,
	}
}

func checkSpin(p *Pass) {
	strands := p.Strands()
	for i := range strands {
		s := &strands[i]
		if gain := turnGain(s.Channel.Dial); gain > 0 {
			p.spins(s, gain)
		}
	}
}

// turnGain is the largest gain with which a channel turns a joint, 0 where it turns none.
func turnGain(dial *motion.Dial) (gain float64) {
	for i := range dial.Drives {
		if d := &dial.Drives[i]; d.Kind == motion.DrivesTurn {
			gain = max(gain, math.Abs(d.Gain))
		}
	}
	return gain
}

func (p *Pass) spins(s *Strand, gain float64) {
	least, most := keyedSpan(s.Keys)
	if s.Channel.Dial.Unit != "deg" || (most-least+math.Abs(s.Curve.Extent().Gain))*gain <= p.Limit("deg") {
		return
	}
	for _, segment := range s.Curve.Segments() {
		by := (segment.Value1 - segment.Value0) * gain
		if segment.Kind == motion.Held || math.Abs(by) <= p.Limit("deg")+1e-6 {
			continue
		}
		k := s.keyAt(segment.Start + segment.Duration)
		finding := p.Report(s.Keys[k].At, "%s goes from %s to %s within %s, so the joint turns by %s°; turn the short way, or write a key between", s.Name(), value(s.Channel, rounded(segment.Value0, 3)), value(s.Channel, rounded(segment.Value1, 3)), duration(p.Motion.Sheet, near(segment.Duration)), number(rounded(math.Abs(by), 1)))
		finding.Mends = p.theShortWay(s, k, gain)
	}
}

// keyedSpan is the least and the greatest value of some keys.
func keyedSpan(keys []motion.Key) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for i := range keys {
		least, most = min(least, keys[i].Value), max(most, keys[i].Value)
	}
	return least, most
}

// keyAt is the key of a curve that stands at a time in frames, in any round; the last before it where none does.
func (s *Strand) keyAt(frames float64) int {
	const rounding = 1e-6
	last := len(s.Keys) - 1
	if period := s.Period.Float(); s.Closed() && frames > s.Keys[last].Time.Float()+rounding && frames > period-rounding {
		frames -= period
	}
	found := 0
	for i := range s.Keys {
		if s.Keys[i].Time.Float() <= frames+rounding {
			found = i
		}
	}
	return found
}

// near is a time in frames to a hundredth, for reports.
func near(frames float64) grammar.Rat { return grammar.NewRat(int64(math.Round(frames*100)), 100) }

// theShortWay offers the turn that is the same one from the other side, for a key of the sheet's own that stands alone: not at
// the seam, not changed by a `change`.
func (p *Pass) theShortWay(s *Strand, k int, gain float64) []motion.Mend {
	key := s.Keys[k]
	if k == 0 || k+1 >= len(s.Keys) || key.At.Path() != p.Motion.File.Path || key.From != motion.FromTrack || key.At.Block.Kind != grammar.TrackBlock || len(key.Changes) > 0 {
		return nil
	}
	if slices.ContainsFunc(s.Keys, func(other motion.Key) bool { return other.At == key.At && other.Time != key.Time }) {
		return nil // an `every`
	}
	round := 360 / gain
	v := key.Value - round*math.Round((key.Value-s.Keys[k-1].Value)/round)
	if math.Abs(v-s.Keys[k+1].Value)*gain > p.Limit("deg") || len(s.Channel.Dial.Drives) > 1 {
		return nil
	}
	return []motion.Mend{copyNumber("turn the short way, to "+number(v), &key, v)}
}
