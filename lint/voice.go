package lint

import (
	"iter"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// voiceFacts are about a channel as it plays: see [motion.Voice].
type voiceFacts struct {
	ends     fact[struct{}, [2]float64]         // the least and the greatest value on a frame
	extremes fact[struct{}, [2]motion.Extremum] // the least and the greatest value
	keyed    fact[struct{}, keyed]              // what keyedFrom says from 0 on, without the channel
	paces    fact[pacesTerms, []motion.Pace]
	seeming  fact[popTerms, []popped]
	pops     fact[popsTerms, []popped]
	spectrum fact[int, *motion.Spectrum] // by the number of samples
	lead     fact[leadTerms, leadFound]
}

// voiceFacts gives the facts about a channel as it plays.
func (s *subject) voiceFacts(c *motion.Channel) *voiceFacts {
	if s.once {
		return &noVoice
	}
	if s.voices == nil {
		s.voices = make([]*voiceFacts, len(s.motion.Channels))
	}
	known := &s.voices[c.Index]
	if *known == nil {
		*known = carried(s.now.voices, s.before.voices, c.Voice)
	}
	return *known
}

// pacesTerms are how even the ways must be able to be that are asked for, and how many frames they must take.
type pacesTerms struct{ evenness, frames float64 }

// evenPaces gives a channel's ways from turn to turn where one may be so even and take so long, and none where it can't.
func (s *subject) evenPaces(c *motion.Channel, evenness, frames float64) []motion.Pace {
	return recall(s, &s.voiceFacts(c).paces, pacesTerms{evenness, frames}, func() []motion.Pace {
		if sampled := s.Sampled(); sampled != nil && !sampled.MayGoEvenly(c.Index, evenness, frames) {
			return nil
		}
		return s.motion.Paces(c.Index)
	})
}

// popTerms are what it goes by where a channel seems to pop.
type popTerms struct {
	samples     int
	limit, over float64
}

// popsTerms are what a channel's pops go by: that, and the other channels that turn the joint.
type popsTerms struct {
	popTerms
	turners []*motion.Voice
}

func (t popsTerms) same(o popsTerms) bool {
	return t.popTerms == o.popTerms && slices.Equal(t.turners, o.turners)
}

// popsAgain finds the pops of one channel.
func (p *Pass) popsAgain(s *motion.Sampled, c *motion.Channel) []popped {
	facts, terms := p.voiceFacts(c), popTerms{s.Count, p.Limit(c.Dial.Unit), p.Limit("x")}
	seeming := recall(p.subject, &facts.seeming, terms, func() []popped { return p.seemToPop(s, c) })
	if len(seeming) == 0 {
		return nil
	}
	all := popsTerms{popTerms: terms}
	for _, i := range p.turnersWith(c) {
		all.turners = append(all.turners, p.Motion.Channels[i].Voice)
	}
	pops := recallBy(p.subject, &facts.pops, all, popsTerms.same, func() []popped {
		found := p.popsOf(s, c, seeming)
		for i := range found {
			found[i].channel = nil // it belongs to this motion, and the others stay good for the next
		}
		return found
	})
	out := make([]popped, len(pops))
	for i := range pops {
		out[i] = pops[i]
		out[i].channel = c
	}
	return out
}

// turnersWith gives the other channels that move and turn a joint which a channel turns.
func (s *subject) turnersWith(c *motion.Channel) (out []int) {
	if s.turners == nil {
		s.turners = map[int][]int{}
		for i := range s.motion.Channels {
			if !s.motion.Channels[i].Moves() {
				continue
			}
			for joint := range turned(s.motion.Channels[i].Dial) {
				s.turners[joint] = append(s.turners[joint], i)
			}
		}
	}
	for joint := range turned(c.Dial) {
		for _, i := range s.turners[joint] {
			if i != c.Index && !slices.Contains(out, i) {
				out = append(out, i)
			}
		}
	}
	return out
}

// turned gives the joints that a dial turns; one more than once where it has several lines for it.
func turned(d *motion.Dial) iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := range d.Drives {
			if drive := &d.Drives[i]; drive.Kind == motion.DrivesTurn && drive.Joint >= 0 && !yield(drive.Joint) {
				return
			}
		}
	}
}

// spectrum gives a channel's harmonics as it plays.
func (s *subject) spectrum(sampled *motion.Sampled, correlator *motion.Correlator, c *motion.Channel) *motion.Spectrum {
	return recall(s, &s.voiceFacts(c).spectrum, sampled.Count, func() *motion.Spectrum {
		return correlator.Spectrum(sampled.Channel(c.Index))
	})
}

// swayAsked is a joint that hangs on nothing, and the axis on which its sway is asked for.
type swayAsked struct{ joint, axis int }

// swayTerms are what the sway goes by: the channels that move the joint on the axis, and the least way that counts.
type swayTerms struct {
	samples int
	leastCm float64
	movers  []*motion.Voice
}

func (t swayTerms) same(o swayTerms) bool {
	return t.samples == o.samples && t.leastCm == o.leastCm && slices.Equal(t.movers, o.movers)
}

// swayOf measures how a joint sways on one axis.
func (s *subject) swayOf(sampled *motion.Sampled, joint, axis int, leastCm float64) sway {
	work := func() sway { return measureSway(sampled, joint, axis, leastCm) }
	if s.motion.Rig.Joints[joint].Parent >= 0 {
		return work()
	}
	terms := swayTerms{samples: sampled.Count, leastCm: leastCm}
	for i := range s.motion.Channels {
		c := &s.motion.Channels[i]
		moves := func(d motion.Drive) bool { return d.Joint == joint && d.Kind == motion.DrivesMove && d.Axes[axis] }
		if !c.Moves() || !slices.ContainsFunc(c.Dial.Drives, moves) {
			continue
		}
		terms.movers = append(terms.movers, c.Voice)
	}
	return recallBy(s, carried(s.now.sways, s.before.sways, swayAsked{joint, axis}), terms, swayTerms.same, work)
}

// leadTerms are what a channel's lead goes by: the channels of the root, and the limits.
type leadTerms struct {
	weight   []*motion.Voice
	samples  int
	alike    float64 // limits: how alike the two must be,
	frames   float64 // how early is enough,
	farthest float64 // and how far off they may be at most, in seconds
}

func (t leadTerms) same(o leadTerms) bool {
	return t.samples == o.samples && t.alike == o.alike && t.frames == o.frames && t.farthest == o.farthest && slices.Equal(t.weight, o.weight)
}

// leadFound is a lead without its motion's channels.
type leadFound struct {
	frames, like float64
	weight       int // index into the channels of the root
	ok           bool
}

// leadAgain is how early a channel is against the root, as leadOf.
func (p *Pass) leadAgain(s *motion.Sampled, correlator *motion.Correlator, c *motion.Channel, weight []mover) (lead, bool) {
	terms := leadTerms{make([]*motion.Voice, len(weight)), s.Count, p.Limit(""), p.Limit("f"), p.Limit("s")}
	for i := range weight {
		terms.weight[i] = weight[i].Channel.Voice
	}
	found := recallBy(p.subject, &p.voiceFacts(c).lead, terms, leadTerms.same, func() leadFound {
		best, ok := p.leadOf(s, correlator, c, weight)
		out := leadFound{frames: best.frames, like: best.like, ok: ok}
		for i := range weight {
			if weight[i].Channel == best.weight {
				out.weight = i
			}
		}
		return out
	})
	if !found.ok {
		return lead{}, false
	}
	return lead{c, weight[found.weight].Channel, found.frames, found.like}, true
}
