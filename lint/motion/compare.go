package motion

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// Comparison is what differs between two motions, as they play.
type Comparison struct {
	Old, New *Motion
	// ByBeat says that the two are compared beat by beat, since they have as many beats but not the same seconds: one is
	// the other at another tempo. Otherwise they are compared second by second, over the longer of the two.
	ByBeat bool
	// Channels are those that differ, in the order of the new rig; those that only the old one has come last.
	Channels []ChannelDifference
}

// ChannelDifference is how one channel differs.
type ChannelDifference struct {
	Path string
	Unit string
	// In says that the channel is in one of the rigs only, `old` or `new`; empty where both have it. In the other
	// motion it counts as 0.
	In string
	// Largest is the largest size of the difference and AtFrame where that is, in frames of the new motion.
	Largest, AtFrame float64
	Mean             float64 // of the difference's size, over the time that is compared
	// Added and Removed are the times of the keys that only one of the two has, in frames of the motion that has it.
	Added, Removed []grammar.Rat
	// SeamOld and SeamNew are the largest gap of the channel's curves where a cycle comes round; 0 in a span.
	SeamOld, SeamNew float64
}

// Compare tells what differs between two whole motions. Differences below a millionth of a unit count as none. The
// channels are looked at four times a frame of the new motion, in at most 65 536 places, and the largest difference is
// then climbed to; a difference between such places that comes and goes is not seen.
func Compare(old, now *Motion) *Comparison {
	c := &Comparison{Old: old, New: now}
	a, b := old.Sheet, now.Sheet
	c.ByBeat = a.Beats(a.Length) == b.Beats(b.Length) && a.Seconds(a.Length) != b.Seconds(b.Length)
	length, toOld := c.clock()
	for i := range now.Channels {
		ch := &now.Channels[i]
		c.channel(old.Channel(ch.Dial.Path), ch, length, toOld)
	}
	for i := range old.Channels {
		if ch := &old.Channels[i]; now.Channel(ch.Dial.Path) == nil {
			c.channel(ch, nil, length, toOld)
		}
	}
	return c
}

// clock gives the time that is compared, in frames of the new motion, and how many of the old one's frames pass in each.
func (c *Comparison) clock() (length, toOld float64) {
	a, b := c.Old.Sheet, c.New.Sheet
	if c.ByBeat {
		return b.Length.Float(), a.Beat.Float() / b.Beat.Float()
	}
	toOld = a.Rate.Float() / b.Rate.Float()
	return math.Max(b.Length.Float(), a.Length.Float()/toOld), toOld
}

const (
	placesAFrame = 4
	mostPlaces   = 1 << 16
	noDifference = 1e-6
	equalTo      = 1e-9
)

func (c *Comparison) channel(old, now *Channel, length, toOld float64) {
	d := ChannelDifference{}
	for _, ch := range []*Channel{old, now} {
		if ch != nil {
			d.Path, d.Unit = ch.Dial.Path, ch.Dial.Unit
		}
	}
	switch {
	case old == nil:
		d.In = "new"
	case now == nil:
		d.In = "old"
	}
	size := func(frame float64) float64 { return math.Abs(valueAt(now, frame) - valueAt(old, frame*toOld)) }
	steps := int(math.Ceil(min(max(length*placesAFrame, 1), mostPlaces)))
	step := length / float64(steps)
	sum := 0.0
	for k := range steps + 1 {
		v := size(float64(k) * step)
		if v > d.Largest+equalTo { // the first of several that are equal
			d.Largest, d.AtFrame = v, float64(k)*step
		}
		if k == 0 || k == steps {
			v /= 2 // the ends belong to one place together, by the trapezoidal rule
		}
		sum += v
	}
	d.Mean = sum / float64(steps)
	if d.Largest > noDifference {
		at := climb(size, max(d.AtFrame-step, 0), min(d.AtFrame+step, length))
		if v := size(at); v > d.Largest+noDifference {
			d.Largest, d.AtFrame = v, at
		}
	}
	d.Removed, d.Added = c.onlyIn(old, now, c.Old.Sheet, c.New.Sheet), c.onlyIn(now, old, c.New.Sheet, c.Old.Sheet)
	d.SeamOld, d.SeamNew = seamOf(old), seamOf(now)
	if d.Largest > noDifference || len(d.Added)+len(d.Removed) > 0 || math.Abs(d.SeamNew-d.SeamOld) > noDifference {
		c.Channels = append(c.Channels, d)
	}
}

func valueAt(c *Channel, frame float64) float64 {
	if c == nil {
		return 0
	}
	return c.At(frame)
}

// onlyIn gives the times of the keys that a channel has and the other one has not, layer by layer.
func (c *Comparison) onlyIn(has, other *Channel, hasSheet, otherSheet *Sheet) (times []grammar.Rat) {
	if has == nil {
		return nil
	}
	type moment struct {
		layer string
		time  grammar.Rat
	}
	there := map[moment]bool{}
	if other != nil {
		for layer, s := range other.Strands() {
			for i := range s.Keys {
				there[moment{layer, c.common(otherSheet, s.Keys[i].Time)}] = true
			}
		}
	}
	for layer, s := range has.Strands() {
		for i := range s.Keys {
			if !there[moment{layer, c.common(hasSheet, s.Keys[i].Time)}] {
				times = append(times, s.Keys[i].Time)
			}
		}
	}
	slices.SortFunc(times, grammar.Rat.Cmp)
	return times
}

// common is a time in the unit that both motions share.
func (c *Comparison) common(s *Sheet, frames grammar.Rat) grammar.Rat {
	if c.ByBeat {
		return s.Beats(frames)
	}
	return s.Seconds(frames)
}

func seamOf(c *Channel) (gap float64) {
	if c == nil {
		return 0
	}
	for _, s := range c.Strands() {
		if s.Closed() && math.Abs(s.Curve.SeamGap()) > math.Abs(gap) {
			gap = s.Curve.SeamGap()
		}
	}
	return gap
}
