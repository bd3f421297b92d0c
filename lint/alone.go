package lint

import (
	"iter"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// alone stands for all that decides how a channel plays that only its own base curve moves: no layer, quiver, breath or
// leader. What is worked out from such a channel as it plays is remembered under its address, which is the same from check to
// check while all of that is the same.
type alone struct{ _ byte }

// aloneAsked is all that. The curve stands for its keys too, but for their places: see [motion.Strand].
type aloneAsked struct {
	curve              *motion.Curve
	dial               *motion.Dial
	late, length, rate grammar.Rat // the channel's in frames, and the sheet's
	closed             word
	gain               word // a round
}

// alone is nil for a channel that something else moves too.
func (s *subject) alone(c *motion.Channel) *alone {
	if !s.playsAlone(c) {
		return nil
	}
	if s.alones == nil {
		s.alones = make([]*alone, len(s.motion.Channels))
	}
	known := &s.alones[c.Index]
	if *known == nil {
		sheet := s.motion.Sheet
		asked := aloneAsked{c.Base.Curve, c.Dial, c.Late, sheet.Length, sheet.Rate, truth(sheet.Closed), number64(sheet.Advance[c.Dial.Path])}
		*known = remembered(s, asked, func() *alone { return new(alone) })
	}
	return *known
}

func (s *subject) playsAlone(c *motion.Channel) bool {
	return c.Base != nil && len(c.Follows)+len(c.Waves)+len(c.Layers)+len(s.motion.Layers) == 0
}

// behind is a channel that plays alone, behind others that count with it. It too has one address from check to check.
type behind struct {
	before *behind
	alone  *alone
}

// linked puts a channel behind others; it is nil where the channel does not play alone.
func (s *subject) linked(before *behind, c *motion.Channel) *behind {
	alone := s.alone(c)
	if alone == nil {
		return nil
	}
	asked := behind{before, alone}
	return remembered(s, asked, func() *behind { return &asked })
}

// pacesAsked is a channel of which the ways are asked for that may be as even, and take as many frames.
type pacesAsked struct {
	alone            *alone
	evenness, frames word
}

// evenPaces gives a channel's ways from turn to turn where one may be so even and take so long, and none where it can't.
func (s *subject) evenPaces(c *motion.Channel, evenness, frames float64) []motion.Pace {
	work := func() []motion.Pace {
		if sampled := s.Sampled(); sampled != nil && !sampled.MayGoEvenly(c.Index, evenness, frames) {
			return nil
		}
		return s.motion.Paces(c.Index)
	}
	if s.once || !s.playsAlone(c) {
		return work()
	}
	return remembered(s, pacesAsked{s.alone(c), number64(evenness), number64(frames)}, work)
}

// seemingAsked is what it rests on where a channel seems to pop: itself, and the limits.
type seemingAsked struct {
	alone       *alone
	samples     int
	limit, over word
}

// popsAsked is what a channel's pops rest on: that, and the channels that turn the same joint.
type popsAsked struct {
	seeming seemingAsked
	turners *behind
}

// popsAgain finds the pops of one channel.
func (p *Pass) popsAgain(s *motion.Sampled, c *motion.Channel) []popped {
	if p.once || !p.playsAlone(c) {
		return p.popsOf(s, c, p.seemToPop(s, c))
	}
	asked := popsAsked{seeming: seemingAsked{p.alone(c), s.Count, number64(p.Limit(c.Dial.Unit)), number64(p.Limit("x"))}}
	seeming := remembered(p.subject, asked.seeming, func() []popped { return p.seemToPop(s, c) })
	if len(seeming) == 0 {
		return nil
	}
	for _, i := range p.turnersWith(c) {
		if asked.turners = p.linked(asked.turners, &p.Motion.Channels[i]); asked.turners == nil {
			return p.popsOf(s, c, seeming)
		}
	}
	pops := remembered(p.subject, asked, func() []popped {
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

// spectrumAsked is a channel that is asked for its harmonics.
type spectrumAsked struct {
	alone   *alone
	samples int
}

// spectrum gives a channel's harmonics as it plays.
func (s *subject) spectrum(sampled *motion.Sampled, correlator *motion.Correlator, c *motion.Channel) *motion.Spectrum {
	work := func() *motion.Spectrum { return correlator.Spectrum(sampled.Channel(c.Index)) }
	if s.once || !s.playsAlone(c) {
		return work()
	}
	return remembered(s, spectrumAsked{s.alone(c), sampled.Count}, work)
}

// swayAsked is the place of a joint that hangs on nothing, on one axis, whose sway is asked for.
type swayAsked struct {
	joint, axis, samples int
	leastCm              word
	movers               *behind
}

// swayOf measures how a joint sways on one axis.
func (s *subject) swayOf(sampled *motion.Sampled, joint, axis int, leastCm float64) sway {
	work := func() sway { return measureSway(sampled, joint, axis, leastCm) }
	asked := swayAsked{joint: joint, axis: axis, samples: sampled.Count, leastCm: number64(leastCm)}
	if s.once || s.motion.Rig.Joints[joint].Parent >= 0 {
		return work()
	}
	for i := range s.motion.Channels {
		c := &s.motion.Channels[i]
		moves := func(d motion.Drive) bool { return d.Joint == joint && d.Kind == motion.DrivesMove && d.Axes[axis] }
		if !c.Moves() || !slices.ContainsFunc(c.Dial.Drives, moves) {
			continue
		}
		if asked.movers = s.linked(asked.movers, c); asked.movers == nil {
			return work()
		}
	}
	return remembered(s, asked, work)
}

// leadAsked is what a channel's lead rests on: itself, the channels of the root, and the limit.
type leadAsked struct {
	alone         *alone
	weight        *behind
	samples       int
	least, enough word
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
	asked := leadAsked{alone: p.alone(c), samples: s.Count, least: number64(p.Limit("")), enough: number64(p.Limit("f"))}
	if asked.alone == nil {
		return p.leadOf(s, correlator, c, weight)
	}
	for i := range weight {
		if asked.weight = p.linked(asked.weight, weight[i].Channel); asked.weight == nil {
			return p.leadOf(s, correlator, c, weight)
		}
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
