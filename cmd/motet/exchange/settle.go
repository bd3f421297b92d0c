package exchange

import (
	"math"
	"slices"
)

// settlingRounds is how often channels are narrowed and fitted again where all errors
// together leave a joint outside its limits.
const settlingRounds = 12

// settle fits every channel of each figure and holds the joints that result, with every digit that the
// sheets will show, against the clips. Where a joint is outside its limits, what carries it
// is allowed less there, and fitted again.
func (e *ensemble) settle(within Within, beats []beat) (*settled, []errorReport) {
	allowance := make([][][]float64, len(e.figures))
	for k, f := range e.figures {
		allowance[k] = f.allowances(within)
	}
	s := e.fitAll(within, beats, allowance)
	return s, s.loosen(s.narrowDown(settlingRounds))
}

// fitAll fits every channel of each figure by itself.
func (e *ensemble) fitAll(within Within, beats []beat, allowance [][][]float64) *settled {
	checks := make([]*checker, len(e.figures))
	channels := e.firstDials(allowance)
	fit := func(k int, above bool) {
		f := e.figures[k]
		f.eachControl(channels[k], func(own []*channel) {
			shared := map[int]bool{}
			for _, c := range own {
				if c.above == above {
					f.fitChannel(c, allowance[k], beats[k].frames, shared)
				}
			}
			if !above {
				f.shareRows(own, allowance[k], beats[k].frames)
			}
		})
	}
	eachOf(len(e.figures), func(k int) {
		fit(k, false)
		checks[k] = newChecker(e.figures[k], within)
	})
	if e.lay(channels, beats) {
		eachOf(len(e.figures), func(k int) { fit(k, true) })
	}
	return &settled{e, beats, checks, channels, allowance}
}

// What is settled of an ensemble: by figure, the channels, and what their series may be off.
type settled struct {
	*ensemble
	beats     []beat
	checks    []*checker
	channels  [][]channel
	allowance [][][]float64
}

// narrowDown holds what is fitted against the clips, allows less to what puts a joint outside its limits, and fits that
// again.
func (e *settled) narrowDown(rounds int) []errorReport {
	channels, allowance, beats, checks := e.channels, e.allowance, e.beats, e.checks
	values, reports := make([][][]float64, len(e.figures)), make([]errorReport, len(e.figures))
	stale, settled := make([]bool, len(e.figures)), make([][]float64, len(e.figures))
	for round := 0; ; round++ {
		e.reconcile(channels)
		eachOf(len(e.figures), func(k int) {
			now := settledAt(channels[k])
			if round > 0 && !stale[k] && slices.Equal(now, settled[k]) {
				return // as it was
			}
			settled[k] = now
			values[k] = e.figures[k].values(channels[k], beats[k].frames)
			reports[k] = checks[k].compare(values[k])
		})
		inside := true
		for _, r := range reports {
			inside = inside && r.inside()
		}
		if inside || round == rounds {
			for k, f := range e.figures {
				f.measure(channels[k], values[k])
			}
			e.channels = channels
			return reports
		}
		narrowed := make([][]bool, len(e.figures))
		for k, r := range reports {
			narrowed[k] = make([]bool, len(e.lead.series))
			if !r.inside() {
				narrowed[k] = checks[k].narrow(values[k], allowance[k])
			}
		}
		before := channels
		channels = e.dissolve(channels, allowance)
		for k := range stale {
			stale[k] = !reports[k].inside() || len(channels[k]) != len(before[k]) || e.over != nil
		}
		refit := func(k int, above bool) {
			f := e.figures[k]
			f.eachControl(channels[k], func(own []*channel) {
				for _, c := range own {
					if c.above == above && (above || c.rows == nil && !c.dropped || f.touches(c, narrowed[k])) {
						f.refitChannel(c, allowance[k], beats[k].frames)
					}
				}
			})
		}
		eachOf(len(e.figures), func(k int) { refit(k, false) })
		if e.lay(channels, beats) {
			eachOf(len(e.figures), func(k int) { refit(k, true) })
		}
	}
}

