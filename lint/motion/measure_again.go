package motion

// SampledAgain is [Motion.SampledByFrame] for a motion of which an earlier version was sampled so: channels that have not
// changed are not looked at again, and figures are only made where some channel has another value. The answer is the same,
// bit for bit. Earlier may be nil, and of any motion.
//
// Figures are taken over where nothing but the channels' values at that moment decides them: the rig is the same, and there
// is no plant, which looks at the moment at which it began. And both are worked out in one way, as a whole or joint by joint:
// of the latter only some joints may be there.
func (m *Motion) SampledAgain(earlier *Sampled) *Sampled {
	s := m.unsampled(int(min(m.Sheet.Length.Round(), mostSteps)))
	if !s.alike(earlier) {
		s.sampleChannels()
		return s
	}
	changed := s.sampleChanged(earlier)
	if before := earlier.figures.Load(); before != nil && !changed.stirs {
		s.makeAgain(before, changed)
	}
	return s
}

// alike tells whether figures of an earlier sample can stand for those of this one where the channels' values are the same.
func (s *Sampled) alike(earlier *Sampled) bool {
	if earlier == nil {
		return false
	}
	now, old := s.Motion, earlier.Motion
	return s.Count == earlier.Count && s.Step == earlier.Step && s.Closed == earlier.Closed &&
		now.Rig.origin == old.Rig.origin && len(now.Channels) == len(old.Channels) &&
		len(now.Plants)+len(old.Plants) == 0 && sameSolved(now.solved, old.solved) && s.hangs() == earlier.hangs()
}

func sameSolved(a, b []bool) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// changes are the channels that have another value somewhere, and the samples at which one has.
type changes struct {
	channels []int
	samples  []bool
	// stirs says that a channel moves that kept still, or the other way round: then joints are put together in other steps, at
	// all samples, and each step rounds.
	stirs bool
}

// sampleChanged fills in the channels' values, and tells where they differ from the earlier ones.
func (s *Sampled) sampleChanged(earlier *Sampled) changes {
	changed := changes{samples: make([]bool, s.Count)}
	var times, late, more []float64
	for i := range s.Motion.Channels {
		c := &s.Motion.Channels[i]
		before := earlier.values[i]
		if c.sameBase(&earlier.Motion.Channels[i]) {
			s.values[i], s.ranges[i] = before, earlier.ranges[i]
			continue
		}
		if times == nil {
			times, late, more = s.times(), make([]float64, s.Count), make([]float64, s.Count)
		}
		s.values[i] = make([]float64, s.Count)
		c.sample(s.values[i], times, late, more)
		s.measureRange(i)
		changed.channels = append(changed.channels, i)
		changed.stirs = changed.stirs || s.still(i) != earlier.still(i)
		for k, v := range s.values[i] {
			changed.samples[k] = changed.samples[k] || v != before[k]
		}
	}
	return changed
}

// still tells whether a channel has one value at all samples.
func (s *Sampled) still(channel int) bool { return s.ranges[channel][0] == s.ranges[channel][1] }

// sameBase tells whether two channels of one rig play the same curve, and nothing else.
func (c *Channel) sameBase(o *Channel) bool {
	alone := func(c *Channel) bool { return len(c.Follows)+len(c.Waves)+len(c.over) == 0 }
	return c.curve() == o.curve() && c.Late == o.Late && alone(c) && alone(o)
}

// curve is the curve of the base; nil where no key moves the channel.
func (c *Channel) curve() *Curve {
	if c.Base == nil {
		return nil
	}
	return c.Base.Curve
}
