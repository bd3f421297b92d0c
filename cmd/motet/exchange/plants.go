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

// A steadiness says how still an end has to be to be held: within reach of one place, and so that holding it turns the
// limb's joints by no more than so many degrees.
type steadiness struct{ reach, turnDeg float64 }

// steadinessWithin is what is asked of an end for the limits of an import.
func steadinessWithin(w Within) steadiness {
	return steadiness{stillShare * w.WorldCM, anchorShare * w.TurnDeg}
}

// findPlants are the stretches in which a limb's end stands, in the world or, for a hand, on another joint. stands are those
// of all joints by frame; a cycle's without its last.
func (f *figure) findPlants(l *limb, stands [][]stand, h steadiness) []plant {
	seconds := leastHandSeconds
	if l.leg {
		seconds = leastFootSeconds
	}
	least := max(leastPlantFrames, int(math.Ceil(seconds*f.time.rate.perSecond()))+1)
	out := f.plantsOn(l, stands, -1, h, least)
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
		c := carrying{on: on, plants: f.plantsOn(l, stands, on, h, least)}
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
func (f *figure) plantsOn(l *limb, stands [][]stand, on int, h steadiness, least int) []plant {
	places := make([]vec3, len(stands))
	for k := range stands {
		places[k] = placeOn(l.end, on, stands[k])
	}
	carried := func(s stretch) bool {
		moved, stood := spreadOf(l.root, on, stands, s), spreadOf(l.end, on, stands, s)
		return moved >= leastCarriedCM && moved >= carriedTimes*stood
	}
	var out []plant
	for _, s := range stillStretches(places, f.closed, h.reach, least) {
		if !carried(s) {
			continue
		}
		a := f.anchorageOf(l, on, stands)
		p := plant{stretch: s, on: on, anchor: s.middle(places)}
		if turned := a.settle(&p, anchorTries); turned > h.turnDeg {
			// What has begun to leave, or lands late, is not what stands.
			if q := a.longest(p, h.turnDeg); q.to-q.from+1 >= least && float64(q.to-q.from) >= standingShare*float64(s.to-s.from) && carried(q.stretch) {
				p = q
			}
		}
		out = append(out, p)
	}
	return out
}

// anchorTries is how often a plant's anchor is moved toward where it costs the limb most, and anchorRetries how often when a
// frame has joined it.
const (
	anchorTries   = 100
	anchorRetries = 12
)

// standingShare is the share of a stretch that must be left when its ends are cut off because they can't be held.
const standingShare = 0.5

// An anchorage is what is known for finding the place at which a limb's end is best held.
type anchorage struct {
	limb   *limb
	on     int
	stands [][]stand
	sights []limbSight // by frame; made when first asked for
	seen   []bool
	figure *figure
}

func (f *figure) anchorageOf(l *limb, on int, stands [][]stand) *anchorage {
	return &anchorage{limb: l, on: on, stands: stands, figure: f, sights: make([]limbSight, len(stands)), seen: make([]bool, len(stands))}
}

// turned is by how many degrees an end that is held at an anchor turns its limb's joints at a frame, and the way from there
// to where it is in the clip.
func (a *anchorage) turned(anchor vec3, frame int) (turnedDeg float64, way vec3) {
	frame %= len(a.stands)
	if !a.seen[frame] {
		a.sights[frame], a.seen[frame] = a.figure.sightOf(a.limb, frame), true
	}
	sight, at := &a.sights[frame], a.stands[frame]
	if a.on >= 0 {
		anchor = at[a.on].apply(anchor)
	}
	off := at[a.limb.end].place.minus(anchor)
	along := off.dot(sight.line)
	across := off.minus(sight.line.times(along))
	return math.Abs(along)*sight.bendPerCM + across.length()*sight.swingPerCM, off
}

// settle puts a plant where it turns the limb's joints least at the moment at which it turns them most, and tells by how
// much: what the end jitters along the limb counts many times what it does across, the more so the straighter the limb is.
// The way is that of the smallest enclosing ball (M. Badoiu, K. L. Clarkson, Smaller Core-Sets for Balls, 2003; from memory).
func (a *anchorage) settle(p *plant, tries int) float64 {
	best, least := p.anchor, math.Inf(1)
	for try := range tries {
		worst, most, way := 0, -1.0, vec3{}
		for k := p.from; k <= p.to; k++ {
			if turned, off := a.turned(p.anchor, k); turned > most {
				worst, most, way = k, turned, off
			}
		}
		if most < least {
			best, least = p.anchor, most
		}
		way = way.times(1 / float64(try+2))
		if p.on >= 0 {
			way = a.stands[worst%len(a.stands)][p.on].linear.inverse().apply(way)
		}
		p.anchor = p.anchor.plus(way)
	}
	p.anchor = best
	return least
}

// longest is the longest part of a plant that turns the limb's joints by no more than a limit. Of one that holds all of a
// cycle it may go across the seam.
func (a *anchorage) longest(whole plant, limitDeg float64) (best plant) {
	last, n := whole.to, len(a.stands)
	if whole.to-whole.from >= n {
		last = whole.from + 2*n - 2
	}
	best = plant{stretch: stretch{whole.from, whole.from - 1}, on: whole.on}
	p := plant{stretch: stretch{whole.from, whole.from}, on: whole.on, anchor: whole.anchor}
	for p.to <= last && p.to-p.from < n {
		fits := true
		if turned, _ := a.turned(p.anchor, p.to); turned > limitDeg {
			q := p
			if fits = a.settle(&q, anchorRetries) <= limitDeg; fits {
				p = q
			}
		}
		switch {
		case !fits && p.from == p.to:
			p.from, p.to = p.from+1, p.to+1
		case !fits:
			p.from++
			continue
		default:
			if p.to-p.from > best.to-best.from {
				best = p
			}
			p.to++
		}
	}
	if best.from >= n {
		best.from, best.to = best.from-n, best.to-n
	}
	if best.to >= best.from {
		a.settle(&best, anchorTries)
	}
	return best
}