// settledAt is where each channel stays that has no keys; infinite for one that has.
func settledAt(channels []channel) []float64 {
	out := make([]float64, len(channels))
	for i := range channels {
		if out[i] = math.Inf(1); channels[i].dropped {
			out[i] = channels[i].keys.value[0]
		}
	}
	return out
}

// firstDials are the channels to begin with.
func (e *ensemble) firstDials(allowance [][][]float64) [][]channel {
	if e.over == nil {
		return e.dissolve(e.dials(allowance), allowance)
	}
	return e.dissolve(e.dialsOver(), allowance)
}

// lay tells channels that have what others leave how much that is, now that those are fitted. It is false where there are
// none.
func (e *ensemble) lay(channels [][]channel, beats []beat) (any bool) {
	for _, c := range channels[0] {
		any = any || c.above
	}
	if !any {
		return false
	}
	e.reconcile(channels)
	for k, f := range e.figures {
		below := slices.DeleteFunc(slices.Clone(channels[k]), func(c channel) bool { return c.above })
		values := f.values(below, beats[k].frames)
		for i := range channels[k] {
			c := &channels[k][i]
			if !c.above {
				continue
			}
			s := &f.series[c.drives[0].series]
			c.gain = s.gain / c.drives[0].gain
			for _, b := range below {
				for _, d := range b.drives {
					if d.series == c.drives[0].series {
						c.gain -= d.gain * b.gain / c.drives[0].gain
					}
				}
			}
			c.under = make([]float64, f.skeleton.steps)
			for step := range c.under {
				c.under[step] = values[c.drives[0].series][step] - s.rest
			}
		}
	}
	return true
}

// reconcile settles what becomes of channels that stay in a clip. One that stays in all of them at a value that does for
// all goes into the rest pose; of the others, those that may stay at rest need no key, and the rest has one.
func (e *ensemble) reconcile(channels [][]channel) {
	for n := range channels[0] {
		low, high := math.Inf(-1), math.Inf(1)
		for k := range channels {
			c := &channels[k][n]
			if !c.constant {
				low, high = math.Inf(1), math.Inf(-1)
				break
			}
			low, high = math.Max(low, c.low), math.Min(high, c.high)
		}
		for k := range channels {
			c := &channels[k][n]
			if !c.constant {
				continue
			}
			c.rows, c.dropped = nil, true
			switch {
			case low <= high && e.over == nil && !e.lead.pins(c):
				c.keys.value = []float64{(low + high) / 2}
			case c.low <= c.base && c.base <= c.high:
				c.keys.value = []float64{c.base}
			default:
				c.rows, c.dropped = c.resting, false
			}
		}
	}
}

// pins tells whether a channel drives a number whose rest may no longer change.
func (f *figure) pins(c *channel) bool {
	return slices.ContainsFunc(c.drives, func(d drive) bool { return f.series[d.series].pinned })
}

func (f *figure) touches(c *channel, narrowed []bool) bool {
	for _, d := range c.drives {
		if narrowed[d.series] && !d.loose {
			return true
		}
	}
	return false
}

// dissolve splits the dials whose series can no longer move in proportion, in each clip, within what
// they are allowed.
func (e *ensemble) dissolve(channels [][]channel, allowance [][][]float64) [][]channel {
	out := make([][]channel, len(channels))
	var all [][]float64
	for n := range channels[0] {
		whole := true
		for k, f := range e.figures {
			if c := &channels[k][n]; whole && len(c.drives) > 1 {
				_, whole = f.tubeOf(c, allowance[k])
			}
		}
		if whole {
			for k := range channels {
				out[k] = append(out[k], channels[k][n])
			}
			continue
		}
		if e.over != nil {
			own := e.loosen(channels, n, allowance)
			if m := channels[0][n].mesh; m != nil {
				for k := range channels {
					channels[k][n].rows, channels[k][n].dropped, channels[k][n].constant = nil, false, false
				}
			}
			for k := range channels {
				out[k] = append(out[k], channels[k][n])
			}
			for _, series := range own {
				c := e.ownDial(series)
				c.above = true
				for k := range channels {
					out[k] = append(out[k], e.overClip(k, c))
				}
			}
			continue
		}
		if all == nil {
			all = e.allClips()
		}
		for _, d := range channels[0][n].drives {
			for k, c := range e.channelOf(all, []int{d.series}) {
				out[k] = append(out[k], c)
			}
		}
	}
	for _, own := range out {
		sortByControl(own)
	}
	return out
}

