package exchange

import (
	"fmt"
	"math"
)

// A holding holds a clip against a motion.
type holding struct {
	l             *Likeness
	motion, clip  *performance
	nodes         []int // of the motion's joints, -1 for none
	asked, played []standing
	blend         *blending
	// frame takes the clip's world into the motion's.
	frame matrix
	found []JointLikeness
}

// at puts both in their places at a time of the motion and at one of the clip.
func (h *holding) at(seconds, clipSeconds float64) {
	h.motion.stand(seconds, h.asked)
	h.clip.stand(clipSeconds, h.played)
	for i := range h.played {
		h.played[i] = standing{h.frame.apply(h.played[i].place), h.frame.times(h.played[i].axes)}
	}
}

// measure fills in how far each joint is off. It fails where a joint is nowhere.
func (h *holding) measure() error {
	h.found = make([]JointLikeness, len(h.nodes))
	for i := range h.found {
		h.found[i].Joint = h.motion.joints[i].name
		if up := h.motion.joints[i].parent; up >= 0 && h.nodes[up] >= 0 {
			h.found[i].Carrier = h.motion.joints[up].name
		}
	}
	length := math.Min(h.motion.seconds, h.clip.seconds)
	step, stride := h.motion.frame/momentsAFrame, 1
	if h.l.Rate != (Rate{}) {
		step, stride = 1/h.l.Rate.perSecond()/momentsAFrame, momentsAFrame
	}
	step = math.Max(step, length*float64(len(h.nodes)+len(h.motion.shapers))/mostStandings)
	last := int(math.Ceil(length/step - 1e-6))
	h.l.Moments = (last-1)/stride + 2
	for k := range last + 1 {
		seconds := float64(k) * step
		if k == last {
			seconds = length
		}
		asked := min(seconds+behindFrame*h.motion.frame, length)
		h.at(asked, asked)
		between := k%stride != 0 && k != last
		if !between {
			h.blend.measure(h.motion, h.l, asked, asked, seconds)
		}
		for i, n := range h.nodes {
			if n < 0 {
				continue
			}
			place, turn := h.asked[i].place.to(h.played[i].place), turnsApart(&h.asked[i], &h.played[i])
			if !finite(place) || !finite(turn) {
				return fmt.Errorf("the joint `%s`, node %d, is beyond all numbers at %g s; scales of many nodes on one another multiply, export the file with smaller ones", h.found[i].Joint, n, seconds)
			}
			if between {
				h.l.Between.see(place, turn, seconds, h.found[i].Joint)
				continue
			}
			h.found[i].Place.see(place, seconds, h.l.Moments)
			h.found[i].Turn.see(turn, seconds, h.l.Moments)
		}
	}
	return nil
}

func (b *BetweenFrames) see(place, turn, seconds float64, joint string) {
	if place > b.Place.Largest {
		b.Place, b.PlaceJoint = Departure{Largest: place, At: seconds}, joint
	}
	if turn > b.Turn.Largest {
		b.Turn, b.TurnJoint = Departure{Largest: turn, At: seconds}, joint
	}
}

func (d *Departure) see(size, seconds float64, moments int) {
	if size > d.Largest {
		d.Largest, d.At = size, seconds
	}
	d.Mean += size / float64(moments)
}

// turnsApart is the angle between the turns of two joints in degrees; 0 where one of them is flat and has none.
func turnsApart(a, b *standing) float64 {
	if a.axes == b.axes {
		return 0
	}
	q, ok := a.turn()
	p, too := b.turn()
	if !ok || !too {
		return 0
	}
	return q.angleTo(p)
}

// measureSeam holds the steps from the last moment to the first against each other, each motion's own.
func (h *holding) measureSeam() {
	if !h.motion.loops {
		return
	}
	h.at(0, 0)
	asked, played := append([]standing(nil), h.asked...), append([]standing(nil), h.played...)
	h.at(h.motion.seconds, h.clip.seconds)
	h.l.Seam = &SeamLikeness{}
	h.blend.seam(h.motion, h.l, h.clip.seconds)
	for i, n := range h.nodes {
		if n < 0 {
			continue
		}
		step, own := asked[i].place.minus(h.asked[i].place), played[i].place.minus(h.played[i].place)
		if off := step.to(own); off > h.l.Seam.PlaceCM {
			h.l.Seam.PlaceCM, h.l.Seam.PlaceJoint = off, h.motion.joints[i].name
		}
		if off := turnStep(&h.asked[i], &asked[i]).angleTo(turnStep(&h.played[i], &played[i])); off > h.l.Seam.TurnDeg {
			h.l.Seam.TurnDeg, h.l.Seam.TurnJoint = off, h.motion.joints[i].name
		}
	}
}

// turnStep is the turn that leads a joint from one standing to another, in its own frame; none where it is flat.
func turnStep(from, to *standing) quat {
	q, ok := from.turn()
	p, too := to.turn()
	if !ok || !too {
		return quat{0, 0, 0, 1}
	}
	return q.inverse().after(p)
}
