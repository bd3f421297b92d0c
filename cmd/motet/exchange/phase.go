package exchange

import "math"

// A Beginning is another moment of a loop at which a clip that is off begins, if that explains it.
type Beginning struct {
	// Seconds is that moment of the motion.
	Seconds float64
	// Place and Turn are the largest departures of all joints when the motion begins there, and the joints that they are at.
	// Their moments are of the clip.
	Place, Turn           Departure
	PlaceJoint, TurnJoint string
	// Weight is the largest departure of all morph targets then, in per cent, and WeightTarget that target; empty where none
	// is off.
	Weight       Departure
	WeightTarget string
}

// Within tells whether the clip is the motion begun elsewhere, as far as the limits ask.
func (b *Beginning) Within(limits LikenessLimits) bool {
	return b.Place.Largest <= limits.PlaceCM && b.Turn.Largest <= limits.TurnDeg && b.Weight.Largest <= limits.WeightPercent
}

const (
	// mostBeginnings bounds the moments that are held against each other, each with each.
	mostBeginnings = 240
	// beginningRounds is how often the stretch is made shorter in which the moment must lie: to a millionth of a step.
	beginningRounds = 30
	// beginningShare is how much of what a clip is off, squared and added up, may be left where it begins elsewhere.
	beginningShare = 1.0 / 100
)

// findBeginning looks for the moment of a loop at which a clip of its length begins, where it is off otherwise.
func (h *holding) findBeginning() {
	length := h.motion.seconds
	place, turn, _, _ := h.l.Largest()
	weight, _ := h.l.LargestWeight()
	asItIs := Beginning{Place: place, Turn: turn, Weight: weight}
	if !h.motion.loops || math.Abs(h.clip.seconds-length) > 1.5*h.motion.frame || asItIs.Within(DefaultLikeness()) {
		return
	}
	n := max(2, min(int(math.Round(length/h.motion.frame)), mostBeginnings))
	n = max(2, min(n, mostStandings/max(1, len(h.nodes)+len(h.blend.places))))
	asked, played := make([]moment, n), make([]moment, n)
	for k := range n {
		at := length * float64(k) / float64(n)
		h.at(h.around(at), min(at, h.clip.seconds))
		asked[k] = moment{append([]standing(nil), h.asked...), h.blend.wantedAt(h.motion, h.around(at))}
		played[k] = moment{append([]standing(nil), h.played...), h.blend.playedAt(min(at, h.clip.seconds))}
	}
	best, least, asIs := 0, math.Inf(1), 0.0
	for shift := range n {
		sum := 0.0
		for k := range n {
			sum += h.squares(asked[(k+shift)%n], played[k])
		}
		if sum < least {
			best, least = shift, sum
		}
		if shift == 0 {
			asIs = sum
		}
	}
	if least > asIs/4 {
		return
	}
	// Between the moments that were tried: the sum is smooth and has one bottom there.
	step := length / float64(n)
	sumAt := func(shift float64) (sum float64) {
		for k := range n {
			sum += h.squares(h.askedAt(step*float64(k)+shift), played[k])
		}
		return sum
	}
	low, high := step*float64(best-1), step*float64(best+1)
	for range beginningRounds {
		a, b := low+(high-low)/3, high-(high-low)/3
		if sumAt(a) < sumAt(b) {
			high = b
		} else {
			low = a
		}
	}
	shift := (low + high) / 2
	// A whole frame is what somebody chose, where it is as good.
	if whole := math.Round(shift/h.motion.frame) * h.motion.frame; math.Abs(whole-shift) < 0.05*h.motion.frame {
		shift = whole
	}
	if shift = h.around(shift); math.Min(shift, length-shift) < 0.05*h.motion.frame || sumAt(shift) > beginningShare*asIs {
		return
	}
	h.l.Beginning = &Beginning{Seconds: shift}
	for k := range n {
		at := step * float64(k)
		h.l.Beginning.see(h, h.askedAt(at+shift), played[k], at)
	}
}

// around is a time of the motion, counted on over its end.
func (h *holding) around(seconds float64) float64 {
	seconds = math.Mod(seconds+behindFrame*h.motion.frame, h.motion.seconds)
	if seconds < 0 {
		seconds += h.motion.seconds
	}
	return seconds
}

// A moment is how all joints stand, and the weight in per cent of each place that morph targets have.
type moment struct {
	standings []standing
	weights   []float64
}

// askedAt is the motion at a time, counted on over its end. The standings are used again.
func (h *holding) askedAt(seconds float64) moment {
	seconds = h.around(seconds)
	h.motion.stand(seconds, h.asked)
	return moment{h.asked, h.blend.wantedAt(h.motion, seconds)}
}

// squares is how far the joints are apart in the world, squared and added up: places in centimetres, and the ends of axes
// ten centimetres long, so that turns count too; and what the weights move a face, about.
func (h *holding) squares(asked, played moment) (sum float64) {
	const arm = 10
	for i, n := range h.nodes {
		if n < 0 {
			continue
		}
		off := asked.standings[i].place.minus(played.standings[i].place)
		sum += off.dot(off)
		for axis := range 3 {
			off := asked.standings[i].axes.column(axis).minus(played.standings[i].axes.column(axis)).times(arm)
			sum += off.dot(off)
		}
	}
	for i, weight := range asked.weights {
		sum += squareOf(weightEffect * (weight - played.weights[i]))
	}
	return sum
}

func (b *Beginning) see(h *holding, asked, played moment, seconds float64) {
	for i, n := range h.nodes {
		if n < 0 {
			continue
		}
		if place := asked.standings[i].place.to(played.standings[i].place); place > b.Place.Largest {
			b.Place, b.PlaceJoint = Departure{Largest: place, At: seconds}, h.motion.joints[i].name
		}
		if turn := turnsApart(&asked.standings[i], &played.standings[i]); turn > b.Turn.Largest {
			b.Turn, b.TurnJoint = Departure{Largest: turn, At: seconds}, h.motion.joints[i].name
		}
	}
	for i, weight := range asked.weights {
		if off := math.Abs(weight - played.weights[i]); off > b.Weight.Largest {
			b.Weight, b.WeightTarget = Departure{Largest: off, At: seconds}, h.motion.shapers[h.blend.places[i].shapers[0]].name
		}
	}
}
