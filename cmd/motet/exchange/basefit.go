package exchange

import (
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// look finds the lines of change that explain most of the clip: as the base goes, or as it goes in a mirror or backward,
// and from another moment on where the whole body is late. What explains as much with fewer lines wins.
func (b *basing) look() {
	least := math.Inf(1)
	for _, first := range [][]string{nil, {"mirror"}, {"reverse"}, {"mirror", "reverse"}} {
		lines := b.explain(first)
		tries := [][]string{lines}
		if first == nil {
			tries = append(tries, b.mirrorSingly(lines))
		}
		if start, ok := b.startOf(first); ok {
			// It stands for what else would be a delay of everything.
			if started := b.explain(append(slices.Clone(first), "start "+start)); len(started) <= len(lines) {
				tries = append(tries, started)
			}
		}
		for _, try := range tries {
			left, all := b.squares(b.resolve(try))
			if score := (left + nothingLeft*all) * (1 + lineCost*float64(len(try))); score < least {
				b.lines, least = try, score
			}
		}
		if b.settled(b.resolve(b.lines)) && !slices.ContainsFunc(b.lines, swapsOrWaits) {
			return
		}
	}
	b.lines = b.mirrorSingly(b.lines)
}

// swapsOrWaits tells whether a line might be a part of what one line says of the whole body.
func swapsOrWaits(line string) bool {
	word := strings.Fields(line)[0]
	return word == "delay" || word == "mirror"
}

const (
	// nothingLeft is the share of a motion that does not count as left to explain, and lineCost by how much more a line
	// more must explain of what does.
	nothingLeft = 1e-5
	lineCost    = 0.03
	// mirrorGain is how much less the mirror of one control must leave to be taken.
	mirrorGain = 0.7
)

// startOf is the moment with which the clip begins, as the variant writes times, where its whole body is as late.
func (b *basing) startOf(lines []string) (string, bool) {
	m := b.resolve(lines)
	if !b.footage.closed || !b.footage.even {
		return "", false
	}
	var have, want []motion.Signal
	for channel := range m.Channels {
		if b.want[channel] == nil {
			continue
		}
		if v := b.voice(m, channel); v != nil && len(v.at) == len(b.footage.at) {
			have, want = append(have, inLimits(v.movement(0), v.limit)), append(want, inLimits(v.want, v.limit))
		}
	}
	if len(have) == 0 {
		return "", false
	}
	correlator := motion.NewCorrelator(len(b.footage.at))
	match := correlator.BestLag(correlator.Spectrum(have...), correlator.Spectrum(want...))
	late := math.Round(match.Lag * b.footage.step)
	if late == 0 {
		return "", false
	}
	start := grammar.Whole(int64(-late)).Mod(m.Sheet.Length)
	return newScribe(m.File, m.Sheet).timeText("1b", start), !start.IsZero()
}

// settled tells whether nothing is left to explain.
func (b *basing) settled(m *motion.Motion) bool {
	for i := range b.want {
		if b.worstLeft(m, i) > 1 {
			return false
		}
	}
	return true
}

// worstLeft is by how many of its limits a channel is off at worst.
func (b *basing) worstLeft(m *motion.Motion, channel int) (worst float64) {
	for _, k := range b.known(channel) {
		worst = math.Max(worst, math.Abs(b.want[channel][k]-m.Channels[channel].At(b.footage.at[k]))/b.gears.limits[channel])
	}
	return worst
}

// mirrorSingly adds a mirror for each control that some lines explain badly and that goes much better in one.
func (b *basing) mirrorSingly(lines []string) []string {
	m := b.resolve(lines)
	left, _ := b.squares(m)
	rig := m.Rig
	done := map[string]bool{}
	for _, control := range rig.Controls() {
		other := rig.Mirrored(control)
		if done[control] || done[other] {
			continue
		}
		done[control] = true
		worst := 0.0
		for _, c := range slices.Concat(rig.ControlChannels(control), rig.ControlChannels(other)) {
			worst = math.Max(worst, b.worstLeft(m, c))
		}
		if worst <= badlyLeft {
			continue
		}
		var kept []string
		for _, line := range lines {
			if of := changedOf(line); of == "" || of != control && of != other {
				kept = append(kept, line)
			}
		}
		pattern, ok := pairPattern(rig, control, other)
		if !ok {
			continue
		}
		with := b.explain(append(kept, "mirror "+pattern))
		if now, _ := b.squares(b.resolve(with)); now < mirrorGain*left {
			lines, left, m = with, now, b.resolve(with)
		}
	}
	return lines
}

// pairPattern names a control and the other one of its pair, and nothing else.
func pairPattern(rig *motion.Rig, control, other string) (string, bool) {
	if control == other {
		return control, true
	}
	n := 0
	for n < min(len(control), len(other)) && control[n] == other[n] {
		n++
	}
	pattern := control[:n] + "*"
	for _, c := range rig.Controls() {
		if grammar.MatchPattern(pattern, c) != (c == control || c == other) {
			return "", false
		}
	}
	return pattern, n > 0
}

// badlyLeft is from how many limits on a control may be worth a mirror of its own.
const badlyLeft = 4

// changedOf is the control that a line changes.
func changedOf(line string) string {
	words := strings.Fields(line)
	if len(words) < 3 {
		return ""
	}
	control, _, _ := strings.Cut(words[1], "/")
	return control
}

// explain adds to some lines those for each control: leaders first, since what follows them changes with them.
func (b *basing) explain(lines []string) []string {
	m := b.resolve(lines)
	have := map[string]bool{}
	for _, line := range lines {
		have[changedOf(line)] = true
	}
	for _, level := range levels(m) {
		m = b.resolve(lines)
		var moved []string
		for _, control := range level {
			if !have[control] {
				moved = append(moved, b.motionOf(m, control)...)
			}
		}
		if len(moved) > 0 {
			lines = append(lines, moved...)
			m = b.resolve(lines)
		}
		for _, control := range level {
			if !have[control] {
				lines = append(lines, b.placeOf(m, control)...)
			}
		}
	}
	return lines
}

// levels are the controls by how many follow on each other before them.
func levels(m *motion.Motion) [][]string {
	depth := map[string]int{}
	controls := m.Rig.Controls()
	for range controls {
		for i := range m.Channels {
			for k := range m.Channels[i].Follows {
				control, leader := m.Channels[i].Dial.Control, m.Channels[i].Follows[k].Leader.Dial.Control
				if control != leader {
					depth[control] = max(depth[control], min(depth[leader]+1, len(controls)))
				}
			}
		}
	}
	out := make([][]string, len(controls)+1)
	for _, control := range controls {
		out[depth[control]] = append(out[depth[control]], control)
	}
	return slices.DeleteFunc(out, func(level []string) bool { return len(level) == 0 })
}

// placeOf finds where the channels of a control stand elsewhere.
func (b *basing) placeOf(m *motion.Motion, control string) []string {
	var lines []string
	for _, channel := range m.Rig.ControlChannels(control) {
		known := b.known(channel)
		if len(known) == 0 {
			continue
		}
		by, c, limit := 0.0, &m.Channels[channel], b.gears.limits[channel]
		all, left := 0.0, 0.0
		var offs []float64
		for _, k := range known {
			off := b.want[channel][k] - c.At(b.footage.at[k])
			offs = append(offs, off)
			all += off * off
		}
		by = (slices.Min(offs) + slices.Max(offs)) / 2
		if rangeOf(offs) > 2*limit {
			by = mean(offs)
		}
		near := 0.0
		middle := median(offs)
		for _, off := range offs {
			left += squareOf(off - by)
			if math.Abs(off-middle) <= limit {
				near += 1 / float64(len(offs))
			}
		}
		if near >= mostly {
			by, left = middle, 0
		}
		if b.worstLeft(m, channel) <= 1 || left > sizeGain*all || math.Abs(by) <= touch*limit {
			continue
		}
		lines = append(lines, "offset "+c.Dial.Path+" "+shortest(by, limit))
	}
	return lines
}

// merged puts equal sizes of a control's channels into one line, where that changes nothing that shows.
func (b *basing) merged(lines []string) []string {
	for _, control := range b.resolve(lines).Rig.Controls() {
		by, n, alike := "", 0, true
		for _, line := range lines {
			words := strings.Fields(line)
			if words[0] != "amplify" || !strings.HasPrefix(words[1], control+"/") {
				continue
			}
			alike = alike && (n == 0 || words[2] == by)
			by, n = words[2], n+1
		}
		if n < 2 || !alike {
			continue
		}
		var fewer []string
		for _, line := range lines {
			words := strings.Fields(line)
			switch {
			case words[0] != "amplify" || !strings.HasPrefix(words[1], control+"/"):
				fewer = append(fewer, line)
			case n > 0:
				fewer, n = append(fewer, "amplify "+control+" "+by), 0
			}
		}
		before, all := b.squares(b.resolve(lines))
		if after, _ := b.squares(b.resolve(fewer)); after <= before+nothingLeft*all {
			lines = fewer
		}
	}
	return lines
}
