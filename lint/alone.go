package lint

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// alone is all that decides how a channel plays that only its own base curve moves: no layer, quiver, breath or leader.
// What is worked out from such a channel as it plays is remembered under it.
type alone struct {
	strand       *motion.Strand
	late         grammar.Rat // frames
	dial         *motion.Dial
	length, rate grammar.Rat // of the sheet
	closed       bool
	gain         float64 // a round
}

// alone is false for a channel that something else moves too.
func (s *subject) alone(c *motion.Channel) (alone, bool) {
	sheet := s.motion.Sheet
	if c.Base == nil || len(c.Follows)+len(c.Waves)+len(c.Layers) > 0 || len(s.motion.Layers) > 0 {
		return alone{}, false
	}
	return alone{c.Base, c.Late, c.Dial, sheet.Length, sheet.Rate, sheet.Closed, sheet.Advance[c.Dial.Path]}, true
}

// behind is a channel that plays alone, behind others that count with it.
type behind struct {
	before any
	alone  alone
}

// pacesAsked is a channel of which the ways are asked for that may be as even, and take as many frames.
type pacesAsked struct {
	alone            alone
	evenness, frames float64
}

// evenPaces gives a channel's ways from turn to turn where one may be so even and take so long, and none where it can't.
func (s *subject) evenPaces(c *motion.Channel, evenness, frames float64) []motion.Pace {
	work := func() []motion.Pace {
		if sampled := s.Sampled(); sampled != nil && !sampled.MayGoEvenly(c.Index, evenness, frames) {
			return nil
		}
		return s.motion.Paces(c.Index)
	}
	if asked, ok := s.alone(c); ok && !s.once {
		return remembered(s, pacesAsked{asked, evenness, frames}, work)
	}
	return work()
}

// popsAsked is what a channel's pops rest on: itself, the channels that turn the same joint, and the limits.
type popsAsked struct {
	alone       alone
	turners     any // one behind link behind the other
	samples     int
	limit, over float64
}

// popsAgain finds the pops of one channel.
func (p *Pass) popsAgain(s *motion.Sampled, c *motion.Channel) []popped {
	if p.once {
		return p.popsOf(s, c)
	}
	asked, ok := p.popsAsked(s, c)
	if !ok {
		return p.popsOf(s, c)
	}
	pops := remembered(p.subject, asked, func() []popped {
		found := p.popsOf(s, c)
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

func (p *Pass) popsAsked(s *motion.Sampled, c *motion.Channel) (asked popsAsked, ok bool) {
	asked = popsAsked{samples: s.Count, limit: p.Limit(c.Dial.Unit), over: p.Limit("x")}
	if asked.alone, ok = p.alone(c); !ok {
		return asked, false
	}
	for i := range p.Motion.Channels {
		other := &p.Motion.Channels[i]
		if other == c || !turnsTogether(other.Dial, c.Dial) || !other.Moves() {
			continue
		}
		turner, ok := p.alone(other)
		if !ok {
			return asked, false
		}
		asked.turners = behind{asked.turners, turner}
	}
	return asked, true
}

// turnsTogether tells whether two channels turn one joint.
func turnsTogether(a, b *motion.Dial) bool {
	for i := range a.Drives {
		for k := range b.Drives {
			one, other := &a.Drives[i], &b.Drives[k]
			if one.Kind == motion.DrivesTurn && other.Kind == motion.DrivesTurn && one.Joint >= 0 && one.Joint == other.Joint {
				return true
			}
		}
	}
	return false
}

// spectrumAsked is a channel that is asked for its harmonics.
type spectrumAsked struct {
	alone   alone
	samples int
}

// spectrum gives a channel's harmonics as it plays.
func (s *subject) spectrum(sampled *motion.Sampled, correlator *motion.Correlator, c *motion.Channel) *motion.Spectrum {
	work := func() *motion.Spectrum { return correlator.Spectrum(sampled.Channel(c.Index)) }
	if asked, ok := s.alone(c); ok && !s.once {
		return remembered(s, spectrumAsked{asked, sampled.Count}, work)
	}
	return work()
}

// swayAsked is the place of a joint that hangs on nothing, on one axis, whose sway is asked for.
type swayAsked struct {
	joint, axis, samples int
	leastCm              float64
	movers               any // one behind link behind the other
}

// swayOf measures how a joint sways on one axis.
func (s *subject) swayOf(sampled *motion.Sampled, joint, axis int, leastCm float64) sway {
	work := func() sway { return measureSway(sampled, joint, axis, leastCm) }
	asked := swayAsked{joint: joint, axis: axis, samples: sampled.Count, leastCm: leastCm}
	if s.once || s.motion.Rig.Joints[joint].Parent >= 0 {
		return work()
	}
	for i := range s.motion.Channels {
		c := &s.motion.Channels[i]
		moves := func(d motion.Drive) bool { return d.Joint == joint && d.Kind == motion.DrivesMove && d.Axes[axis] }
		if !c.Moves() || !slices.ContainsFunc(c.Dial.Drives, moves) {
			continue
		}
		mover, ok := s.alone(c)
		if !ok {
			return work()
		}
		asked.movers = behind{asked.movers, mover}
	}
	return remembered(s, asked, work)
}

// leadAsked is what a channel's lead rests on: itself, the channels of the root, and the limit.
type leadAsked struct {
	alone   alone
	weight  any // one behind link behind the other
	samples int
	least   float64
	enough  float64
}

// leadFound is a lead without its motion's channels.
type leadFound struct {
	frames, like float64
	weight       int // index into the channels of the root
	ok           bool
}

// leadAgain is how early a channel is against the root, as leadOf.
func (p *Pass) leadAgain(s *motion.Sampled, correlator *motion.Correlator, c *motion.Channel, weight []mover) (lead, bool) {
	if p.once {
		return p.leadOf(s, correlator, c, weight)
	}
	asked := leadAsked{samples: s.Count, least: p.Limit(""), enough: p.Limit("f")}
	var ok bool
	if asked.alone, ok = p.alone(c); !ok {
		return p.leadOf(s, correlator, c, weight)
	}
	for i := range weight {
		root, ok := p.alone(weight[i].Channel)
		if !ok {
			return p.leadOf(s, correlator, c, weight)
		}
		asked.weight = behind{asked.weight, root}
	}
	found := remembered(p.subject, asked, func() leadFound {
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
