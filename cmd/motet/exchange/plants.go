package exchange

import (
	"cmp"
	"math"
	"slices"
)

// stillShare is how far a limb's end may be from where it mostly is and still count as standing, as a share of what its
// place in the world may be off: a captured foot jitters by a millimetre or two on the ground (common practice).
const stillShare = 0.6

// leastFootSeconds and leastHandSeconds are how long an end stands at least. A foot of a walker is flat on the ground for
// about a quarter of a second before its heel leaves (common practice); hands pause in the air for as long.
const (
	leastFootSeconds = 0.2
	leastHandSeconds = 0.5
	leastPlantFrames = 4
)

// What carries a limb that is planted moves while its end does not: carriedTimes farther at least, and not by less than
// leastCarriedCM. An end that stands because everything stands is not planted, it is only still.
const (
	carriedTimes   = 3
	leastCarriedCM = 0.05
)

// standsAt is where the wanted joints stand in the clip at every so many steps; nil for all.
func (f *figure) standsAt(stride int, wanted []bool) [][]stand {
	joints := f.skeleton.joints
	out := make([][]stand, 0, (f.skeleton.steps-1)/stride+1)
	for step := 0; step < f.skeleton.steps; step += stride {
		at := make([]stand, len(joints))
		for i := range joints {
			if wanted != nil && !wanted[i] {
				continue
			}
			own := &joints[i].path[step]
			if p := joints[i].parent; p >= 0 {
				at[i] = at[p].carry(own)
			} else {
				at[i] = stand{own.move, own.turn.matrix().columnsScaled(own.scale)}
			}
		}
		out = append(out, at)
	}
	return out
}

// findPlants are the stretches in which a limb's end stands, within reach of one place, in the world or, for a hand, on
// another joint. stands are those of all joints by frame; a cycle's without its last.
func (f *figure) findPlants(l *limb, stands [][]stand, reach float64) []plant {
	seconds := leastHandSeconds
	if l.leg {
		seconds = leastFootSeconds
	}
	least := max(leastPlantFrames, int(math.Ceil(seconds*f.time.rate.perSecond()))+1)
	out := f.plantsOn(l, stands, -1, reach, least)
	if l.leg {
		return out
	}
	type carrying struct {
		on     int
		plants []plant
		frames int
		spread float64
	}
	best := carrying{on: -1, plants: out}
	measure := func(c *carrying) {
		for _, p := range c.plants {
			c.frames += p.to - p.from
			c.spread = math.Max(c.spread, spreadOf(l.end, c.on, stands, p.stretch))
		}
	}
	measure(&best)
	joints := f.skeleton.joints
	for on := range joints {
		if on == l.root || on == l.middle || on == l.end || slices.Contains(l.carried, on) || !f.mayCarry(on) {
			continue
		}
		c := carrying{on: on, plants: f.plantsOn(l, stands, on, reach, least)}
		measure(&c)
		// The longer, then the stiller; a joint is no better than another that carries it stiffly.
		if cmp.Or(cmp.Compare(c.frames, best.frames), cmp.Compare(0.8*best.spread, c.spread+1e-4)) > 0 {
			best = c
		}
	}
	return best.plants
}

// mayCarry tells whether something can rest on a joint: a part of the body that others hang on, or a prop.
func (f *figure) mayCarry(i int) bool {
	switch f.skeleton.joints[i].part {
	case "root", "spine", "head", "leg", "arm", "hand", "other":
		return f.moves(i)
	}
	return false
}

// moves tells whether a joint moves through the world.
func (f *figure) moves(i int) bool {
	for ; i >= 0; i = f.skeleton.joints[i].parent {
		if f.at[i] != [3][3]int{{-1, -1, -1}, {-1, -1, -1}, {-1, -1, -1}} {
			return true
		}
	}
	return false
}

// placeOn is where a joint is at a moment, in the world or in the frame of another.
func placeOn(joint, on int, at []stand) vec3 {
	if on < 0 {
		return at[joint].place
	}
	return at[on].undo(at[joint].place)
}

// spreadOf is the diagonal of the box of a joint's places in a stretch.
func spreadOf(joint, on int, stands [][]stand, s stretch) float64 {
	var places []vec3
	for k := s.from; k <= s.to; k++ {
		places = append(places, placeOn(joint, on, stands[k%len(stands)]))
	}
	return sizeOf(places)
}

// plantsOn are the stretches in which a limb's end stands in the world or on one joint, while its root moves there.
func (f *figure) plantsOn(l *limb, stands [][]stand, on int, reach float64, least int) []plant {
	places := make([]vec3, len(stands))
	for k := range stands {
		places[k] = placeOn(l.end, on, stands[k])
	}
	var out []plant
	for _, s := range stillStretches(places, f.closed, reach, least) {
		moved, stood := spreadOf(l.root, on, stands, s), spreadOf(l.end, on, stands, s)
		if moved >= leastCarriedCM && moved >= carriedTimes*stood {
			p := plant{stretch: s, on: on, anchor: s.middle(places)}
			f.anchor(l, &p, stands)
			out = append(out, p)
		}
	}
	return out
}

// anchorTries is how often a plant's anchor is moved toward where it costs the limb most.
const anchorTries = 100

// anchor puts a plant where it turns the limb's joints least at the moment at which it turns them most: what the end
// jitters along the limb counts many times what it does across, the more so the straighter the limb is. The way is that of
// the smallest enclosing ball (M. Badoiu, K. L. Clarkson, Smaller Core-Sets for Balls, 2003; from memory).
func (f *figure) anchor(l *limb, p *plant, stands [][]stand) {
	n := len(stands)
	sights := make([]limbSight, 0, p.to-p.from+1)
	for k := p.from; k <= p.to; k++ {
		sights = append(sights, f.sightOf(l, k%n))
	}
	best, least := p.anchor, math.Inf(1)
	for try := range anchorTries {
		worst, most, way := 0, -1.0, vec3{}
		for i := range sights {
			at := stands[(p.from+i)%n]
			there := p.anchor
			if p.on >= 0 {
				there = at[p.on].apply(there)
			}
			off := at[l.end].place.minus(there)
			along := off.dot(sights[i].line)
			across := off.minus(sights[i].line.times(along))
			if turned := math.Abs(along)*sights[i].bendPerCM + across.length()*sights[i].swingPerCM; turned > most {
				worst, most, way = i, turned, off
			}
		}
		if most < least {
			best, least = p.anchor, most
		}
		way = way.times(1 / float64(try+2))
		if p.on >= 0 {
			way = stands[(p.from+worst)%n][p.on].linear.inverse().apply(way)
		}
		p.anchor = p.anchor.plus(way)
	}
	p.anchor = best
}
