package exchange

import (
	"cmp"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// A voice is one channel whose delay and size are looked for.
type voice struct {
	channel *motion.Channel
	at      []float64 // moments that matter
	want    []float64
	fixed   []float64 // quivers, breaths and layers, which no delay moves
	limit   float64
	mean    float64 // of the base curve
}

func (b *basing) voice(m *motion.Motion, channel int) *voice {
	c := &m.Channels[channel]
	known := b.known(channel)
	if len(known) < leastMoments || !c.Moves() {
		return nil
	}
	v := &voice{channel: c, limit: b.gears.limits[channel], mean: c.Dial.Rest}
	if c.Base != nil {
		v.mean = c.Base.Curve.Mean()
	}
	for _, k := range known {
		t := b.footage.at[k]
		v.at, v.want = append(v.at, t), append(v.want, b.want[channel][k])
		v.fixed = append(v.fixed, c.At(t)-v.mean-v.late(t, 0))
	}
	if rangeOf(v.movement(0)) < 2*v.limit {
		return nil
	}
	return v
}

// late is the part of the channel that a delay moves, about its mean.
func (v *voice) late(t, delay float64) float64 {
	out := 0.0
	if v.channel.Base != nil {
		out = v.channel.Base.Curve.At(t-delay-v.channel.Late.Float()) - v.mean
	}
	for i := range v.channel.Follows {
		out += v.channel.Follows[i].Adds(t - delay)
	}
	return out
}

// movement is the channel's departures from its mean with a delay.
func (v *voice) movement(delay float64) []float64 {
	out := make([]float64, len(v.at))
	for k, t := range v.at {
		out[k] = v.late(t, delay) + v.fixed[k]
	}
	return out
}

// regress is the size, at least 0, with which a movement is nearest to what is wanted, wherever that stands, and the sum
// of the squares that are left, in limits.
func (v *voice) regress(x []float64) (gain, left float64) {
	mx, my := mean(x), mean(v.want)
	var xy, xx float64
	for k := range x {
		xy += (x[k] - mx) * (v.want[k] - my)
		xx += (x[k] - mx) * (x[k] - mx)
	}
	if xx > 0 {
		gain = math.Max(0, xy/xx)
	}
	return gain, v.leftWith(x, gain)
}

func (v *voice) leftWith(x []float64, gain float64) (left float64) {
	mx, my := mean(x), mean(v.want)
	for k := range x {
		left += squareOf((v.want[k] - my - gain*(x[k]-mx)) / v.limit)
	}
	return left
}

// worstWith is by how many limits a movement of some size is off at worst, wherever it stands.
func (v *voice) worstWith(x []float64, gain float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for k := range x {
		off := v.want[k] - gain*x[k]
		low, high = math.Min(low, off), math.Max(high, off)
	}
	return (high - low) / 2 / v.limit
}

// motionOf finds the delay of a control, and the size of each of its channels.
func (b *basing) motionOf(m *motion.Motion, control string) []string {
	var voices []*voice
	for _, channel := range m.Rig.ControlChannels(control) {
		if v := b.voice(m, channel); v != nil {
			voices = append(voices, v)
		}
	}
	if len(voices) == 0 {
		return nil
	}
	var lines []string
	delay := b.delayOf(voices)
	if delay != 0 {
		lines = append(lines, "delay "+control+" "+number(delay, 2)+"f")
	}
	type size struct{ path, by string }
	var sizes []size
	for _, v := range voices {
		if by, ok := v.size(delay); ok {
			sizes = append(sizes, size{v.channel.Dial.Path, by})
		}
	}
	same := len(sizes) > 1 && len(sizes) == len(voices) && len(voices) == b.moving(m, control) && !slices.ContainsFunc(sizes, func(s size) bool { return s.by != sizes[0].by })
	if same {
		return append(lines, "amplify "+control+" "+sizes[0].by)
	}
	for _, s := range sizes {
		lines = append(lines, "amplify "+s.path+" "+s.by)
	}
	return lines
}

// moving is how many channels of a control move.
func (b *basing) moving(m *motion.Motion, control string) (n int) {
	for _, channel := range m.Rig.ControlChannels(control) {
		if m.Channels[channel].Moves() {
			n++
		}
	}
	return n
}

// Lines are taken only for what shows: a delay, or another size, must leave less than this share of what is left without.
const (
	delayGain = 0.6
	sizeGain  = 0.7
	// delayRest and sizeRest are the most that may be left of what the channels move at all: beyond that the likeness may
	// be chance.
	delayRest = 0.25
	sizeRest  = 0.4
)

// delayOf finds by how many frames the voices of a control are late, 0 where a delay explains nothing: the lag of their
// summed cross-correlation, by Fourier transform where all moments of a cycle matter, and then the least squares about it.
func (b *basing) delayOf(voices []*voice) float64 {
	left := func(delay float64) (sum float64) {
		for _, v := range voices {
			_, one := v.regress(v.movement(delay))
			sum += one
		}
		return sum
	}
	worst := func(delay float64) (most float64) {
		for _, v := range voices {
			x := v.movement(delay)
			gain, _ := v.regress(x)
			most = math.Max(most, v.worstWith(x, gain))
		}
		return most
	}
	alike := func(delay float64) float64 {
		least := 1.0
		for _, v := range voices {
			_, _, share := v.mostly(v.movement(delay))
			least = math.Min(least, share)
		}
		return least
	}
	if worst(0) <= 1 {
		return 0
	}
	best := b.firstLag(voices, left)
	for k := -4; k <= 4; k++ { // what does not only come later may have its best fit beside its best lag
		if near := best + float64(k)*b.footage.step/2; left(near) < left(best) {
			best = near
		}
	}
	best = lowest(left, best-b.footage.step/2, best+b.footage.step/2)
	// What is added for a moment draws the least squares to it; what fits at most moments does not follow.
	most, at := math.Max(mostly, alike(0)+clearlyMore), 0.0
	for k := -2; k <= 2; k++ {
		if near := math.Round(best) + float64(k); near != 0 && alike(near) >= most {
			most, at = alike(near)+1e-9, near
		}
	}
	switch {
	case at != 0:
		return at
	case alike(0) >= mostly && alike(best) < alike(0)+clearlyMore:
		return 0
	}
	all := 0.0
	for _, v := range voices {
		all += v.leftWith(v.want, 0)
	}
	if now := left(best); now > delayGain*left(0) || now > delayRest*all {
		return 0
	}
	for _, unit := range []float64{1, 2, 4, 10} {
		if rounded := math.Round(best*unit) / unit; worst(rounded) <= worst(best)+shortShare {
			return rounded
		}
	}
	return round(best, 2)
}

// firstLag is the lag in whole moments with which the voices are most like what is wanted.
func (b *basing) firstLag(voices []*voice, left func(delay float64) float64) float64 {
	n := len(b.footage.at)
	whole := b.footage.closed && b.footage.even
	for _, v := range voices {
		whole = whole && len(v.at) == n
	}
	if whole {
		correlator := motion.NewCorrelator(n)
		var have, want []motion.Signal
		for _, v := range voices {
			// Only what a delay moves is compared.
			late, rest := make([]float64, n), make([]float64, n)
			for k, t := range v.at {
				late[k], rest[k] = v.late(t, 0), v.want[k]-v.fixed[k]
			}
			have, want = append(have, inLimits(late, v.limit)), append(want, inLimits(rest, v.limit))
		}
		match := correlator.BestLag(correlator.Spectrum(have...), correlator.Spectrum(want...))
		return match.Lag * b.footage.step
	}
	best := 0.0
	for k := -n / 4; k <= n/4; k++ {
		if lag := float64(k) * b.footage.step; left(lag) < left(best) {
			best = lag
		}
	}
	return best
}

func inLimits(values []float64, limit float64) motion.Signal {
	s := motion.Signal{Samples: make([]float64, len(values)), Closed: true}
	for k, v := range values {
		s.Samples[k] = v / limit
	}
	return s
}

// lowest is where a function is least between two places, by golden section.
func lowest(of func(float64) float64, from, to float64) float64 {
	const golden = 0.6180339887498949
	a, b := to-golden*(to-from), from+golden*(to-from)
	fa, fb := of(a), of(b)
	for range 30 {
		if fa < fb {
			to, b, fb = b, a, fa
			a = to - golden*(to-from)
			fa = of(a)
			continue
		}
		from, a, fa = a, b, fb
		b = from + golden*(to-from)
		fb = of(b)
	}
	return (from + to) / 2
}

// size is by how much a voice is larger or smaller, in per cent; false where that explains nothing.
func (v *voice) size(delay float64) (string, bool) {
	x := v.movement(delay)
	gain, left := v.regress(x)
	if robust, _, share := v.mostly(x); share >= mostly {
		return v.percent(robust, x)
	}
	still := rangeOf(v.want) <= 2*v.limit
	if still {
		gain = 0
	}
	if v.worstWith(x, 1) <= 1 || left > sizeGain*v.leftWith(x, 1) || !still && left > sizeRest*v.leftWith(v.want, 0) {
		return "", false
	}
	return v.percent(gain, x)
}

// percent writes a size with the fewest digits that come near enough; false for 100 %.
func (v *voice) percent(gain float64, x []float64) (string, bool) {
	for decimals := 0; ; decimals++ {
		if by := round(100*gain, decimals); math.Abs(by/100-gain)*rangeOf(x)/2 <= shortShare*v.limit || decimals == 3 {
			return number(by, decimals) + "%", by != 100
		}
	}
}

// mostly is the share of the moments at which anything moves that must fit for the rest to count as something added.
const mostly = 0.5

// clearlyMore is by how much larger that share must be with a delay than without.
const clearlyMore = 0.1

// concentrations is how often a fit is made anew from the moments that it fits best.
const concentrations = 6

// mostly finds a size and a place with which a movement is what is wanted at most of the moments at which either moves,
// whatever it is at the others: least squares over the better part of them, again and again (P. J. Rousseeuw's least
// trimmed squares; from memory). It tells the share of those moments that fit.
func (v *voice) mostly(x []float64) (gain, place, share float64) {
	var active []int
	mx, my := median(slices.Clone(x)), median(slices.Clone(v.want))
	for k := range x {
		if math.Abs(x[k]-mx) > 2*v.limit || math.Abs(v.want[k]-my) > 2*v.limit {
			active = append(active, k)
		}
	}
	if len(active) < leastMoments {
		return 1, my - mx, 1
	}
	off := func(k int, gain, place float64) float64 { return math.Abs(v.want[k] - place - gain*x[k]) }
	shareOf := func(gain, place float64) float64 {
		fit := 0
		for _, k := range active {
			if off(k, gain, place) <= v.limit {
				fit++
			}
		}
		return float64(fit) / float64(len(active))
	}
	start, _ := v.regress(x)
	for _, g := range []float64{1, start} {
		rest := make([]float64, len(active))
		for n, k := range active {
			rest[n] = v.want[k] - g*x[k]
		}
		g, p := g, median(rest)
		for range concentrations {
			if s := shareOf(g, p); s > share {
				gain, place, share = g, p, s
			}
			slices.SortFunc(active, func(i, j int) int { return cmp.Compare(off(i, g, p), off(j, g, p)) })
			g, p = line(x, v.want, active[:(3*len(active)+4)/5])
		}
	}
	return gain, place, share
}

// line is the regression of y on x at some places, with a slope of at least 0.
func line(x, y []float64, at []int) (slope, place float64) {
	var mx, my, xy, xx float64
	for _, k := range at {
		mx, my = mx+x[k]/float64(len(at)), my+y[k]/float64(len(at))
	}
	for _, k := range at {
		xy += (x[k] - mx) * (y[k] - my)
		xx += (x[k] - mx) * (x[k] - mx)
	}
	if xx > 0 {
		slope = math.Max(0, xy/xx)
	}
	return slope, my - slope*mx
}
