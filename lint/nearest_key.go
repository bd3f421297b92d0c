package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// Where rules that look at the motion as it plays point to in the text: the key that is nearest in time.

// nearestKey is the key of a channel that plays nearest to a time in frames, and how many frames off; nil where no key
// moves the channel.
func (s *subject) nearestKey(c *motion.Channel, frame float64) (key *motion.Key, off float64) {
	off = math.Inf(1)
	for layer, strand := range c.Strands() {
		late := 0.0
		if layer == "" {
			late = c.Late.Float()
		}
		for i := range strand.Keys {
			if d := strand.Apart(strand.Keys[i].Time.Float()+late, frame); d < off-1e-9 {
				key, off = &strand.Keys[i], d
			}
		}
	}
	return key, off
}

// nearestPlace is the place of the channel's nearest key, or of whatever else moves it.
func (s *subject) nearestPlace(c *motion.Channel, frame float64) grammar.Ref {
	key, _ := s.nearestKey(c, frame)
	switch {
	case key != nil:
		return key.At
	case len(c.Follows) > 0:
		return c.Follows[0].At
	case len(c.Waves) > 0:
		return c.Waves[0].At
	}
	return s.motion.Sheet.At("sheet")
}

// nearestRow is the place of the key, among all channels, that plays nearest to a time in frames: in the sheet's own
// text, or else the line that hands it down. Of keys at one time, one of the blocking counts before others, and one of a
// channel that the rig names earlier.
func (s *subject) nearestRow(frame float64) grammar.Ref {
	best, least := s.motion.Sheet.At("from"), math.Inf(1)
	for i := range s.motion.Channels {
		key, off := s.nearestKey(&s.motion.Channels[i], frame)
		if key == nil || key.At.Path() != s.motion.File.Path {
			continue
		}
		if key.From != motion.FromTrack {
			off -= 0.01
		}
		if off < least-1e-9 {
			best, least = key.At, off
		}
	}
	return best
}
