package motion

import (
	"math"
	"slices"
	"sort"
)

// Extrema returns every place where a channel, as it plays with all its followers, quivers, breaths and layers, turns
// from rising to falling or back, in rising time, as [Curve.Extrema] does for a curve. The motion is whole.
//
// The time line is cut at every key, at every turn of a curve by itself and where a leader's cubics begin, and between
// cuts into steps of at most a frame, and at most a twelfth of the fastest quiver's or spring's round. In a step two
// turns are told from none by the parabola through three slopes, and each turn is closed in on until the slope's zero is
// known to a billionth of a frame. So of curves alone every turn is found; of springs and waves two turns that a
// twelfth of a round can't tell apart may be missed, between which the value hardly moves.
func (m *Motion) Extrema(channel int) []Extremum {
	p := m.played(channel)
	return turnsBetween(p.runs(), p.extent)
}

// Pace is how evenly a channel goes from one turn to the next. Speeds are in units a frame.
type Pace struct {
	From, To float64 // frames; in a cycle the last one may end in the next round
	Mean     float64 // speed
	Peak     float64 // speed; +∞ where the value steps
}

// Evenness is the mean ÷ the peak speed: 1 for a straight line, 2/π for half a sine; 0 where nothing moves.
func (p Pace) Evenness() float64 {
	if p.Peak == 0 {
		return 0
	}
	return p.Mean / p.Peak
}

// Paces returns a channel's way from each of its turns, as it plays, to the next: in a cycle round the seam, in a span
// from the start and to the end too. A channel that stays still has none; one that only goes on, by an advance, has one
// of a whole round.
func (m *Motion) Paces(channel int) []Pace {
	p := m.played(channel)
	turns := turnsBetween(p.runs(), p.extent)
	length := p.extent.Length
	var times []float64
	for _, turn := range turns {
		times = append(times, turn.Time)
	}
	switch {
	case !p.extent.Closed || len(times) == 0:
		times = append(append([]float64{0}, times...), length)
	default:
		times = append(times, times[0]+length)
	}
	var paces []Pace
	for i := 1; i < len(times); i++ {
		if pace := p.pace(times[i-1], times[i]); pace.Peak > 0 && pace.To > pace.From {
			paces = append(paces, pace)
		}
	}
	return paces
}

// played is a channel cut into steps short enough to judge each by three slopes.
type played struct {
	channel   *Channel
	extent    Extent
	steps     []step
	tolerance float64
}

// step is a stretch without a corner, with what lies just inside its ends.
type step struct {
	from, to       float64    // frames
	start, end     float64    // values
	slopes         [3]float64 // units a frame: at the start, halfway, at the end
	turns          [2]float64 // frames
	turnCount      int
	fastest        float64 // frames; where the parabola through the slopes has its vertex
	fastestIsKnown bool
}

func (m *Motion) played(channel int) *played {
	c := &m.Channels[channel]
	p := &played{channel: c, extent: Extent{Length: m.Sheet.Length.Float(), Closed: m.Sheet.Closed, Gain: m.advances(c)}}
	times := p.cuts()
	p.steps = make([]step, 0, len(times))
	scale := 0.0
	for i := 1; i < len(times); i++ {
		s := p.step(times[i-1], times[i])
		p.steps = append(p.steps, s)
		scale = max(scale, math.Abs(s.start), math.Abs(s.end))
	}
	p.tolerance = 1e-11 * scale
	return p
}

// cuts gives the times between which the channel is smooth and short of turns, from 0 to the length.
func (p *played) cuts() []float64 {
	length, c := p.extent.Length, p.channel
	times := []float64{0, length}
	add := func(t float64) {
		if p.extent.Closed {
			t = wrapTime(t, length)
		}
		if t > 0 && t < length {
			times = append(times, t)
		}
	}
	if c.Base != nil {
		c.Base.eachCut(length, func(t float64) { add(t + c.Late.Float()) })
	}
	eachBreathCut(c.Waves, length, add)
	for i := range c.over {
		if c.over[i].strand != nil {
			c.over[i].strand.eachCut(length, add)
		}
		eachBreathCut(c.over[i].waves, length, add)
	}
	for i := range c.Follows {
		if shifted := c.Follows[i].shifted; shifted != nil {
			for _, t := range shifted.starts {
				add(t)
			}
		}
	}
	slices.Sort(times)
	times = slices.CompactFunc(times, func(a, b float64) bool { return math.Abs(b-a) < 8*closest })
	times[len(times)-1] = length
	return divided(times, c.longestStep(length))
}

