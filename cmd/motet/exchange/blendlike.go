package exchange

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// A shaper is one morph target of a performance.
type shaper struct {
	name   string // for people
	target motion.ModelTarget
	place  int  // among its mesh's targets, -1 where that is not known
	moves  bool // its weight changes
}

// A WeightLikeness is how far the weight of one morph target is off, in per cent, on the mesh where it is farthest off.
type WeightLikeness struct {
	Target string
	Weight Departure
}

// blend makes a sheet's performance one of its morph targets too.
func (p *performance) blend(m *motion.Motion) {
	for i := range m.Rig.Morphs {
		s := shaper{name: m.Rig.Morphs[i].Word, target: m.Rig.Morphs[i].Target, place: -1}
		for k := range m.Channels {
			for _, d := range m.Channels[k].Dial.Morphs {
				s.moves = s.moves || d.Target == i && m.Channels[k].Moves()
			}
		}
		p.shapers = append(p.shapers, s)
	}
	var values []float64
	p.weigh = func(seconds float64, into []float64) {
		values = m.Values(atMoment(m, math.Min(seconds/p.frame, m.Sheet.Length.Float())), values)
		copy(into, m.Rig.Weights(values, into))
	}
}

// blendClip makes a clip's performance one of the morph targets that it has a say in too, each on its own node.
func (p *performance) blendClip(d *Document, clip *Clip) {
	type lead struct {
		track  *track
		target int
	}
	var all []lead
	for i := range clip.weights {
		t := &clip.weights[i]
		for target, name := range d.blends[t.node].names {
			all = append(all, lead{t, target})
			p.shapers = append(p.shapers, shaper{
				name: name + " of " + d.label(t.node), place: target, moves: t.stirs(target),
				target: motion.ModelTarget{Name: name, On: true, Node: t.node, NodeName: d.nodes[t.node].name},
			})
		}
	}
	p.weigh = func(seconds float64, into []float64) {
		for i, l := range all {
			into[i] = l.track.weight(l.target, clip.Start+seconds)
		}
	}
}

// A blending holds the weights of a clip against those of a motion.
type blending struct {
	clip   *Clip
	places []blendPlace
	asked  []float64 // of the motion's targets
	found  []blendOff
}

// A blendOff is how far one target is off, and how far at the moment that is looked at, in per cent.
type blendOff struct {
	Departure
	now float64
}

// A blendPlace is a target of a node, and those of the motion's that it is.
type blendPlace struct {
	shapers []int
	target  int
	track   *track // nil where the clip leaves the node alone
	rest    float64
}

// at is the clip's weight at a time in seconds from its start.
func (b *blendPlace) at(clip *Clip, seconds float64) float64 {
	if b.track == nil {
		return b.rest
	}
	return b.track.weight(b.target, clip.Start+seconds)
}

// findTargets finds the targets of a motion in a clip's file, and notes what is missing and what is lost.
func (l *Likeness) findTargets(p *performance, d *Document, clip *Clip) (*blending, error) {
	b := &blending{clip: clip, asked: make([]float64, len(p.shapers)), found: make([]blendOff, len(p.shapers))}
	at := map[[2]int]int{}
	tracks := map[int]*track{}
	for i := range clip.weights {
		tracks[clip.weights[i].node] = &clip.weights[i]
	}
	for i := range p.shapers {
		s := &p.shapers[i]
		found, err := d.placesOf(s)
		if err != nil {
			return nil, fmt.Errorf("morph target %q: %w", s.name, err)
		}
		if len(found) == 0 {
			l.MissingTargets = append(l.MissingTargets, s.name)
			if s.moves {
				l.LostTargets = append(l.LostTargets, s.name)
			}
		}
		for _, place := range found {
			k, there := at[place]
			if !there {
				k = len(b.places)
				at[place] = k
				b.places = append(b.places, blendPlace{target: place[1], track: tracks[place[0]], rest: d.blends[place[0]].restOf(place[1])})
			}
			b.places[k].shapers = append(b.places[k].shapers, i)
		}
	}
	return b, nil
}

