package motion

// Quivered is what the quivers give to a channel at a time in frames, and its slope a frame: how much of [Channel.At] is
// micro-movement. What is left without it is the pose.
func (c *Channel) Quivered(frames float64) (value, slope float64) {
	value, slope = quiversAt(c.Waves, frames)
	for i := range c.over {
		over := &c.over[i]
		v, s := quiversAt(over.waves, frames)
		if over.replaces() {
			v, s = v-value, s-slope
		}
		value += over.layer.Strength * v
		slope += over.layer.Strength * s
	}
	return value, slope
}

func quiversAt(waves []Wave, frames float64) (value, slope float64) {
	for i := range waves {
		if waves[i].Quiver != nil {
			v, s := waves[i].at(frames)
			value, slope = value+v, slope+s
		}
	}
	return value, slope
}

// EveryWave gives the channel's quivers and breaths, those in layers behind the others.
func (c *Channel) EveryWave() func(yield func(*Wave) bool) {
	return func(yield func(*Wave) bool) {
		for i := range c.Waves {
			if !yield(&c.Waves[i]) {
				return
			}
		}
		for k := range c.over {
			for i := range c.over[k].waves {
				if !yield(&c.over[k].waves[i]) {
					return
				}
			}
		}
	}
}
