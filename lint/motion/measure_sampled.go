package motion

import (
	"math"
	"sync"
	"sync/atomic"
)

// Sampled is a whole motion looked at at even times: every channel's value and every joint's place in the world, worked
// out once for all who measure it. What it says never changes; where the joints are is worked out when it is first asked
// for, since most who measure look at channels alone.
type Sampled struct {
	Motion *Motion
	Count  int     // samples: one a step, and in a span one more, at its end
	Step   float64 // frames from one sample to the next
	Closed bool    // a cycle, whose sample Count would be sample 0 of the next round

	values [][]float64  // by channel; one that has not changed shares its values with the earlier sample
	ranges [][2]float64 // the least and the greatest of each channel's values

	making  sync.Mutex
	figures atomic.Pointer[figures] // of the joints that were asked for; nil while none were
}

// At most this many steps are taken, eleven minutes of frames at 24 fps, so that a slip of the pen in a length can't ask
// for all the memory there is.
const mostSteps = 1 << 14

// SampledByFrame looks at a whole motion about once a frame: in the whole number of steps that is nearest to its length
// in frames, which is every frame where the length is whole. Beyond 16 384 steps they grow longer.
func (m *Motion) SampledByFrame() *Sampled {
	return m.Sampled(int(min(m.Sheet.Length.Round(), mostSteps)))
}

// SampledByBeat looks at a whole motion about so many times a beat: in the nearest whole number of steps, and above 512 in
// the nearest that can be halved until it is no more than that, so that Fourier transforms of it stay fast. A sheet
// without a tempo has beats of a second. Beyond 16 384 steps they grow longer.
func (m *Motion) SampledByBeat(samplesABeat int) *Sampled {
	beats := m.Sheet.Beats(m.Sheet.Length).Float()
	steps, unit := min(beats*float64(samplesABeat), mostSteps), 1.0
	for steps/unit > 512 {
		unit *= 2
	}
	return m.Sampled(int(math.Round(steps/unit) * unit))
}

// Sampled looks at a whole motion in a number of even steps, at least 1 and at most 16 384.
func (m *Motion) Sampled(steps int) *Sampled {
	s := m.unsampled(steps)
	s.sampleChannels()
	return s
}

// unsampled makes room for samples.
func (m *Motion) unsampled(steps int) *Sampled {
	steps = min(max(steps, 1), mostSteps)
	s := &Sampled{Motion: m, Count: steps, Closed: m.Sheet.Closed}
	if !s.Closed {
		s.Count++
	}
	s.Step = m.Sheet.Length.Float() / float64(steps)
	s.values, s.ranges = make([][]float64, len(m.Channels)), make([][2]float64, len(m.Channels))
	return s
}

func (s *Sampled) times() []float64 {
	times := make([]float64, s.Count)
	for i := range times {
		times[i] = s.Time(i)
	}
	return times
}

// Time is the time of a sample in frames.
func (s *Sampled) Time(i int) float64 { return float64(i) * s.Step }

// Channel is a channel's value as played, in its unit.
func (s *Sampled) Channel(channel int) Signal {
	c := &s.Motion.Channels[channel]
	return Signal{s.values[channel], s.Closed, s.Motion.advances(c)}
}

// advances is what a channel gains every round, as played.
func (m *Motion) advances(c *Channel) float64 {
	if c.Base == nil || !m.Sheet.Closed {
		return 0
	}
	gain := m.Sheet.Advance[c.Dial.Path]
	for i := range c.over {
		if c.over[i].replaces() {
			gain *= 1 - c.over[i].layer.Strength
		}
	}
	return gain
}

// Place is where a joint's pivot stands in the world on one axis, 0 to 2 for x, y and z, in cm.
func (s *Sampled) Place(joint, axis int) Signal {
	f := s.seen(joint)
	p := Signal{Samples: row(f.places[joint], axis, s.Count), Closed: s.Closed}
	if f.gained != nil {
		p.Gain = f.gained[3*joint+axis]
	}
	return p
}

// Limb is by how much a chain's end stays short of its goal at each sample, in cm, and how far its middle joint is bent, in
// degrees: 0 is straight, and NaN where the chain is not solved. The slices may be the sample's own; don't write to them.
func (s *Sampled) Limb(chain int) (shortCm, bendDeg []float64) {
	if s.hangs() {
		limb := make([]float64, 2*s.Count)
		shortCm, bendDeg = limb[:s.Count], limb[s.Count:]
		for k := range bendDeg {
			bendDeg[k] = math.NaN()
		}
		return shortCm, bendDeg
	}
	f := s.seenAll()
	return row(f.shorts, chain, s.Count), row(f.bends, chain, s.Count)
}

// Stretched is a chain's length from root to end at a sample as a share of its bones' lengths: 1 is straight.
func (s *Sampled) Stretched(chain, k int) float64 {
	c := &s.Motion.Rig.Chains[chain]
	root, middle, end := s.place(c.Root, k), s.place(c.Middle, k), s.place(c.End, k)
	return length(minus(end, root)) / (length(minus(middle, root)) + length(minus(end, middle)))
}

