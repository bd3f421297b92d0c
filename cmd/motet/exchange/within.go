package exchange

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Within is how far an imported sheet may be from its clip at any frame.
type Within struct {
	// TurnDeg bounds the angle between a joint's turn in the sheet and in the clip, both
	// in its parent's frame.
	TurnDeg float64
	// MoveCM bounds how far any joint may be from its place in the world, with all that
	// carries it.
	MoveCM float64
	// ScalePercent bounds the scale of a joint by axis.
	ScalePercent float64
}

// DefaultWithin is what an import keeps to unless it is told otherwise.
func DefaultWithin() Within {
	return Within{TurnDeg: 0.25, MoveCM: 0.05, ScalePercent: 0.1}
}

// ParseWithin reads limits such as "0.25deg,0.05cm": deg, cm and %, in any order. What is
// left out keeps its default.
func ParseWithin(text string) (Within, error) {
	w := DefaultWithin()
	for _, limit := range strings.Split(text, ",") {
		limit = strings.TrimSpace(limit)
		into := map[string]*float64{"deg": &w.TurnDeg, "cm": &w.MoveCM, "%": &w.ScalePercent}
		digits := strings.TrimRight(limit, "abcdefghijklmnopqrstuvwxyz%")
		value, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
		if err != nil || into[limit[len(digits):]] == nil || !(value > 0) || value > 1000 {
			return w, fmt.Errorf("limit %q is none; write limits such as 0.25deg,0.05cm (deg, cm, %%, each above 0)", limit)
		}
		*into[limit[len(digits):]] = value
	}
	return w, nil
}

func (w Within) String() string {
	return fmt.Sprintf("%gdeg,%gcm", w.TurnDeg, w.MoveCM)
}

// worldShare is how much of the world limit one series may use before the errors of all
// that carry a joint are added up and held against the limit. Errors of different
// channels seldom point the same way at the same time.
const worldShare = 0.22

// allowances are how far each series may be off at each frame, to begin with: its part of
// its joint's limit, and what its lever allows of the limit in the world.
func (f *figure) allowances(within Within) [][]float64 {
	reach := f.reaches()
	out := make([][]float64, len(f.series))
	for n := range f.series {
		s := &f.series[n]
		limit := [...]float64{within.MoveCM, within.TurnDeg, within.ScalePercent}[s.property]
		if moving := f.movingAxes(s.joint, s.property); s.property != scales && moving > 1 {
			limit /= math.Sqrt(float64(moving))
		}
		out[n] = make([]float64, f.time.frames+1)
		for frame := range out[n] {
			out[n][frame] = math.Max(leastAllowance, math.Min(0.95*limit, worldShare*within.MoveCM/s.lever(reach[s.joint][frame])))
		}
	}
	return out
}

// leastAllowance keeps a limit from asking for more digits than a sheet has.
const leastAllowance = 0.003

// lever is how many centimetres one unit of the series moves what lies reach away.
func (s *series) lever(reachCM float64) float64 {
	switch s.property {
	case turns:
		return math.Max(reachCM/degrees, 1e-9)
	case scales:
		return math.Max(reachCM/100, 1e-9)
	}
	return 1
}

func (f *figure) movingAxes(joint int, p property) int {
	n := 0
	for _, at := range f.at[joint][p] {
		if at >= 0 {
			n++
		}
	}
	return n
}

// reaches are, by joint and frame, how far the farthest joint that it carries lies from it.
func (f *figure) reaches() [][]float64 {
	joints := f.skeleton.joints
	out := make([][]float64, len(joints))
	for i := range joints {
		out[i] = make([]float64, f.time.frames+1)
	}
	for x := range joints {
		for up := joints[x].parent; up >= 0; up = joints[up].parent {
			for frame := range out[up] {
				place := f.world[frame*stepsPerFrame]
				out[up][frame] = math.Max(out[up][frame], place[x].to(place[up]))
			}
		}
	}
	return out
}