// eachCut gives the times at which a strand's pieces begin or have their slope's zeros and extremes, in all rounds up to
// a length.
func (s *Strand) eachCut(length float64, take func(t float64)) {
	period := s.Period.Float()
	for round := 0.0; round*period < length && round < mostSteps; round++ {
		for i := range s.Curve.pieces {
			piece := &s.Curve.pieces[i]
			take(round*period + piece.start)
			turns, n := piece.turns()
			fastest, k := piece.fastest()
			for _, u := range append(turns[:n:n], fastest[:k]...) {
				take(round*period + piece.start + u*piece.frames)
			}
		}
		take(round*period + s.Curve.end)
	}
}

// eachBreathCut gives the times at which breaths go from in to out, to their pause and in again.
func eachBreathCut(waves []Wave, length float64, take func(t float64)) {
	for i := range waves {
		b := waves[i].Breath
		if b == nil || b.length*mostSteps < length {
			continue
		}
		for begins := wrapTime(b.starts, b.length) - b.length; begins < length; begins += b.length {
			take(begins)
			take(begins + b.inhale*b.length)
			take(begins + (1-b.pause)*b.length)
		}
	}
}

// longestStep is how long a step may be for three slopes to tell its turns; ∞ where curves alone play, whose cuts have
// all of them.
func (c *Channel) longestStep(length float64) float64 {
	longest := math.Inf(1)
	for i := range c.Follows {
		longest = min(longest, 1)
		if spring := c.Follows[i].Spring; spring != nil && spring.Omega > 0 {
			longest = min(longest, 2*math.Pi/spring.Omega/12)
		}
	}
	waves := func(waves []Wave) {
		for i := range waves {
			longest = min(longest, 1)
			if q := waves[i].Quiver; q != nil {
				longest = min(longest, q.period/float64(12*(q.lowest+len(q.weights))))
			}
		}
	}
	waves(c.Waves)
	keyed := 0
	if c.Base != nil {
		keyed++
	}
	for i := range c.over {
		waves(c.over[i].waves)
		if c.over[i].strand != nil {
			keyed++
		}
	}
	if keyed > 1 {
		longest = min(longest, 1) // a sum of two curves turns where neither does
	}
	return max(longest, length/mostSteps)
}

// divided cuts stretches that are too long into even parts.
func divided(times []float64, longest float64) []float64 {
	out := []float64{times[0]}
	for i := 1; i < len(times); i++ {
		from, to := times[i-1], times[i]
		parts := max(math.Ceil((to-from)/longest), 1)
		for k := 1.0; k < parts; k++ {
			out = append(out, from+(to-from)*k/parts)
		}
		out = append(out, to)
	}
	return out
}

// step looks at a stretch a billionth of a frame inside its ends, where no corner or step of its neighbours counts.
func (p *played) step(from, to float64) step {
	inFrom, inTo := from+closest, to-closest
	s := step{from: from, to: to}
	s.slopes = [3]float64{p.slope(inFrom), p.slope((from + to) / 2), p.slope(inTo)}
	s.start = p.channel.At(inFrom) - s.slopes[0]*closest
	s.end = p.channel.At(inTo) + s.slopes[2]*closest
	s.findFastest()
	brackets := []float64{inFrom, inTo}
	if s.fastestIsKnown {
		brackets = []float64{inFrom, min(max(s.fastest, inFrom), inTo), inTo}
	}
	for i := 1; i < len(brackets); i++ {
		if t, ok := p.turn(brackets[i-1], brackets[i]); ok {
			s.turns[s.turnCount] = t
			s.turnCount++
		}
	}
	return s
}

