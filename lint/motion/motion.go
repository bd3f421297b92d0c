// Package motion is what a sheet means: names linked across files, rigs, poses and tracks resolved into one curve a
// channel, and the place of every joint at any time. Everything is computed once and never changes; every key knows
// the place in the text that it came from.
package motion

import (
	"math"
	"slices"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
)

// Motion is a resolved file: a sheet on its rig, or a rig alone.
type Motion struct {
	File     *grammar.File
	Sheet    *Sheet // nil where the file has no sheet
	Rig      *Rig   // nil where it was not found
	Channels []Channel
	Poses    []*Pose
	Layers   []*Layer
	Eases    []NamedEase
	Plain    []Accent // the rows of the blocking
	Problems []Problem
	// Houses are the house rules that hold for the file, the nearest first.
	Houses []*grammar.Block
	// Base is the motion that this one is a variant of, nil for none.
	Base *Motion
	// Linked are the other files that this motion depends on.
	Linked []*grammar.File

	// Joins are where a span leaves and rejoins an idle.
	Joins []Join
	// Plants are the stretches of time in which a goal or a joint stays where it is.
	Plants []Plant

	family   func() *Family          // nil where the file has none
	cast     *atomic.Pointer[Family] // what family gave, once it was asked
	whole    *whole
	material *material
	solved   []bool      // the chains that are solved at all times, since their goal is keyed
	restEnds []Transform // of every joint, at rest
	reads    *trackReads // for the next version of the file; nil where none can be taken over
}

// Sheet is a sheet's header, resolved: all times in frames of its own rate.
type Sheet struct {
	Name   string
	Block  *grammar.Block
	Rate   grammar.Rat // frames a second
	Beat   grammar.Rat // frames a beat
	Length grammar.Rat // frames; 0 where no line gives it
	Closed bool        // a cycle; false for a span
	Grid   grammar.Rat // frames
	Phase  grammar.Rat // frames
	View   string
	From   *grammar.FromLine // the sheet that this one is a variant of; nil for none
	// Advance is what a channel gains in each cycle, by its path.
	Advance map[string]float64
	// Lines are the header lines, by their first word.
	Lines map[string]grammar.Ref

	length, grid, phase grammar.Time // as written
}

// At is the place of a header line, or of the sheet's name where that line is left out.
func (s *Sheet) At(word string) grammar.Ref {
	if ref, ok := s.Lines[word]; ok {
		return ref
	}
	return s.Block.RefLine(s.Block.Open)
}

// Beats gives a time in frames as beats.
func (s *Sheet) Beats(frames grammar.Rat) grammar.Rat { return frames.Div(s.Beat) }

// Seconds gives a time in frames as seconds.
func (s *Sheet) Seconds(frames grammar.Rat) grammar.Rat { return frames.Div(s.Rate) }

// Channel is one channel of the rig and all that moves it.
type Channel struct {
	Dial  *Dial
	Index int // into Rig.Channels and Motion.Channels
	// Base is the curve of the blocking and the tracks; nil where no key moves the channel.
	Base *Strand
	// Late is how much later than written the base plays, in frames.
	Late grammar.Rat
	// LateAt is the row of `overlap` that says so.
	LateAt grammar.Ref
	// Layers are the channel's curves in layers, in the order in which the layers apply.
	Layers []LayerStrand
	// Follows are what the channel takes over from others.
	Follows []Follow
	// Waves are the quivers and breaths outside a layer.
	Waves []Wave
	// Voice stands for how all of these play.
	Voice *Voice

	over []overlay
}

// overlay is what one layer does to a channel: its curve, and its quivers and breaths.
type overlay struct {
	layer  *Layer
	strand *Strand // nil where no track of the layer keys the channel
	waves  []Wave
}

// LayerStrand is a channel's curve in one layer.
type LayerStrand struct {
	Layer *Layer
	*Strand
}

// Strand is one curve and the keys that it goes through.
type Strand struct {
	// Period is the length after which the strand comes again, in frames: the sheet's, or an `every`.
	Period grammar.Rat
	Keys   []Key // in rising time; the same indices as the curve's knots
	// Curve is how the strand plays. Strands of two motions of which one was resolved after the other may share it: then
	// they have the same period, and their keys the same times, values, shapes, easings and origins, in rows of a block that
	// stands in the same file; but the rows may have moved.
	Curve  *Curve
	closed bool
}

// Key is one key of a strand.
type Key struct {
	Time    grammar.Rat   // frames, as written
	Written *grammar.Time // the same, as the text has it
	Value   float64
	First   float64 // the value in the sheet that wrote it, before any change
	Shape   Shape
	Marked  bool
	In, Out float64 // slopes a frame, of a Sloped key
	Ease    *Ease
	At      grammar.Ref // the cell, or the row of the blocking
	From    Origin
	Pose    grammar.Ref // the pose's line that gives the value, of a key of the blocking
	Row     int         // the blocking's row
	Changes []Change    // what a variant did to it, in order; none in the sheet that wrote it
	Over    bool        // it beats a key of the blocking at its moment
}

// Origin says where a key comes from.
type Origin uint8

// The origins of keys.
const (
	FromTrack    Origin = iota
	FromBlocking        // a row of the blocking, at its time
	FromHold            // the end of a moving hold, at its `until`
)

