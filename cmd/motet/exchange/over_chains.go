package exchange

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

// noteUnchained notes which ends of a clip stand still and are not planted since the rig that there is has no chain for
// their limbs, with the rows that would make them ones.
func (p *planter) noteUnchained(rig *motion.Rig) {
	f := p.figure
	var stands [][]stand
	var ends, rows []string
	for _, l := range f.findLimbs() {
		if f.inAChain(rig, &l) {
			continue
		}
		if stands == nil {
			if stands = f.standsAt(stepsPerFrame, nil); f.closed {
				stands = stands[:len(stands)-1]
			}
		}
		plants := f.findPlants(&l, stands, steadinessWithin(p.within))
		if len(plants) == 0 || float64(plantedFrames(plants)) < standShare*float64(f.time.frames) {
			continue
		}
		if l.why == "" {
			l.why = f.whyNoTwist(&l)
		}
		if l.why != "" {
			p.leaveOut(l.end, fmt.Sprintf("%s, so no chain can be its limb", l.why), plants...)
			continue
		}
		ends = append(ends, f.skeleton.joints[l.end].name+" from frame "+f.stretchesOf(plants))
		rows = append(rows, "`"+f.chainRow(&l, stands)+"`")
	}
	if len(ends) > 0 {
		p.notes = append(p.notes, fmt.Sprintf("not planted, though standing still: %s; the rig `%s` has no chain for that: write %s under its `chains` (goal root middle end bends), and import again", strings.Join(ends, ", "), rig.Name, strings.Join(rows, " and ")))
	}
}

// inAChain tells whether any joint of a limb is one of a chain of a rig, which can have no other then.
func (f *figure) inAChain(rig *motion.Rig, l *limb) bool {
	return slices.ContainsFunc(rig.Chains, func(c motion.Chain) bool {
		for _, i := range []int{l.root, l.middle, l.end} {
			if i == c.Root || i == c.Middle || i == c.End {
				return true
			}
		}
		return false
	})
}

// chainRow is the row of a rig's chains that makes a limb one, bending as it does in the clip. stands are those of all
// joints by frame.
func (f *figure) chainRow(l *limb, stands [][]stand) string {
	joints := f.skeleton.joints
	best, bends := 0.0, "+z"
	for axis := range 3 {
		along, least := l.bentAlong(axis, joints[l.root].parent, stands)
		if worth := math.Abs(along) * least; worth > best {
			sign := "+"
			if along < 0 {
				sign = "-"
			}
			best, bends = worth, sign+axesText([]int{axis})
		}
	}
	return strings.Join([]string{joints[l.end].name, joints[l.root].name, joints[l.middle].name, joints[l.end].name, bends}, " ")
}