// tubeOf is what the curve of a channel has to stay inside so that every series that it
// drives keeps to its allowance. ok is false when they leave it no room.
func (f *figure) tubeOf(c *channel, allowance [][]float64) (t *tube, ok bool) {
	t = &tube{frames: f.time.frames, closed: c.closed, plainEnds: c.closed || f.loop.ending == Open}
	steps := f.skeleton.steps
	trend := c.gain / float64(steps-1)
	if c.closed {
		steps--
	}
	t.middle, t.half = make([]float64, steps), make([]float64, steps)
	if c.mesh != nil {
		return t, f.meshTube(c, t, allowance)
	}
	tight := len(c.drives)
	for _, d := range c.drives {
		if d.loose {
			tight--
		}
	}
	for k := range steps {
		low, high, least := math.Inf(-1), math.Inf(1), math.Inf(1)
		for _, d := range c.drives {
			s := &f.series[d.series]
			if d.loose || s.idle || f.skeleton.joints[s.joint].absent {
				continue
			}
			frame := k / stepsPerFrame
			allowed := allowance[d.series][frame]
			if k%stepsPerFrame != 0 {
				allowed = math.Min(allowed, allowance[d.series][frame+1])
			}
			// At frames the smooth motion is the clip's own; between them it is what the
			// clip's straight lines leave out.
			want, room := s.smooth[k]-s.rest, allowed/math.Abs(d.gain)
			switch {
			case c.under != nil && s.property == scales && math.Abs(1+c.under[k]/100) > 1e-3:
				below := 1 + c.under[k]/100
				want, room = 100*((1+want/100)/below-1), room/math.Abs(below)
			case c.under != nil:
				want -= c.under[k]
			}
			want /= d.gain
			low, high, least = math.Max(low, want-room), math.Min(high, want+room), math.Min(least, room)
		}
		if math.IsInf(high, 1) {
			low, high = -1, 1 // the clip has none of the joints, or solves their limb: anything does, and rest is as good
		}
		t.middle[k], t.half[k] = (low+high)/2+c.base-trend*float64(k), (high-low)/2
		if tight > 1 && t.half[k] < 0.1*least {
			return t, false
		}
	}
	return t, true
}

func (f *figure) fitChannel(c *channel, allowance [][]float64, beatFrames float64, shared map[int]bool) {
	if c.stepped {
		f.hold(c)
	} else {
		t, _ := f.tubeOf(c, allowance)
		if !f.writePieces(c, t, beatFrames) {
			f.writeFit(c, t, fitKeys(t, shared), beatFrames)
			f.preferStraight(c, allowance)
		}
	}
	for _, r := range c.rows {
		shared[r.frame] = true
	}
}

// shareRows brings keys of one control's channels into common rows where that costs
// nothing, since a row with one number in it is harder to read than one with three.
func (f *figure) shareRows(own []*channel, allowance [][]float64, beatFrames float64) {
	uses := map[int]int{}
	count := func(c *channel, by int) {
		for _, r := range c.rows {
			uses[r.frame] += by
		}
	}
	for _, c := range own {
		count(c, 1)
	}
	for _, c := range own {
		if c.stepped || c.cut || c.straight || c.dropped || len(c.rows) < 2 {
			continue
		}
		count(c, -1)
		others := map[int]bool{}
		for frame, n := range uses {
			others[frame] = n > 0
		}
		t, _ := f.tubeOf(c, allowance)
		f.writeFit(c, t, t.share(c.keys, others), beatFrames)
		count(c, 1)
	}
}

func (f *figure) refitChannel(c *channel, allowance [][]float64, beatFrames float64) {
	if c.stepped {
		return
	}
	t, _ := f.tubeOf(c, allowance)
	if !f.writePieces(c, t, beatFrames) {
		f.writeFit(c, t, refit(t, c.keys), beatFrames)
		f.preferStraight(c, allowance)
	}
}