func row(rows []float64, i, count int) []float64 {
	return rows[i*count : (i+1)*count : (i+1)*count]
}

func (s *Sampled) sampleChannels() {
	times := make([]float64, 3*s.Count)
	times, late, more := times[:s.Count], times[s.Count:2*s.Count], times[2*s.Count:]
	for i := range times {
		times[i] = s.Time(i)
	}
	all := make([]float64, len(s.Motion.Channels)*s.Count)
	for i := range s.Motion.Channels {
		s.values[i] = row(all, i, s.Count)
		s.Motion.Channels[i].sample(s.values[i], times, late, more)
		s.measureRange(i)
	}
}

func (s *Sampled) measureRange(channel int) {
	s.ranges[channel][0], s.ranges[channel][1] = s.Channel(channel).Range()
}

// Range is the least and the greatest of a channel's samples, in its unit.
func (s *Sampled) Range(channel int) (least, most float64) {
	return s.ranges[channel][0], s.ranges[channel][1]
}

// sample writes the channel's values at rising times into dst, as [Channel.At] gives them. The two buffers are as long.
func (c *Channel) sample(dst, times, late, more []float64) {
	if c.Base == nil {
		for i := range dst {
			dst[i] = c.Dial.Rest
		}
	} else {
		by := c.Late.Float()
		for i, t := range times {
			late[i] = t - by
		}
		c.Base.Curve.Sample(dst, late)
	}
	for i, t := range times {
		for k := range c.Follows {
			v, _ := c.Follows[k].signal(t)
			dst[i] += v
		}
		for k := range c.Waves {
			v, _ := c.Waves[k].at(t)
			dst[i] += v
		}
	}
	for k := range c.over {
		c.over[k].sample(dst, times, more)
	}
}

// sample adds or blends a layer's values into dst.
func (o *overlay) sample(dst, times, more []float64) {
	clear(more)
	if o.strand != nil {
		o.strand.Curve.Sample(more, times)
	}
	replaces := o.replaces()
	for i, t := range times {
		v := more[i]
		for k := range o.waves {
			wave, _ := o.waves[k].at(t)
			v += wave
		}
		if replaces {
			v -= dst[i]
		}
		dst[i] += o.layer.Strength * v
	}
}

// place is a joint's pivot at a sample; the sample after a cycle's last one is its first in the next round.
func (s *Sampled) place(joint, k int) [3]float64 { return s.placeIn(s.seen(joint), joint, k) }

func (s *Sampled) placeIn(f *figures, joint, k int) (p [3]float64) {
	round := 0
	if k == s.Count {
		k, round = 0, 1
	}
	for axis := range p {
		p[axis] = f.places[joint][axis*s.Count+k]
		if round == 1 && f.gained != nil {
			p[axis] += f.gained[3*joint+axis]
		}
	}
	return p
}

// Turn is a joint's turn in its parent's frame at a sample, by columns, as its channels give it and before its chain is
// solved. In a cycle the sample may lie in any round; in a span it is held inside.
func (s *Sampled) Turn(joint, k int) [9]float64 {
	if s.Closed {
		k = (k%s.Count + s.Count) % s.Count
	}
	k = min(max(k, 0), s.Count-1)
	rig := s.Motion.Rig
	degrees := rig.Joints[joint].RestTurn
	for i := range rig.Channels {
		dial := &rig.Channels[i]
		for _, d := range dial.Drives {
			for axis := range 3 {
				if d.Joint == joint && d.Kind == DrivesTurn && d.Axes[axis] {
					degrees[axis] += d.Gain * (s.values[i][k] - dial.Rest)
				}
			}
		}
	}
	return TurnMatrix(rig.Joints[joint].Order, degrees)
}

// TurnBetween is the turn that leads from one orientation to another, about the axes of the first: an axis as long as the
// turn's angle in degrees, 0 to 180 (the axis and angle of a rotation matrix; any handbook of kinematics, from memory).
func TurnBetween(from, to *[9]float64) [3]float64 {
	var m [3][3]float64 // fromᵀ · to
	for row := range m {
		for column := range m {
			for k := range 3 {
				m[row][column] += from[row*3+k] * to[column*3+k]
			}
		}
	}
	axis := [3]float64{m[2][1] - m[1][2], m[0][2] - m[2][0], m[1][0] - m[0][1]}
	sin, cos := length(axis)/2, (m[0][0]+m[1][1]+m[2][2]-1)/2
	if sin == 0 {
		return [3]float64{math.Atan2(0, cos) * 180 / math.Pi} // none at all, or half a turn, whose axis no longer counts
	}
	return times(axis, math.Atan2(sin, cos)*180/math.Pi/(2*sin))
}
