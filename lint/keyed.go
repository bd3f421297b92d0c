package lint

import (
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// What rules about limbs ask of channels: only what keys do, without followers, quivers and breaths.

// keyed is a channel's keyed motion frame by frame, about its mean, in its unit or times a factor.
type keyed struct {
	channel *motion.Channel
	values  []float64
	square  float64 // the sum of the squares
	most    float64 // from the least to the greatest value, in the channel's unit
}

// keysMove tells whether keys move a channel at all.
func keysMove(c *motion.Channel) bool {
	for _, strand := range c.Strands() {
		for i := range strand.Keys {
			if strand.Keys[i].Value != strand.Keys[0].Value {
				return true
			}
		}
	}
	return false
}

// keysGo is at least how far a channel's keys take it from its least to its greatest value.
func (s *subject) keysGo(c *motion.Channel) float64 {
	if s.motion.Sheet.Advance[c.Dial.Path] != 0 {
		return math.Inf(1)
	}
	way := 0.0
	for layer, strand := range c.Strands() {
		strength := 1.0
		for i := range c.Layers {
			if c.Layers[i].Layer.Name == layer {
				strength = math.Abs(c.Layers[i].Layer.Strength)
			}
		}
		way += strength * goesAtMost(strand)
	}
	return way
}

// keyedMotion samples a channel's keys once a frame from a time on, without what comes on top, times a factor and less an
// advance's even rise. What is asked from 0 on is kept for all rules.
func (p *Pass) keyedMotion(c *motion.Channel, factor, from float64) keyed {
	k := p.keyedFrom(c, from)
	if factor == 1 {
		return k
	}
	scaled := keyed{channel: c, values: make([]float64, len(k.values)), square: k.square * factor * factor, most: k.most}
	for i, v := range k.values {
		scaled.values[i] = factor * v
	}
	return scaled
}

// onlyKeysMove tells whether nothing but its base curve moves a channel.
func onlyKeysMove(m *motion.Motion, c *motion.Channel) bool {
	return c.Base != nil && len(c.Follows)+len(c.Waves)+len(c.Layers)+len(m.Layers) == 0
}

func (s *subject) keyedFrom(c *motion.Channel, from float64) keyed {
	if from != 0 {
		return s.sampleKeys(c, from)
	}
	if s.keyed == nil {
		s.keyed = make([]keyed, len(s.motion.Channels))
	}
	k := &s.keyed[c.Index]
	if k.values == nil {
		*k = recall(s, &s.voiceFacts(c).keyed, struct{}{}, func() keyed {
			k := s.sampleKeys(c, 0)
			k.channel = nil // it belongs to this motion
			return k
		})
		k.channel = c
	}
	return *k
}

func (s *subject) sampleKeys(c *motion.Channel, from float64) keyed {
	sheet := s.motion.Sheet
	n := int(max(1, sheet.Length.Round()))
	buffer := make([]float64, 3*n)
	k, times, layered := keyed{channel: c, values: buffer[:n:n]}, buffer[n:2*n], buffer[2*n:]
	at := func(late float64) []float64 {
		for i := range times {
			times[i] = from + float64(i) - late
		}
		return times
	}
	if byFrame := s.byFrame; from == 0 && byFrame != nil && byFrame.Step == 1 && onlyKeysMove(s.motion, c) {
		copy(k.values, byFrame.Channel(c.Index).Samples) // its keys are all that plays
	} else if c.Base != nil {
		c.Base.Curve.Sample(k.values, at(c.Late.Float()))
	}
	for i := range c.Layers {
		if layer := &c.Layers[i]; !layer.Layer.Replaces {
			layer.Curve.Sample(layered, at(0))
			for i, v := range layered {
				k.values[i] += layer.Layer.Strength * v
			}
		}
	}
	rise := sheet.Advance[c.Dial.Path] / sheet.Length.Float()
	least, most, mean := math.Inf(1), math.Inf(-1), 0.0
	for i := range k.values {
		k.values[i] -= rise * (from + float64(i))
		least, most = min(least, k.values[i]), max(most, k.values[i])
		mean += k.values[i] / float64(n)
	}
	for i := range k.values {
		k.values[i] -= mean
		k.square += k.values[i] * k.values[i]
	}
	k.most = most - least
	return k
}

// product is the sum of the products of two motions.
func product(a, b keyed) (sum float64) {
	for i, v := range a.values {
		sum += v * b.values[i]
	}
	return sum
}
