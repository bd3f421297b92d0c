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
	cut      bool // it jumps between pieces that are fitted by themselves
	keys     fit  // before they were written
	rows     []row
	// constant says that one value does for the whole clip, anywhere from low to high; resting is its row.
	constant  bool
	low, high float64
	resting   []row
	// known says that the rig has it already. above says that it has what other dials leave of what it moves: under is
	// how much they move it, by step.
	known, above bool
	under        []float64
	// number is the place of a known one in the rig's table. One that moves numbers together with others is in a mesh, at a
	// place, and wants to be so far from rest, by step.
	number int
	mesh   *mesh
	place  int
	want   []float64
	// dropped says that the sheet says nothing of it: it stays within the limits of where it rests.
	dropped bool
	// worst is the largest error at a frame of any series that it drives, in its unit.
	worst float64
}

// A drive is a series that follows a channel: rest + gain × (channel − base).
type drive struct {
	series int
	gain   float64
	// loose says that the channel moves it whether it should or not: another has the rest of what the clip wants.
	loose bool
}

// proportion is the correlation from which two series move as one.
const proportion = 0.99

// residualShare is how much of a series' allowance may go into moving it in proportion to
// another instead of as it does.
const residualShare = 0.45

// dials puts series that move in proportion, in all clips, on one channel with a gain each, and
// the others on one of their own. What is merged belongs together: the axes of one joint, a
// limb's or a spine's joints one below the other, the fingers of a hand. The series that
// moves most leads, so that gains are 1 or less. It gives the same channels to each figure.
func (e *ensemble) dials(allowance [][][]float64) [][]channel {
	f := e.lead
	all := e.allClips()
	order := make([]int, len(f.series))
	for n := range order {
		order[n] = n
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(rangeOf(all[b]), rangeOf(all[a]))
	})
	out := make([][]channel, len(e.figures))
	done := make([]bool, len(f.series))
	leads := make([]int, len(f.series)) // of each series that shares a dial, plus one
	for _, lead := range order {
		if done[lead] {
			continue
		}
		// Left and right go by the same finger, so that their dials mirror each other.
		if mate := f.mateOf(lead); mate >= 0 && leads[mate] > 0 {
			if other := f.mateOf(leads[mate] - 1); other >= 0 && !done[other] && e.related(other, lead) && e.follows(all, other, lead, allowance) {
				lead = other
			}
		}
		done[lead] = true
		group := []int{lead}
		for m := range f.series {
			if !done[m] && e.related(lead, m) && e.follows(all, lead, m, allowance) {
				group = append(group, m)
				done[m] = true
			}
		}
		if len(group) > 1 {
			for _, m := range group {
				leads[m] = lead + 1
			}
		}
		for k, c := range e.channelOf(all, group) {
			out[k] = append(out[k], c)
		}
	}
	for _, channels := range out {
		sortByControl(channels)
	}
	return out
}

// allClips are the series over all clips that have their joint, one after the other.
func (e *ensemble) allClips() [][]float64 {
	out := make([][]float64, len(e.lead.series))
	for n := range out {
		if len(e.figures) == 1 {
			out[n] = e.lead.series[n].clip
			continue
		}
		for _, f := range e.present(e.lead.series[n].joint) {
			out[n] = append(out[n], f.series[n].clip...)
		}
	}
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
// proportion, for each figure. Its control is the topmost joint of them, or what carries several fingers.
func (e *ensemble) channelOf(all [][]float64, group []int) []channel {
	lead := &e.lead.series[group[0]]
	c := channel{control: lead.joint}
	if lead.property == scales {
		c.base = 100
	}
	for n, m := range group {
		gain := 1.0
		if n > 0 {
			var shift float64
			gain, shift = e.regress(all, group[0], m)
			for _, f := range e.figures {
				f.series[m].rest += shift
			}
		}
		c.control = min(c.control, e.lead.series[m].joint)
		c.drives = append(c.drives, drive{series: m, gain: gain})
	}
	if e.lead.skeleton.joints[lead.joint].part == "finger" {
		c.control = e.lead.commonCarrier(group, c.control)
	}
	e.lead.describe(&c)
	out := make([]channel, len(e.figures))
	for k, f := range e.figures {
		s := &f.series[group[0]]
		out[k] = c
		out[k].closed, out[k].gain, out[k].stepped = f.closed && !s.torn, s.gain*c.drives[0].gain, s.stepped
	}
	return out
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

// related tells whether one dial for two series would make sense to an animator, in each clip.
func (e *ensemble) related(n, m int) bool {
	for _, f := range e.figures {
		a, b := &f.series[n], &f.series[m]
		if a.property != turns || b.property != turns || a.stepped || b.stepped || a.torn || b.torn || a.gain != 0 || b.gain != 0 {
			return false
		}
		if f.skeleton.joints[a.joint].absent != f.skeleton.joints[b.joint].absent {
			return false
		}
	}
	f := e.lead
	a, b := &f.series[n], &f.series[m]
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

// follows tells whether series m moves in proportion to the leader in all clips, closely enough that
// the rest of its allowance leaves room for a curve.
func (e *ensemble) follows(all [][]float64, lead, m int, allowance [][][]float64) bool {
	if math.Abs(correlation(all[lead], all[m])) < proportion {
		return false
	}
	gain, shift := e.regress(all, lead, m)
	if gain == 0 {
		return false
	}
	for n, f := range e.figures {
		a, b := &f.series[lead], &f.series[m]
		if f.skeleton.joints[b.joint].absent {
			continue
		}
		for k := range b.clip {
			off := gain*(a.clip[k]-a.rest) + b.rest + shift - b.clip[k]
			if math.Abs(off) > residualShare*allowance[n][m][k/stepsPerFrame] {
				return false
			}
		}
	}
	return true
}

// regress is the gain (to three decimals) and the shift of rest with which series m
// follows the leader best, over all clips.
func (e *ensemble) regress(all [][]float64, lead, m int) (gain, shift float64) {
	a, b := all[lead], all[m]
	ma, mb := mean(a), mean(b)
	var ab, aa float64
	for k := range a {
		ab += (a[k] - ma) * (b[k] - mb)
		aa += (a[k] - ma) * (a[k] - ma)
	}
	gain = math.Round(ab/aa*1000) / 1000
	return gain, tidy(mb-gain*(ma-e.lead.series[lead].rest)) - e.lead.series[m].rest
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
