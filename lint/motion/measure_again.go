package motion

import "slices"

// SampledAgain is [Motion.SampledByFrame] for a motion of which an earlier version was sampled so: channels that have not
// changed are not looked at again, and figures are only made where some channel has another value. The answer is the same,
// bit for bit. Earlier may be nil, and of any motion.
//
// Figures are taken over where nothing but the channels' values at that moment decides them: the rig is the same, and so are
// the plants, which look at the moment at which they began, with the channels of their goals. And both are worked out in one
// way, as a whole or joint by joint: of the latter only some joints may be there.
func (m *Motion) SampledAgain(earlier *Sampled) *Sampled {
	s := m.unsampled(int(min(m.Sheet.Length.Round(), mostSteps)))
	if !s.alike(earlier) {
		s.sampleChannels()
		return s
	}
	changed := s.sampleChanged(earlier)
	if before := earlier.figures.Load(); before != nil && !changed.stirs && s.standsAs(earlier) {
		s.makeAgain(before, changed)
	}
	return s
}

// alike tells whether channels of an earlier sample that play as they did have the same samples.
func (s *Sampled) alike(earlier *Sampled) bool {
	if earlier == nil {
		return false
	}
	now, old := s.Motion, earlier.Motion
	return s.Count == earlier.Count && s.Step == earlier.Step && s.Closed == earlier.Closed &&
		now.Rig.origin == old.Rig.origin && len(now.Channels) == len(old.Channels)
}

// standsAs tells whether figures of an earlier sample can stand for those of this one where the channels' values are the same.
func (s *Sampled) standsAs(earlier *Sampled) bool {
	now, old := s.Motion, earlier.Motion
	return slices.Equal(now.solved, old.solved) && s.hangs() == earlier.hangs() && slices.EqualFunc(now.Plants, old.Plants, func(a, b Plant) bool {
		return samePlant(a, b) && a.On < 0 && (a.Chain < 0 || now.goalPlaysAs(old, a.Chain))
	})
}

// goalPlaysAs tells whether the channels of a chain's goal play as in another motion on the rig.
func (m *Motion) goalPlaysAs(o *Motion, chain int) bool {
	goal := m.Rig.Chains[chain].Goal
	for i := range m.Channels {
		moves := func(d Drive) bool { return d.Kind == DrivesGoal && d.Goal == goal }
		if m.Channels[i].Voice != o.Channels[i].Voice && slices.ContainsFunc(m.Channels[i].Dial.Drives, moves) {
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
		if c.Voice == earlier.Motion.Channels[i].Voice {
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
