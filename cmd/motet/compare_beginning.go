package main

import "fmt"

// beginningJSON is a moment of the old motion, and how far a clip that begins there is off, counted on round the seam.
// Same says whether that is within the limits.
type beginningJSON struct {
	Seconds float64       `json:"seconds"`
	Frame   float64       `json:"frame"`
	Same    bool          `json:"same"`
	Place   departureJSON `json:"place"`
	Turn    departureJSON `json:"turn"`
	// Weight is of the morph target that is farthest off, in per cent; null where none is off.
	Weight *weightJSON `json:"weight"`
}

// beginning says of a clip that is not the motion whether it is so when the loop begins elsewhere; empty for any other.
func (v *likenessView) beginning() string {
	b := v.found.Beginning
	if b == nil {
		return ""
	}
	said := "it nearly is the motion begun at "
	if b.Within(v.limits) {
		said = "it is the motion begun at "
	}
	off := v.both(b.Place.Largest, b.PlaceJoint, b.Turn.Largest, b.TurnJoint)
	if b.Weight.Largest >= leastShown {
		off += " and " + small(b.Weight.Largest) + " % of " + b.WeightTarget
	}
	return fmt.Sprintf("%s%s of its loop: played from there, it is off by up to %s\n", said, v.moment(b.Seconds), off)
}
