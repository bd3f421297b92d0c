package motion

import (
	"math"
	"slices"
)

// Corners are the times between which a channel runs smoothly.
type Corners struct {
	// Times in frames, rising, from 0 to the sheet's length with both among them.
	Times []float64
	// Cubic says that between two neighbouring times the channel is one cubic polynomial: no spring, quiver, breath or
	// easing plays a part in it.
	Cubic bool
	// Steps says that the value may jump at one of the times, since a key stays until the next.
	Steps bool
}

// Corners gives the times within one round at which a channel's curve passes from one piece to the next, all that moves
// the channel put together. A channel that nothing moves has the two ends only.
func (m *Motion) Corners(channel int) Corners {
	c, length := &m.Channels[channel], m.Sheet.Length.Float()
	out := Corners{Times: []float64{0, length}, Cubic: len(c.Waves) == 0}
	add := func(t float64) {
		if m.Sheet.Closed {
			t = wrapTime(t, length)
		}
		if t > 0 && t < length {
			out.Times = append(out.Times, t)
		}
	}
	if c.Base != nil {
		out.strand(c.Base, length, c.Late.Float(), add)
	}
	eachBreathCut(c.Waves, length, add)
	for i := range c.over {
		over := &c.over[i]
		out.Cubic = out.Cubic && len(over.waves) == 0
		eachBreathCut(over.waves, length, add)
		if over.strand != nil {
			out.strand(over.strand, length, 0, add)
		}
	}
	for i := range c.Follows {
		shifted := c.Follows[i].shifted
		if shifted == nil {
			out.Cubic = false
			continue
		}
		// A leader that stays makes its follower step too.
		out.Steps = true
		for _, t := range shifted.starts {
			add(t)
		}
	}
	slices.Sort(out.Times)
	out.Times = slices.CompactFunc(out.Times, func(a, b float64) bool { return math.Abs(b-a) < 8*closest })
	out.Times[len(out.Times)-1] = length
	return out
}

// strand takes in where a strand's pieces begin and end, in all rounds up to a length.
func (c *Corners) strand(s *Strand, length, late float64, add func(t float64)) {
	period := s.Period.Float()
	for i := range s.Curve.pieces {
		piece := &s.Curve.pieces[i]
		c.Cubic = c.Cubic && piece.ease == nil
		c.Steps = c.Steps || piece.kind == Held
		for round := 0.0; round*period < length && round < mostSteps; round++ {
			add(round*period + piece.start + late)
			if i == len(s.Curve.pieces)-1 {
				add(round*period + s.Curve.end + late)
			}
		}
	}
}
