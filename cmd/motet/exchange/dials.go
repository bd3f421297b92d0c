package exchange

import (
	"cmp"
	"math"
	"slices"
)

// A channel is one dial of the sheet: a curve, and the series that it drives.
type channel struct {
	control  int // joint
	name     string
	positive string // which way is plus, in words, or ""
	flips    bool   // its sign flips when its control is mirrored
	drives   []drive
	base     float64 // the channel's value at rest: 100 for a scale
	closed   bool
	gain     float64 // of a round
	stepped  bool
	straight bool // its rows are the clip's own keys, with straight lines between
	keys     fit  // before they were written
	rows     []row
	// dropped says that it stays within the limits and went into the rest pose.
	dropped bool
	// worst is the largest error at a frame of any series that it drives, in its unit.
	worst float64
}

// A drive is a series that follows a channel: rest + gain × (channel − base).
type drive struct {
	series int
	gain   float64
}

// proportion is the correlation from which two series move as one.
const proportion = 0.99

// residualShare is how much of a series' allowance may go into moving it in proportion to
// another instead of as it does.
const residualShare = 0.45

// dials puts series that move in proportion on one channel with a gain each, and the
// others on one of their own. What is merged belongs together: the axes of one joint, a
// limb's or a spine's joints one below the other, the fingers of a hand. The series that
// moves most leads, so that gains are 1 or less.
func (f *figure) dials(allowance [][]float64) []channel {
	order := make([]int, len(f.series))
	for n := range order {
		order[n] = n
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(rangeOf(f.series[b].clip), rangeOf(f.series[a].clip))
	})
	var out []channel
	done := make([]bool, len(f.series))
	leads := make([]int, len(f.series)) // of each series that shares a dial, plus one
	for _, lead := range order {
		if done[lead] {
			continue
		}
		// Left and right go by the same finger, so that their dials mirror each other.
		if mate := f.mateOf(lead); mate >= 0 && leads[mate] > 0 {
			if other := f.mateOf(leads[mate] - 1); other >= 0 && !done[other] && f.related(other, lead) && f.follows(other, lead, allowance[lead]) {
				lead = other
			}
		}
		done[lead] = true
		group := []int{lead}
		for m := range f.series {
			if !done[m] && f.related(lead, m) && f.follows(lead, m, allowance[m]) {
				group = append(group, m)
				done[m] = true
			}
		}
		if len(group) > 1 {
			for _, m := range group {
				leads[m] = lead + 1
			}
		}
		out = append(out, f.channelOf(group))
	}
	sortByControl(out)
	return out
}

// sortByControl brings channels into the order of their controls, and those of one control
// into that of moves, turns and scales by axis.
func sortByControl(channels []channel) {
	slices.SortStableFunc(channels, func(a, b channel) int {
		return cmp.Or(cmp.Compare(a.control, b.control), cmp.Compare(a.drives[0].series, b.drives[0].series))
	})
}

// mateOf is the same series of the joint on the other side, or -1.
func (f *figure) mateOf(n int) int {
	s := &f.series[n]
	mate := f.skeleton.joints[s.joint].mate
	if mate < 0 {
		return -1
	}
	return f.at[mate][s.property][s.axes[0]]
}

// channelOf makes the channel that moves as the first of a group does and the others in
// proportion. Its control is the topmost joint of them, or what carries several fingers.
func (f *figure) channelOf(group []int) channel {
	s := &f.series[group[0]]
	c := channel{control: s.joint, closed: f.closed && !s.torn, gain: s.gain, stepped: s.stepped}
	if s.property == scales {
		c.base = 100
	}
	for n, m := range group {
		gain := 1.0
		if n > 0 {
			var shift float64
			gain, shift = f.regress(group[0], m)
			f.series[m].rest += shift
		}
		c.control = min(c.control, f.series[m].joint)
		c.drives = append(c.drives, drive{series: m, gain: gain})
	}
	if f.skeleton.joints[s.joint].part == "finger" {
		c.control = f.commonCarrier(group, c.control)
	}
	f.describe(&c)
	return c
}

// commonCarrier is the joint that carries the fingers of a group when they are not all of
// one finger, or else the control given.
func (f *figure) commonCarrier(group []int, control int) int {
	first := f.fingerBase(f.series[group[0]].joint)
	for _, m := range group[1:] {
		if f.fingerBase(f.series[m].joint) != first {
			if hand := f.skeleton.joints[first].parent; hand >= 0 {
				return hand
			}
		}
	}
	return control
}

// fingerBase is the topmost joint of the finger that a joint belongs to.
func (f *figure) fingerBase(i int) int {
	joints := f.skeleton.joints
	for p := joints[i].parent; p >= 0 && joints[p].part == joints[i].part; p = joints[p].parent {
		i = p
	}
	return i
}

// related tells whether one dial for two series would make sense to an animator.
func (f *figure) related(n, m int) bool {
	a, b := &f.series[n], &f.series[m]
	if a.property != turns || b.property != turns || a.stepped || b.stepped || a.torn || b.torn || a.gain != 0 || b.gain != 0 {
		return false
	}
	if a.joint == b.joint {
		return true
	}
	joints := f.skeleton.joints
	i, k := &joints[a.joint], &joints[b.joint]
	if i.side != k.side || i.part != k.part {
		return false
	}
	if i.part == "finger" {
		return joints[f.fingerBase(a.joint)].parent == joints[f.fingerBase(b.joint)].parent
	}
	return f.carries(a.joint, b.joint) || f.carries(b.joint, a.joint)
}

// carries tells whether joint i lies above joint k with nothing but the same part between.
func (f *figure) carries(i, k int) bool {
	joints := f.skeleton.joints
	for p := joints[k].parent; p >= 0 && joints[p].part == joints[k].part; p = joints[p].parent {
		if p == i {
			return true
		}
	}
	return false
}

// follows tells whether series m moves in proportion to the leader, closely enough that
// the rest of its allowance leaves room for a curve.
func (f *figure) follows(lead, m int, allowance []float64) bool {
	a, b := &f.series[lead], &f.series[m]
	if math.Abs(correlation(a.clip, b.clip)) < proportion {
		return false
	}
	gain, shift := f.regress(lead, m)
	if gain == 0 {
		return false
	}
	for k := range b.clip {
		off := gain*(a.clip[k]-a.rest) + b.rest + shift - b.clip[k]
		if math.Abs(off) > residualShare*allowance[k/stepsPerFrame] {
			return false
		}
	}
	return true
}

// regress is the gain (to three decimals) and the shift of rest with which series m
// follows the leader best.
func (f *figure) regress(lead, m int) (gain, shift float64) {
	a, b := &f.series[lead], &f.series[m]
	ma, mb := mean(a.clip), mean(b.clip)
	var ab, aa float64
	for k := range a.clip {
		ab += (a.clip[k] - ma) * (b.clip[k] - mb)
		aa += (a.clip[k] - ma) * (a.clip[k] - ma)
	}
	gain = math.Round(ab/aa*1000) / 1000
	return gain, tidy(mb-gain*(ma-a.rest)) - b.rest
}

// correlation is Pearson's, of the departures from the means.
func correlation(a, b []float64) float64 {
	ma, mb := mean(a), mean(b)
	var ab, aa, bb float64
	for k := range a {
		ab += (a[k] - ma) * (b[k] - mb)
		aa += (a[k] - ma) * (a[k] - ma)
		bb += (b[k] - mb) * (b[k] - mb)
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

func rangeOf(values []float64) float64 { return slices.Max(values) - slices.Min(values) }

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
