package exchange

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Within is how far an imported sheet may be from its clip at any frame.
type Within struct {
	// TurnDeg bounds the angle between a joint's turn in the sheet and in the clip, both
	// in its parent's frame.
	TurnDeg float64
	// MoveCM bounds how far a joint's own move may be off, in its parent's frame.
	MoveCM float64
	// ScalePercent bounds the scale of a joint by axis.
	ScalePercent float64
	// WeightPercent bounds the weight of a morph target.
	WeightPercent float64
	// WorldCM bounds how far any joint may be from its place in the world, with the errors
	// of all that carries it added up.
	WorldCM float64
}

// DefaultWithin is what an import keeps to unless it is told otherwise. Half a centimetre
// in the world is about 0.3 % of a figure's height, the slide of a foot that begins to show.
// A shape takes a face by a few centimetres at most (common practice), so half a per cent of
// one is less than 0.02 cm.
func DefaultWithin() Within {
	return Within{TurnDeg: 0.25, MoveCM: 0.05, ScalePercent: 0.1, WeightPercent: 0.5, WorldCM: 0.5}
}

// worldPerMove is how much larger than the limit of a move that of a place in the world is
// taken when only the first is given: what many turns add up to at the end of a limb.
const worldPerMove = 10

// ParseWithin reads limits such as "0.25deg,0.05cm": deg, cm and %, %-weight for morph
// targets, and cm-world for the place in the world, in any order. What is left out keeps its default; the place in the
// world follows the moves, ten times as wide.
func ParseWithin(text string) (Within, error) {
	return parseWithin(text, DefaultWithin(), worldPerMove)
}

// ParseExportWithin reads the same limits for an export. The place in the world follows the moves, as wide as they.
func ParseExportWithin(text string) (Within, error) {
	return parseWithin(text, ExportWithin(), 1)
}

func parseWithin(text string, w Within, worldPerMove float64) (Within, error) {
	into := map[string]*float64{"deg": &w.TurnDeg, "cm": &w.MoveCM, "%": &w.ScalePercent, "%-weight": &w.WeightPercent, "cm-world": &w.WorldCM}
	given, err := readLimits(text, into, "0.25deg,0.05cm (deg, cm, %, %-weight, cm-world, each above 0)")
	if given["cm"] && !given["cm-world"] {
		w.WorldCM = worldPerMove * w.MoveCM
	}
	return w, err
}

// readLimits reads numbers with their units, parted by commas, and tells which units were given. example says in an error
// what to write.
func readLimits(text string, into map[string]*float64, example string) (given map[string]bool, err error) {
	given = map[string]bool{}
	for _, limit := range strings.Split(text, ",") {
		limit = strings.TrimSpace(limit)
		digits := strings.TrimRight(limit, "abcdefghijklmnopqrstuvwxyz%-")
		unit := limit[len(digits):]
		value, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
		if err != nil || into[unit] == nil || !(value > 0) || value > 1000 {
			return given, fmt.Errorf("limit %q is none; write limits such as %s", limit, example)
		}
		*into[unit], given[unit] = value, true
	}
	return given, nil
}

// String writes the limits as ParseWithin reads them, those for scale and for the world
// only where they are not what the others make them.
func (w Within) String() string {
	text := fmt.Sprintf("%gdeg,%gcm", w.TurnDeg, w.MoveCM)
	if w.ScalePercent != DefaultWithin().ScalePercent {
		text += fmt.Sprintf(",%g%%", w.ScalePercent)
	}
	if w.WeightPercent != DefaultWithin().WeightPercent {
		text += fmt.Sprintf(",%g%%-weight", w.WeightPercent)
	}
	if math.Abs(w.WorldCM-worldPerMove*w.MoveCM) > 1e-9 {
		text += fmt.Sprintf(",%gcm-world", w.WorldCM)
	}
	return text
}

// worldShare is how much of the world limit one series may use before the errors of all
// that carry a joint are added up and held against the limit. Errors of different
// channels seldom point the same way at the same time.
const worldShare = 0.35

// axesPower says what part of a joint's limit each of several axes gets that move: the limit over their number to this
// power. Were all off by their part at once, it would be one half; they seldom are, and where they are they are narrowed.
const axesPower = 0.35

// allowances are how far each series may be off at each frame, to begin with: its part of
// its joint's limit, and what its lever allows of the limit in the world.
func (f *figure) allowances(within Within) [][]float64 {
	reach := f.reaches()
	out := make([][]float64, len(f.series))
	for n := range f.series {
		s := &f.series[n]
		if s.property > scales {
			out[n] = slices.Repeat([]float64{1}, f.time.frames+1) // of a limb, which divides its own limits
			continue
		}
		limit := [...]float64{within.MoveCM, within.TurnDeg, within.ScalePercent}[s.property]
		if moving := f.movingAxes(s.joint, s.property); s.property != scales && moving > 1 {
			limit /= math.Pow(float64(moving), axesPower)
		}
		if s.held && !s.undriven && s.property != scales {
			limit *= heldShare
		}
		out[n] = make([]float64, f.time.frames+1)
		for frame := range out[n] {
			if s.uneven {
				out[n][frame] = unevenLimit
				continue
			}
			out[n][frame] = math.Max(leastAllowance, math.Min(0.95*limit, worldShare*within.WorldCM/s.lever(reach[s.joint][frame])))
		}
	}
	return out
}

// heldShare is how much of its part of the limit a number may be off that only stays in a clip: a key holds it, so that
// what moves may have the rest. One for which a rig would need a dial first may be off by all of it.
const heldShare = 0.3

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
		if at >= 0 && !f.series[at].held {
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