// placesOf finds a target in a file: by its name, by its name's letters and digits, or, where a build has dropped the names of
// a node's targets, by its place.
func (d *Document) placesOf(s *shaper) ([][2]int, error) {
	target := s.target
	if target.On {
		n, err := findNode(&modelNode{number: target.Node, name: target.NodeName}, d.nodes)
		switch {
		case err != nil:
			return nil, err
		case n < 0 || d.blends[n] == nil:
			// The node is gone, as where a build has merged it: the name is what is left to go by.
			target.On = false
		}
	}
	found, err := blendsOf(&target, d.blends, d.nodes)
	if err != nil || len(found) > 0 {
		return found, err
	}
	letters := lettersOf(target.Name)
	for n, b := range d.blends {
		if target.On && d.nodes[n].name != target.NodeName {
			continue
		}
		for i, name := range b.names {
			switch {
			case letters != "" && lettersOf(name) == letters,
				target.On && i == s.place && name == motion.TargetName(nil, i):
				found = append(found, [2]int{n, i})
			}
		}
	}
	slices.SortFunc(found, func(a, b [2]int) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	return found, nil
}

// measure holds the weights at one moment of both against each other. told is the moment for the report.
func (b *blending) measure(p *performance, l *Likeness, seconds, clipSeconds, told float64) {
	if len(p.shapers) == 0 {
		return
	}
	p.weigh(seconds, b.asked)
	for i := range b.found {
		b.found[i].now = 0
	}
	for k := range b.places {
		place := &b.places[k]
		off := 100 * math.Abs(place.at(b.clip, clipSeconds)-place.wanted(b.asked))
		for _, i := range place.shapers {
			b.found[i].now = math.Max(b.found[i].now, off)
		}
	}
	for i := range b.found {
		b.found[i].see(b.found[i].now, told, l.Moments)
	}
}

// wanted is what the motion gives the place, for the weights of its targets.
func (b *blendPlace) wanted(weights []float64) (sum float64) {
	for _, i := range b.shapers {
		sum += weights[i]
	}
	return sum
}

// wantedAt is what a motion gives each place at a time in seconds, in per cent.
func (b *blending) wantedAt(p *performance, seconds float64) []float64 {
	out := make([]float64, len(b.places))
	if len(out) > 0 {
		p.weigh(seconds, b.asked)
	}
	for k := range b.places {
		out[k] = 100 * b.places[k].wanted(b.asked)
	}
	return out
}

// playedAt is what the clip gives each place at a time in seconds from its start, in per cent.
func (b *blending) playedAt(clipSeconds float64) []float64 {
	out := make([]float64, len(b.places))
	for k := range b.places {
		out[k] = 100 * b.places[k].at(b.clip, clipSeconds)
	}
	return out
}

// seam holds the steps from the last moment to the first against each other.
func (b *blending) seam(p *performance, l *Likeness, clipSeconds float64) {
	if len(p.shapers) == 0 {
		return
	}
	first := make([]float64, len(p.shapers))
	p.weigh(0, first)
	p.weigh(p.seconds, b.asked)
	for k := range b.places {
		place := &b.places[k]
		step := place.wanted(first) - place.wanted(b.asked)
		own := place.at(b.clip, 0) - place.at(b.clip, clipSeconds)
		if off := 100 * math.Abs(step-own); off > l.Seam.WeightPercent {
			l.Seam.WeightPercent, l.Seam.WeightTarget = off, p.shapers[place.shapers[0]].name
		}
	}
}

// told are the likenesses of the targets that the file has.
func (b *blending) told(p *performance) (out []WeightLikeness) {
	there := make([]bool, len(p.shapers))
	for k := range b.places {
		for _, i := range b.places[k].shapers {
			there[i] = true
		}
	}
	for i, is := range there {
		if is {
			out = append(out, WeightLikeness{Target: p.shapers[i].name, Weight: b.found[i].Departure})
		}
	}
	return out
}

// LargestWeight is the largest departure of all weights, and the target that it is of; empty where none is off.
func (l *Likeness) LargestWeight() (weight Departure, target string) {
	for i := range l.Weights {
		if w := &l.Weights[i]; w.Weight.Largest > weight.Largest {
			weight, target = w.Weight, w.Target
		}
	}
	return weight, target
}
