package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func outOfRange() *Rule {
	return &Rule{
		Name: "out-of-range", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0, Unit: "cm"}, {Value: 0, Unit: "deg"}, {Value: 0, Unit: "%"}},
		Doc: Doc{
			Reports: "A channel that goes beyond the range that its rig gives it.",
			Why:     "Beyond it the elbow breaks, the lid turns inside out or the coat goes through the leg. A key may well be inside while the spring behind it is not.",
			Decides: "The least and the greatest value of the motion as it plays, between keys too, with followers, quivers, breaths and layers, in one round. The range is the rig's; by 0 cm, 0° and 0 % more, unless a house gives some room. One report a channel names the farther side.",
			Allow:   "When the rig can take it here: the sleeve hides the elbow.",
			Mends:   "Writes the end of the range in a key that itself lies outside.",
			Bad:     "track head\n  at      nod\n  0b      5\n  2b      44\n",
			Good:    "track head\n  at      nod\n  0b      5\n  2b      38\n",
		},
		Check: checkOutOfRange,
	}
}

func checkOutOfRange(p *Pass) {
	if !p.certain() {
		return
	}
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		if !c.Dial.HasRange || !c.Moves() || !p.mayLeave(c) {
			continue
		}
		least, most := p.extremes(c)
		room := p.Limit(c.Dial.Unit) + 1e-6
		over, under := most.Value-c.Dial.Range[1]-room, c.Dial.Range[0]-room-least.Value
		switch {
		case over > 0 && over >= under:
			p.beyond(c, most, c.Dial.Range[1])
		case under > 0:
			p.beyond(c, least, c.Dial.Range[0])
		}
	}
}

// mayLeave tells whether a channel comes so near to its range's ends that it is worth an exact look. One that only curves
// move is exact at once; others are looked at on each frame, between which none moves by a twentieth of its way.
func (p *Pass) mayLeave(c *motion.Channel) bool {
	if c.Base != nil && len(c.Follows)+len(c.Waves)+len(c.Layers) == 0 {
		least, most := c.Base.Curve.Range()
		if least >= c.Dial.Range[0] && most <= c.Dial.Range[1] && !p.hasLayers() {
			return false
		}
	}
	ends := p.endsOnFrames(c)
	way := (ends[1] - ends[0]) / 20
	return ends[0]-way < c.Dial.Range[0] || ends[1]+way > c.Dial.Range[1]
}

// endsOnFrames is a channel's least and greatest value on a frame.
func (s *subject) endsOnFrames(c *motion.Channel) [2]float64 {
	return recall(s, &s.voiceFacts(c).ends, struct{}{}, func() [2]float64 {
		least, most, length := math.Inf(1), math.Inf(-1), s.motion.Sheet.Length.Float()
		for frame := 0.0; frame < length+1; frame++ {
			v := c.At(min(frame, length))
			least, most = min(least, v), max(most, v)
		}
		return [2]float64{least, most}
	})
}

// extremes are a channel's least and greatest value.
func (s *subject) extremes(c *motion.Channel) (least, most motion.Extremum) {
	ends := recall(s, &s.voiceFacts(c).extremes, struct{}{}, func() (ends [2]motion.Extremum) {
		ends[0], ends[1] = s.motion.Reach(c.Index)
		return ends
	})
	return ends[0], ends[1]
}

// goesAtMost is how far a curve gets from its least to its greatest value: no way of it is longer.
func goesAtMost(strand *motion.Strand) float64 {
	least, most := strand.Curve.Range()
	return most - least
}

// hasLayers tells whether there is a layer that may move channels in which it has no key.
func (p *Pass) hasLayers() bool { return len(p.Motion.Layers) > 0 }