// Closes tells whether key i stands at the very end of a cycle: the closing row.
func (s *Strand) Closes(i int) bool { return s.closed && s.Keys[i].Time.Cmp(s.Period) == 0 }

// Closed tells whether the strand comes again.
func (s *Strand) Closed() bool { return s.closed }

// Accent is a row of the blocking.
type Accent struct {
	Time grammar.Rat // frames
	At   grammar.Ref // its time cell
	Pose string
}

// Layer is a layer of motion over the base.
type Layer struct {
	Name     string
	Replaces bool
	Strength float64 // 0 to 1
	At       grammar.Ref
	Used     bool

	inherited bool
}

// NamedEase is an easing of an `eases` block.
type NamedEase struct {
	Name string
	Ease Ease
	At   grammar.Ref
	Used bool

	inherited bool
}

// Moves tells whether anything moves the channel.
func (c *Channel) Moves() bool {
	return c.Base != nil || len(c.Follows) > 0 || len(c.Waves) > 0 || len(c.over) > 0
}

// At is the channel's value at a time in frames, all its layers put together. In a span times outside give the ends'.
func (c *Channel) At(frames float64) float64 {
	value := c.Dial.Rest
	if c.Base != nil {
		value = c.Base.Curve.At(frames - c.Late.Float())
	}
	for i := range c.Follows {
		more, _ := c.Follows[i].signal(frames)
		value += more
	}
	for i := range c.Waves {
		more, _ := c.Waves[i].at(frames)
		value += more
	}
	for i := range c.over {
		over := c.over[i].at(frames)
		if c.over[i].replaces() {
			over -= value
		}
		value += c.over[i].layer.Strength * over
	}
	return value
}

// replaces tells whether the overlay moves the value toward its own; a layer that replaces does so for the channels
// that it keys.
func (o *overlay) replaces() bool { return o.layer.Replaces && o.strand != nil }

func (o *overlay) at(frames float64) float64 {
	value := 0.0
	if o.strand != nil {
		value = o.strand.Curve.At(frames)
	}
	for i := range o.waves {
		more, _ := o.waves[i].at(frames)
		value += more
	}
	return value
}

func (o *overlay) slope(frames float64) (left, right float64) {
	if o.strand != nil {
		left, right = o.strand.Curve.Slope(frames)
	}
	for i := range o.waves {
		_, more := o.waves[i].at(frames)
		left, right = left+more, right+more
	}
	return left, right
}

// Slope is the channel's speed a frame just before and just after a time.
func (c *Channel) Slope(frames float64) (left, right float64) {
	if c.Base != nil {
		left, right = c.Base.Curve.Slope(frames - c.Late.Float())
	}
	for i := range c.Follows {
		_, more := c.Follows[i].signal(frames)
		left, right = left+c.Follows[i].slopeBefore(frames), right+more
	}
	for i := range c.Waves {
		_, more := c.Waves[i].at(frames)
		left, right = left+more, right+more
	}
	for i := range c.over {
		overLeft, overRight := c.over[i].slope(frames)
		if c.over[i].replaces() {
			overLeft, overRight = overLeft-left, overRight-right
		}
		left += c.over[i].layer.Strength * overLeft
		right += c.over[i].layer.Strength * overRight
	}
	return left, right
}

// Strands gives the channel's curves: the base first, then those in layers, each with its layer's name, which is empty
// for the base.
func (c *Channel) Strands() func(yield func(string, *Strand) bool) {
	return func(yield func(string, *Strand) bool) {
		if c.Base != nil && !yield("", c.Base) {
			return
		}
		for i := range c.Layers {
			if !yield(c.Layers[i].Layer.Name, c.Layers[i].Strand) {
				return
			}
		}
	}
}

// Channel finds a channel by its path, or nil.
func (m *Motion) Channel(path string) *Channel {
	if m.Rig == nil {
		return nil
	}
	i := m.Rig.DialIndex(path)
	if i < 0 || i >= len(m.Channels) {
		return nil
	}
	return &m.Channels[i]
}

// Whole tells whether the motion can be judged: there is a sheet with a length on a rig, and a variant's base is there.
func (m *Motion) Whole() bool {
	return m.Sheet != nil && m.Rig != nil && m.Sheet.Length.Sign() > 0 && (m.Sheet.From == nil || m.Base != nil)
}

// Values gives every channel's value at a time in frames, in the rig's order, in dst where that is long enough.
func (m *Motion) Values(frames float64, dst []float64) []float64 {
	dst = slices.Grow(dst[:0], len(m.Channels))[:len(m.Channels)]
	for i := range m.Channels {
		dst[i] = m.Channels[i].At(frames)
	}
	return dst
}

// Within is a time brought into the strand's period, in frames; where it does not come again it stays.
func (s *Strand) Within(t float64) float64 {
	if period := s.Period.Float(); s.closed && period > 0 {
		return wrapTime(t, period)
	}
	return t
}

// Apart is how many frames lie between two times of a strand: in a cycle the short way round.
func (s *Strand) Apart(a, b float64) float64 {
	d := math.Abs(a - b)
	if period := s.Period.Float(); s.closed && period > 0 {
		d = math.Mod(d, period)
		d = min(d, period-d)
	}
	return d
}