// writePieces fits a channel that jumps by pieces; false for one that does not.
func (f *figure) writePieces(c *channel, t *tube, beatFrames float64) bool {
	cuts := f.cutsOf(c)
	if _, stays := t.constant(); stays {
		cuts = nil
	}
	if c.cut = len(cuts) > 0; c.cut {
		c.keys, c.constant, c.dropped, c.straight = fit{}, false, false, false
		c.rows = t.fitPieces(cuts, beatFrames)
	}
	return c.cut
}

// preferStraight takes the clip's own few keys with straight lines between them where a
// curve needs no fewer.
func (f *figure) preferStraight(c *channel, allowance [][]float64) {
	c.straight = false
	if c.dropped || c.constant || f.series[c.drives[0].series].made {
		return
	}
	if rows := f.straightRows(c, allowance); rows != nil && len(rows) <= len(c.rows) {
		c.rows, c.straight = rows, true
	}
}

// writeFit turns a fit into the channel's rows. What becomes of a channel that can stay is settled for all
// figures together.
func (f *figure) writeFit(c *channel, t *tube, keys fit, beatFrames float64) {
	c.keys, c.constant, c.dropped, c.rows = keys, false, false, nil
	trend := c.gain / float64(t.frames)
	if len(keys.at) == 1 && trend == 0 {
		if s := f.series[c.drives[0].series]; s.property != scales {
			c.constant = true
			c.low, c.high = t.common()
			c.resting = t.write(keys, beatFrames, trend)
			return
		}
		// A rig has no place for a scale at rest.
		if c.keys.value = []float64{100}; largest(t.errors(c.keys)) <= 1 {
			c.dropped = true
			return
		}
	}
	if len(keys.at) == 1 && trend != 0 {
		// A steady spin: two keys give the curve its slope.
		keys = fit{at: []int{0, t.frames / 2}, value: []float64{keys.value[0], keys.value[0]}, slope: []float64{0, 0}}
	}
	c.rows = t.write(keys, beatFrames, trend)
}

// hold writes a channel that stays between changes: one key at each change.
func (f *figure) hold(c *channel) {
	s := &f.series[c.drives[0].series]
	number := func(step int) float64 { return round((s.clip[step]-s.rest)/c.drives[0].gain+c.base, 4) }
	t := f.skeleton.tracked[[2]int{f.skeleton.joints[s.joint].node, int(s.property)}]
	c.rows = f.heldRows(t, c.closed, number)
}

// values are all series at every step as the sheet and the rig say.
func (f *figure) values(channels []channel, beatFrames float64) [][]float64 {
	out := make([][]float64, len(f.series))
	times := make([]float64, f.skeleton.steps)
	for k := range times {
		times[k] = float64(k) / stepsPerFrame
	}
	for i := range channels {
		c := &channels[i]
		curve := make([]float64, len(times))
		if c.dropped {
			for k := range curve {
				curve[k] = c.keys.value[0]
			}
		} else {
			c.curve(f.time.frames, beatFrames).Sample(curve, times)
		}
		for _, d := range c.drives {
			s := &f.series[d.series]
			if path := out[d.series]; path != nil { // several dials move it
				for k, v := range curve {
					if s.property == scales {
						path[k] *= 1 + d.gain*(v-c.base)/100 // sizes multiply
						continue
					}
					path[k] += d.gain * (v - c.base)
				}
				continue
			}
			path := make([]float64, len(curve))
			for k, v := range curve {
				path[k] = s.rest + d.gain*(v-c.base)
			}
			if c.dropped && s.property != scales && !s.made {
				for k := range path {
					path[k] = tidy(path[k])
				}
			}
			out[d.series] = path
		}
	}
	return out
}

// measure notes the largest error at a frame of each channel's series, in their unit.
func (f *figure) measure(channels []channel, values [][]float64) {
	for i := range channels {
		c := &channels[i]
		c.worst = 0
		for _, d := range c.drives {
			s := &f.series[d.series]
			for k := 0; k < len(s.clip); k += stepsPerFrame {
				c.worst = math.Max(c.worst, math.Abs(values[d.series][k]-s.clip[k]))
			}
		}
	}
}