func (p *Pass) beyond(c *motion.Channel, extreme motion.Extremum, end float64) {
	at := p.movedBy(c, extreme.Time)
	way := "under"
	if extreme.High {
		way = "over"
	}
	finding := p.Report(at, "%s is at %s at %s, %s %s its range of %s to %s%s; keep it inside", c.Dial.Path, value(c, rounded(extreme.Value, 2)), moment(p.Motion.Sheet, near(extreme.Time)), value(c, rounded(math.Abs(extreme.Value-end), 2)), way, number(c.Dial.Range[0]), value(c, c.Dial.Range[1]), p.inWords(c, end))
	finding.Mends, finding.of = p.keepInside(c), c.Dial.Path
	if line := p.tooFarBy(c, extreme); !line.IsZero() {
		finding.Related = append(finding.Related, motion.Related{At: at, Message: "the key that it moves"})
		finding.At, finding.Mends = line, nil
	}
}

// tooFarBy is the line of a `change` block of the sheet's own that takes the key nearest to a channel's extreme out of the
// range; nothing where the key was written there.
func (p *Pass) tooFarBy(c *motion.Channel, extreme motion.Extremum) grammar.Ref {
	if c.Base == nil {
		return grammar.Ref{}
	}
	key := nearestKey(c, extreme.Time)
	inside := func(v float64) bool { return c.Dial.Range[0] <= v && v <= c.Dial.Range[1] }
	value := key.First
	for _, change := range key.Changes {
		if inside(value) && !inside(change.Value) && change.At.Path() == p.Motion.File.Path {
			return change.At
		}
		value = change.Value
	}
	return grammar.Ref{}
}

// keepInside writes the end of the range in all keys outside, where their cells are the sheet's own and alone decide what
// the channel does.
func (p *Pass) keepInside(c *motion.Channel) []motion.Mend {
	if c.Base == nil || len(c.Follows)+len(c.Waves)+len(c.Layers) > 0 {
		return nil
	}
	var mend motion.Mend
	for i := range c.Base.Keys {
		key := c.Base.Keys[i]
		inside := min(max(key.Value, c.Dial.Range[0]), c.Dial.Range[1])
		if key.Value == inside {
			continue
		}
		if key.From != motion.FromTrack || key.At.Path() != p.Motion.File.Path || key.At.Block.Kind != grammar.TrackBlock || len(key.Changes) > 0 {
			return nil
		}
		one := copyNumber("keep it at "+value(c, inside), &key, inside)
		mend.Title, mend.Edits = one.Title, append(mend.Edits, one.Edits...)
	}
	if len(mend.Edits) > 1 {
		mend.Title = "keep its " + plural(len(mend.Edits), "key") + " outside at the range's ends"
	}
	if len(mend.Edits) == 0 {
		return nil
	}
	return []motion.Mend{mend}
}

// inWords says which way a range's end lies, where the rig does.
func (p *Pass) inWords(c *motion.Channel, end float64) string {
	if way := toward(c, end-c.Dial.Rest); way != "" {
		return " (" + way[1:] + ")"
	}
	return ""
}

// movedBy is what moves a channel at a time in frames: the nearest key of its base, or where it has none, the line that
// does.
func (p *Pass) movedBy(c *motion.Channel, frames float64) grammar.Ref {
	switch {
	case c.Base != nil:
		return nearestKey(c, frames).At
	case len(c.Follows) > 0:
		return c.Follows[0].At
	case len(c.Waves) > 0:
		return c.Waves[0].At
	case len(c.Layers) > 0:
		return c.Layers[0].Keys[0].At
	}
	return p.Motion.Sheet.Block.RefLine(p.Motion.Sheet.Block.Open)
}

// nearestKey is the key of a channel's base that is played nearest to a time in frames, round the seam too.
func nearestKey(c *motion.Channel, frames float64) *motion.Key {
	period, best, away := c.Base.Period.Float(), 0, math.Inf(1)
	for i := range c.Base.Keys {
		d := math.Abs(c.Base.Keys[i].Time.Float() + c.Late.Float() - frames)
		if c.Base.Closed() && period > 0 {
			d = math.Abs(math.Remainder(d, period))
		}
		if d < away-1e-9 {
			best, away = i, d
		}
	}
	return &c.Base.Keys[best]
}