// findFastest finds the vertex of the parabola through the three slopes, where it lies inside.
func (s *step) findFastest() {
	bend := s.slopes[0] - 2*s.slopes[1] + s.slopes[2]
	if bend == 0 {
		return
	}
	// In halves of the step from its middle.
	if at := (s.slopes[0] - s.slopes[2]) / (2 * bend); math.Abs(at) < 1 {
		s.fastest = (s.from+s.to)/2 + at*(s.to-s.from)/2
		s.fastestIsKnown = true
	}
}

func (p *played) slope(t float64) float64 {
	_, slope := p.channel.Slope(t)
	return slope
}

// turn finds where the slope is zero between two times at which it has opposite signs, by false position with the
// Illinois rule, which halves the end that stays (M. Dowell, P. Jarratt, BIT 11, 168 (1971); from memory).
func (p *played) turn(low, high float64) (t float64, ok bool) {
	atLow, atHigh := p.slope(low), p.slope(high)
	if atLow*atHigh >= 0 {
		return 0, false
	}
	stays := 0
	for range 60 {
		t = (low*atHigh - high*atLow) / (atHigh - atLow)
		if !(t > low && t < high) || high-low < closest {
			return (low + high) / 2, true
		}
		here := p.slope(t)
		switch {
		case here == 0:
			return t, true
		case here*atHigh > 0:
			high, atHigh = t, here
			if stays == 1 {
				atLow /= 2
			}
			stays = 1
		default:
			low, atLow = t, here
			if stays == -1 {
				atHigh /= 2
			}
			stays = -1
		}
	}
	return t, true
}

// runs gives the stretches within which the channel only rises, only falls or stays, from 0 to the length.
func (p *played) runs() []run {
	runs := make([]run, 0, 2*len(p.steps)+2)
	value := p.steps[0].start
	reach := func(t, v float64) {
		runs = append(runs, run{to: t, value: v, direction: trend(v-value, p.tolerance)})
		value = v
	}
	for i := range p.steps {
		s := &p.steps[i]
		reach(s.from, s.start) // of no length, and a direction only where the value steps
		for _, t := range s.turns[:s.turnCount] {
			reach(t, p.channel.At(t))
		}
		reach(s.to, s.end)
	}
	last := p.steps[0].start + p.extent.Gain
	if !p.extent.Closed {
		last = p.channel.At(p.extent.Length)
	}
	reach(p.extent.Length, last)
	return runs
}

// pace measures the way from one time to another, up to a round later.
func (p *played) pace(from, to float64) Pace {
	pace := Pace{From: from, To: to, Peak: p.peak(from, min(to, p.extent.Length))}
	if to > p.extent.Length {
		pace.Peak = max(pace.Peak, p.peak(0, to-p.extent.Length))
		if math.Abs(p.steps[0].start+p.extent.Gain-p.steps[len(p.steps)-1].end) > p.tolerance {
			pace.Peak = math.Inf(1)
		}
	}
	rise := p.channel.At(to) - p.channel.At(from)
	pace.Mean = math.Abs(rise) / (to - from)
	return pace
}

// peak is the greatest speed between two times of the first round.
func (p *played) peak(from, to float64) float64 {
	peak := 0.0
	// The steps lie in the order of their times, and a long clip has as many as keys.
	first := sort.Search(len(p.steps), func(i int) bool { return p.steps[i].to > from+closest })
	for i := first; i < len(p.steps) && p.steps[i].from < to-closest; i++ {
		s := &p.steps[i]
		if i > 0 && s.from > from+closest && math.Abs(s.start-p.steps[i-1].end) > p.tolerance {
			return math.Inf(1)
		}
		if s.from >= from-closest {
			peak = max(peak, math.Abs(s.slopes[0]))
		}
		if s.to <= to+closest {
			peak = max(peak, math.Abs(s.slopes[2]))
		}
		if s.fastestIsKnown && s.fastest >= from && s.fastest <= to {
			peak = max(peak, math.Abs(p.slope(s.fastest)))
		}
	}
	return peak
}
