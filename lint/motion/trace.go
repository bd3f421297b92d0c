package motion

import (
	"fmt"

	"github.com/motet-sheet/motet/grammar"
)

// Step is one step on the way to a channel's value.
type Step struct {
	At    grammar.Ref // where it is written; nothing for what follows from the steps before
	What  string      // in words
	Value float64     // the value after the step, the channel's unit
}

// Trace tells how a channel comes to its value at a time in frames: the keys on both sides and what changed them on
// their way from the base sheet, the curve between them, what leaders, quivers and breaths add, and the layers in turn.
func (c *Channel) Trace(frames float64) []Step {
	steps := []Step{{c.Dial.At, "rest", c.Dial.Rest}}
	value := c.Dial.Rest
	if c.Base != nil {
		steps = nil
		at := frames - c.Late.Float()
		for _, i := range c.Base.Around(at) {
			steps = append(steps, c.Base.Keys[i].trace()...)
		}
		value = c.Base.Curve.At(at)
		what := "the curve through its keys"
		if !c.Late.IsZero() {
			what += fmt.Sprintf(", %sf late", c.Late)
		}
		steps = append(steps, Step{c.LateAt, what, value})
	}
	for i := range c.Follows {
		f := &c.Follows[i]
		more, _ := f.signal(frames)
		value += more
		steps = append(steps, Step{f.At, fmt.Sprintf("follows %s: %+.4g", f.Leader.Dial.Path, more), value})
	}
	for i := range c.Waves {
		more, _ := c.Waves[i].at(frames)
		value += more
		steps = append(steps, Step{c.Waves[i].At, fmt.Sprintf("%s %s: %+.4g", c.Waves[i].kind(), c.Waves[i].Name, more), value})
	}
	for i := range c.over {
		o := &c.over[i]
		over := o.at(frames)
		what := fmt.Sprintf("layer %s adds %+.4g", o.layer.Name, o.layer.Strength*over)
		if o.replaces() {
			what = fmt.Sprintf("layer %s: %.4g%% of the way to %.4g", o.layer.Name, 100*o.layer.Strength, over)
			over -= value
		}
		value += o.layer.Strength * over
		steps = append(steps, Step{o.layer.At, what, value})
	}
	return steps
}

func (w *Wave) kind() string {
	if w.Quiver != nil {
		return "quiver"
	}
	return "breath"
}

// Around gives the indices of the keys on both sides of a time in the strand's own frames: one where a key stands there
// or where there is only one. Round the seam of a cycle the last key comes before the first.
func (s *Strand) Around(frames float64) []int {
	n := len(s.Keys)
	if s.closed {
		frames = wrapTime(frames, s.Period.Float())
	}
	after := 0
	for after < n && s.Keys[after].Time.Float() < frames-closest {
		after++
	}
	switch {
	case n == 1:
		return []int{0}
	case after < n && s.Keys[after].Time.Float() < frames+closest:
		return []int{after}
	case after > 0 && after < n:
		return []int{after - 1, after}
	case !s.closed && after == 0:
		return []int{0}
	case !s.closed:
		return []int{n - 1}
	}
	return []int{n - 1, 0}
}

// trace tells where a key's value was written and what changed it.
func (k *Key) trace() []Step {
	at, what := k.At, "key at frame "+k.Time.String()
	if k.From != FromTrack && !k.Pose.IsZero() {
		at, what = k.Pose, "pose at frame "+k.Time.String()
	}
	steps := []Step{{at, what, k.First}}
	for _, c := range k.Changes {
		steps = append(steps, Step(c))
	}
	if n := len(steps); k.From == FromHold && steps[n-1].Value != k.Value {
		steps = append(steps, Step{k.At, "the hold drifts on", k.Value})
	}
	return steps
}
