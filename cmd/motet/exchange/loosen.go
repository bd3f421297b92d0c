package exchange

import "slices"

// looseTries is how often channels are put back that turn out to need their keys, before all are.
const looseTries = 6

// mostLoose is by how many times more than its part a number may be off where all that it moves has room left.
const mostLoose = 1.5

// ownShare is how much of what its kind is allowed one number may ever be off.
const ownShare = 0.95

// loosen takes out keys where the joints have room left, and gives the errors then: what each number may be off was settled
// before anybody knew how the errors of several add up. Nothing is outside its limits afterwards that was inside, and no
// channel has more keys.
func (e *settled) loosen(reports []errorReport) []errorReport {
	if e.over != nil || slices.ContainsFunc(reports, func(r errorReport) bool { return !r.inside() }) {
		return reports // where several dials add up to one number, none is looser alone
	}
	before := make([][]channel, len(e.channels))
	for k, f := range e.figures {
		before[k] = slices.Clone(e.channels[k])
		wide, own := e.checks[k].widened(e.allowance[k]), e.channels[k]
		eachOf(len(own), func(i int) { f.thinChannel(&own[i], wide, e.beats[k].frames) })
	}
	for try := range looseTries {
		if try == looseTries-1 {
			copy(e.channels, before)
		}
		after := make([]errorReport, len(e.figures))
		eachOf(len(e.figures), func(k int) { after[k] = e.restore(k, before[k]) })
		if !slices.ContainsFunc(after, func(r errorReport) bool { return !r.inside() }) {
			return after
		}
	}
	return reports
}

// restore measures a figure's errors, and gives the channels that put a joint outside its limits the keys that they had
// before.
func (e *settled) restore(k int, before []channel) errorReport {
	f, check := e.figures[k], e.checks[k]
	values := f.values(e.channels[k], e.beats[k].frames)
	f.measure(e.channels[k], values)
	report := check.compare(values)
	if report.inside() {
		return report
	}
	allowance := make([][]float64, len(e.allowance[k]))
	for n := range allowance {
		allowance[n] = slices.Clone(e.allowance[k][n])
	}
	touched := check.narrow(values, allowance)
	for i := range e.channels[k] {
		if f.touches(&e.channels[k][i], touched) {
			e.channels[k][i] = before[i]
		}
	}
	return report
}

// thinChannel takes keys out of a channel's curve that it does not need in wider limits.
func (f *figure) thinChannel(c *channel, wide [][]float64, beatFrames float64) {
	if c.stepped || c.cut || c.straight || c.dropped || len(c.keys.at) < 3 {
		return
	}
	t, ok := f.tubeOf(c, wide)
	if !ok {
		return
	}
	if g := t.merge(t.thin(c.keys)); len(g.at) < len(c.keys.at) {
		f.writeFit(c, t, g, beatFrames)
	}
}

// widened is what the series may be off where their joints, and all that these carry, have room left after a comparison.
func (c *checker) widened(allowance [][]float64) [][]float64 {
	f := c.figure
	joints, frames := f.skeleton.joints, f.time.frames+1
	used := grid(len(joints), frames) // the share of its limit that the worst has of what a joint carries
	for i := len(joints) - 1; i >= 0; i-- {
		solved := f.limbOf(i) != nil
		for frame := range used[i] {
			used[i][frame] = max(used[i][frame], c.place[i][frame])
			if solved {
				used[i][frame] = max(used[i][frame], c.own[i][frame]) // its bones turn with what carries them
			}
			if p := joints[i].parent; p >= 0 {
				used[p][frame] = max(used[p][frame], used[i][frame])
			}
		}
	}
	out := make([][]float64, len(allowance))
	for n := range out {
		out[n] = slices.Clone(allowance[n])
		s := &f.series[n]
		if s.uneven || s.gone {
			continue
		}
		own := ownShare * [...]float64{moves: c.within.MoveCM, turns: c.within.TurnDeg, scales: c.within.ScalePercent, goals: c.within.MoveCM, swivels: swivelShare * c.within.TurnDeg}[s.property]
		for frame := range out[n] {
			most := 0.0
			for near := max(0, frame-1); near <= min(frames-1, frame+1); near++ {
				most = max(most, c.own[s.joint][near], used[s.joint][near])
			}
			out[n][frame] = min(out[n][frame]*max(1, min(mostLoose, 1/max(most, 1e-3))), max(own, out[n][frame]))
		}
	}
	return out
}
