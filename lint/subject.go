package lint

import (
	"context"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// subject is what the rules of one check share, worked out when a rule first asks.
type subject struct {
	ctx     context.Context // ends when nobody waits for the check any more
	once    bool            // no later check begins where this one ends
	now     *Memory         // what was found out so far
	before  *Memory         // what the check before found out; empty where there was none
	motion  *motion.Motion
	rules   []*Rule // all that there are, whichever are asked for
	doubts  map[*grammar.Block]bool
	strands []Strand
	ready   bool            // strands are worked out
	whole   *bool           // what certain says
	byFrame *motion.Sampled // the motion frame by frame
	lively  []float64       // what liveliness says of it
	obvious []float64       // as much of that as mayRest looks at
	reached []reach         // what reaches says
	voices  []*voiceFacts   // channel by channel; nil where nobody asked
	turners map[int][]int   // the channels that turn each joint, for turnersWith
	keyed   []keyed         // channel by channel, what keyedFrom says from 0 on; without values where nobody asked

	walks       *bool // what steps says
	spareLimits *Rule // spare-key as it is in force, nil until asked for
}

// certain tells whether the motion says all that it means to, as [certain] does of any.
func (s *subject) certain() bool {
	if s.whole == nil {
		whole := certain(s.motion)
		s.whole = &whole
	}
	return *s.whole
}

// Sampled is the whole figure frame by frame, worked out once for all rules that ask; nil where the motion is not certain,
// or its rig has no joints. See [certain].
func (s *subject) Sampled() *motion.Sampled {
	if s.byFrame == nil && s.certain() && len(s.motion.Rig.Joints) > 0 {
		s.byFrame = s.motion.SampledAgain(s.before.byFrame)
	}
	return s.byFrame
}

// Strand is one channel's curve in one layer: what the rules about motion judge.
type Strand struct {
	*motion.Strand
	Channel *motion.Channel
	Layer   string // empty for the base

	spare *[]int      // what spareOf says, nil until asked
	facts *curveFacts // nil until asked
}

// Name says which curve it is.
func (s *Strand) Name() string { return s.Channel.Dial.Path + inLayer(s.Layer) }

// Strands gives the curves that can be judged: all those whose keys come from blocks without an error, so that one
// mistake is one report. There are none while the sheet's own lines are broken.
func (s *subject) Strands() []Strand {
	if s.ready {
		return s.strands
	}
	s.ready = true
	if !s.motion.Whole() {
		return nil
	}
	s.doubts = doubtful(s.motion)
	for m := s.motion; m != nil; m = m.Base {
		if s.doubts[m.Sheet.Block] {
			return nil
		}
	}
	s.strands = make([]Strand, 0, len(s.motion.Channels))
	for i := range s.motion.Channels {
		c := &s.motion.Channels[i]
		for layer, strand := range c.Strands() {
			if !restsOn(strand, s.doubts) {
				s.strands = append(s.strands, Strand{Strand: strand, Channel: c, Layer: layer})
			}
		}
	}
	return s.strands
}

// restsOn tells whether a curve rests on what is in doubt.
func restsOn(s *motion.Strand, doubts map[*grammar.Block]bool) bool {
	return len(doubts) > 0 && slices.ContainsFunc(s.Keys, func(k motion.Key) bool { return doubts[k.At.Block] || doubts[k.Pose.Block] })
}

// doubtful gives the blocks that do not say all that they mean to: those with a line that does not parse, and those in
// which resolving found an error.
func doubtful(m *motion.Motion) map[*grammar.Block]bool {
	doubts := map[*grammar.Block]bool{}
	for ; m != nil; m = m.Base {
		for _, b := range m.File.Blocks {
			for i := 0; i < len(b.Lines) && !b.Plain; i++ { // lines are large, and not to be copied
				if spoils(b, &b.Lines[i]) {
					doubts[b] = true
					break
				}
			}
		}
		for i := range m.Problems {
			if m.Problems[i].Rule != "lost-channel" { // the only one that is no error
				doubts[m.Problems[i].At.Block] = true
			}
		}
	}
	return doubts
}

// spoils tells whether a line is missing from the motion that its block means. Some lines of the sheet have no part in
// it.
func spoils(b *grammar.Block, l *grammar.Line) bool {
	if l.Kind != grammar.BadLine && l.Kind != grammar.MutedLine {
		return false
	}
	word := l.FirstWord()
	return b.Kind != grammar.SheetBlock || !slices.Contains([]string{"view", "phase", "leaves", "rejoins"}, word)
}

// allOver tells whether so many curves have one fault that it is one fact about the whole clip, such as how it was read
// in, and to be reported once.
func allOver(faulty, curves int) bool {
	const several, share = 5, 0.1
	return faulty >= several && float64(faulty) >= share*float64(curves)
}

// inForce is another rule than the one that asks, with the limits that the house sets for it.
func (s *subject) inForce(name string) *Rule {
	return settle(s.motion, []*Rule{ruleNamed(s.rules, name)})[0].Rule
}
