package draw

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// outline is the shape of a marker, so that sides are told apart without color.
type outline uint8

const (
	diamond outline = iota
	circle
	square
)

// shapes are the markers of the sides.
var shapes = map[Ink]outline{Center: diamond, Left: circle, Right: square}

func shapeOf(d *motion.Dial) outline { return shapes[InkOf(d)] }

func marker(shape outline, at Point, r float64, ink Ink, tip string) Mark {
	m := Mark{Kind: Shape, Ink: ink, Rim: Paper, Width: 0.8, Tip: tip}
	switch shape {
	case circle:
		m.Kind, m.At, m.R0 = Disc, []Point{at}, r
	case square:
		r *= 0.9
		m.At = []Point{{at.X - r, at.Y - r}, {at.X + r, at.Y - r}, {at.X + r, at.Y + r}, {at.X - r, at.Y + r}}
	default:
		r *= 1.25
		m.At = []Point{{at.X, at.Y - r}, {at.X + r, at.Y}, {at.X, at.Y + r}, {at.X - r, at.Y}}
	}
	return m
}

// stepTime is how long before and after a moment a curve is looked at to see whether it steps there, in frames.
const stepTime = 1e-4

// leastStep is the share of what a curve goes through by which it steps, if it does: a smooth one that went through all
// of it in a frame would move by a fifth of that in the time that is looked at.
const leastStep = 1e-3

// sampled looks at a channel four times a frame, or less often where that would be more than 4000 times, and on both sides
// of every moment at which it may step.
func sampled(channel *motion.Channel, length, end float64) (times, values []float64) {
	const most = 4000
	count := int(min(math.Ceil(end*4), most))
	for i := range count + 1 {
		times = append(times, end*float64(i)/float64(count))
	}
	for _, t := range mayStep(channel, length) {
		for round := 0.0; t+round <= end && round <= end; round += length {
			times = append(times, max(0, t+round-stepTime), min(end, t+round+stepTime))
		}
	}
	slices.Sort(times)
	times = slices.Compact(times)
	values = make([]float64, len(times))
	for i, t := range times {
		values[i] = channel.At(t)
	}
	return times, values
}

// mayStep gives the moments at which a channel may step: at its keys and at the seam.
func mayStep(channel *motion.Channel, length float64) []float64 {
	var out []float64
	for _, strand := range channel.Strands() {
		late := 0.0
		if strand == channel.Base {
			late = channel.Late.Float()
		}
		for i := range strand.Keys {
			if strand.Keys[i].Shape == motion.Stay {
				out = append(out, everyRound(strand, i, late, length)...)
				out = append(out, everyRound(strand, (i+1)%len(strand.Keys), late, length)...)
			}
		}
		if strand.Closed() {
			for t := 0.0; t < length-1e-9; t += strand.Period.Float() {
				out = append(out, math.Mod(t+late, length))
			}
		}
	}
	return out
}

// everyRound gives the moments at which a strand's key is played, in each of its rounds.
func everyRound(strand *motion.Strand, key int, late, length float64) []float64 {
	at := strand.Keys[key].Time.Float() + late
	if !strand.Closed() {
		return []float64{at}
	}
	var out []float64
	for t := 0.0; t < length-1e-9; t += strand.Period.Float() {
		out = append(out, math.Mod(t+at, length))
	}
	return out
}

// Shown is a key as it is played.
type Shown struct {
	Frames, Value float64
	At            grammar.Ref
}

// KeysOf gives a channel's keys, in each of their rounds, where they are played and with the value that is then shown. A
// closing row is shown at the seam.
func KeysOf(channel *motion.Channel, length float64) []Shown {
	var out []Shown
	for _, strand := range channel.Strands() {
		late := 0.0
		if strand == channel.Base {
			late = channel.Late.Float()
		}
		for i := range strand.Keys {
			if strand.Closes(i) {
				at := length + late
				out = append(out, Shown{at, channel.At(at - stepTime), strand.Keys[i].At})
				continue
			}
			for _, t := range everyRound(strand, i, late, length) {
				out = append(out, Shown{t, channel.At(t), strand.Keys[i].At})
			}
		}
	}
	return out
}

// seamJump tells how far a channel's curve jumps where its round starts anew: when, how late after the seam, from which
// value to which. A curve that stays into the seam steps there because its sheet says so, and does not jump.
func seamJump(channel *motion.Channel, length float64) (late, from, to float64, ok bool) {
	for _, strand := range channel.Strands() {
		if math.Abs(strand.Curve.SeamGap()) < 1e-9 || !strand.Closed() {
			continue
		}
		late = 0
		if strand == channel.Base {
			late = channel.Late.Float()
		}
		from, to = channel.At(length+late-stepTime), channel.At(length+late+stepTime)
		if math.Abs(to-from) > 1e-3 {
			return late, from, to, true
		}
	}
	return 0, 0, 0, false
}

// SeamJump tells how far a channel's curve jumps where its round starts anew, in its unit, and how many frames after the
// seam; both are 0 where it does not.
func SeamJump(channel *motion.Channel, length float64) (lateFrames, jump float64) {
	late, from, to, ok := seamJump(channel, length)
	if !ok {
		return 0, 0
	}
	return late, to - from
}
