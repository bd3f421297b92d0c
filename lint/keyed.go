package lint

import (
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// What rules about limbs ask of channels: only what keys do, without followers, quivers and breaths.

// keyed is a channel's keyed motion frame by frame, about its mean, in cm that it moves some joint by.
type keyed struct {
	channel *motion.Channel
	values  []float64
	square  float64 // the sum of the squares
	most    float64 // from the least to the greatest value, in the channel's unit
}

// keysMove tells whether keys move a channel at all.
func keysMove(c *motion.Channel) bool {
	for _, strand := range c.Strands() {
		if least, most := keyedSpan(strand.Keys); most > least {
			return true
		}
	}
	return false
}

// keyedAt is what a channel's keys make of it at a time in frames, without what comes on top.
func keyedAt(c *motion.Channel, frames float64) (v float64) {
	if c.Base != nil {
		v = c.Base.Curve.At(frames - c.Late.Float())
	}
	for i := range c.Layers {
		if !c.Layers[i].Layer.Replaces {
			v += c.Layers[i].Layer.Strength * c.Layers[i].Curve.At(frames)
		}
	}
	return v
}

// keyedMotion samples a channel's keys once a frame from a time on, times a factor, less an advance's even rise.
func (p *Pass) keyedMotion(c *motion.Channel, factor, from float64) keyed {
	n := int(max(1, p.Motion.Sheet.Length.Round()))
	k := keyed{channel: c, values: make([]float64, n)}
	rise := p.Motion.Sheet.Advance[c.Dial.Path] / p.Motion.Sheet.Length.Float()
	least, most, mean := math.Inf(1), math.Inf(-1), 0.0
	for i := range k.values {
		frame := from + float64(i)
		v := keyedAt(c, frame) - rise*frame
		least, most = min(least, v), max(most, v)
		k.values[i] = factor * v
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
