package exchange

import (
	"fmt"
	"math"
	"slices"
)

// plant looks for ends that stand and gives what is settled with their limbs solved, in each clip in which they stand, and
// its errors; what it was where there are none, or where the joints could not be kept within the limits. A limb that is
// solved in one clip is a chain of the rig, and in the other clips its joints turn by dials of their own. spared are clips
// in which nothing is to be planted; nil for none.
func (e *settled) plant(within Within, errors []errorReport, spared []bool) (*settled, []errorReport) {
	planters := make([]*planter, len(e.figures))
	eachOf(len(e.figures), func(k int) {
		f := e.figures[k]
		limbs := f.findLimbs
		if e.over != nil {
			limbs = func() []limb { return f.limbsOver(e.over.rig, e.undriven(k)) }
		}
		planters[k] = newPlanter(f, limbs(), within, spared != nil && spared[k])
		if e.over != nil {
			planters[k].noteUnchained(e.over.rig)
		}
	})
	for {
		planted := 0
		for _, p := range planters {
			p.worth()
			planted += p.plants()
		}
		if planted == 0 {
			break
		}
		g, channels := e.withLimbs(solvedLimbs(planters))
		for k, p := range planters {
			p.bearable(g.figures[k])
			planted -= p.plants()
		}
		if planted > 0 {
			continue // some can't be borne
		}
		s := e.refitted(g, channels, within)
		reports := s.narrowDown(2 * settlingRounds)
		if e.letGo(planters, s, reports, errors) {
			continue
		}
		reports = s.loosen(reports)
		for k, f := range s.figures {
			f.unplanted = planters[k].notes
			f.countWithout(e.figures[k], e.channels[k])
		}
		return s, reports
	}
	for k, f := range e.figures {
		f.unplanted = planters[k].notes
	}
	return e, errors
}

// newPlanter looks for when the ends of a figure's limbs stand.
func newPlanter(f *figure, limbs []limb, within Within, spared bool) *planter {
	p := &planter{figure: f, within: within, limbs: limbs}
	if len(p.limbs) == 0 || spared {
		for n := range p.limbs {
			p.limbs[n].keyed = false
		}
		return p
	}
	stands := f.standsAt(stepsPerFrame, nil)
	if f.closed {
		stands = stands[:len(stands)-1]
	}
	for n := range p.limbs {
		l := &p.limbs[n]
		joints := f.skeleton.joints
		if joints[l.root].absent || joints[l.middle].absent || joints[l.end].absent {
			l.keyed = false
			continue
		}
		if l.plants = f.findPlants(l, stands, steadinessWithin(within)); len(l.plants) > 0 && l.why != "" {
			p.leaveOut(l.end, fmt.Sprintf("%s, so no chain can be its limb", l.why), l.plants...)
			l.plants = nil
		}
		l.keyed = l.keyed && l.why == ""
	}
	return p
}

// solvedLimbs are, by figure, the limbs that any figure plants; idle where the figure does not.
func solvedLimbs(planters []*planter) [][]limb {
	out := make([][]limb, len(planters))
	for n := range planters[0].limbs {
		if !slices.ContainsFunc(planters, func(p *planter) bool { return p.limbs[n].solved() }) {
			continue
		}
		for k, p := range planters {
			l := p.limbs[n]
			l.idle = !l.solved()
			out[k] = append(out[k], l)
		}
	}
	return out
}

// letGo looks whether any clip is farther off with its limbs solved than it may be, or was before, and takes the plants of
// the limb away that is: of a limb that the clip does not plant itself, in all clips. It tells whether there was any.
func (e *settled) letGo(planters []*planter, s *settled, reports, errors []errorReport) (any bool) {
	before := 0
	for _, p := range planters {
		before += p.plants()
	}
	for k, p := range planters {
		solved, worst := worstLimb(s.checks[k], false)
		if worst <= 1 && reports[k].ratio <= math.Max(1, errors[k].ratio) {
			continue
		}
		any = true
		if free, off := worstLimb(s.checks[k], true); off > worst {
			for _, other := range planters {
				other.drop(free, fmt.Sprintf("with its joints resting as that needs, the clip %q would be %s times as far off as is allowed", p.figure.clip.Name, number(off, 2)))
			}
			continue
		}
		p.drop(solved, fmt.Sprintf("with its limb solved, the worst joint would still be %s times as far off as is allowed", number(worst, 2)))
	}
	for _, p := range planters {
		before -= p.plants()
	}
	if any && before == 0 {
		for _, p := range planters {
			for n := range p.limbs {
				p.drop(p.limbs[n].end, "with limbs solved, the clips could not be kept as close as they are without")
			}
		}
	}
	return any
}

// drop takes the plants of a limb away.
func (p *planter) drop(end int, reason string) {
	l := p.limb(end)
	p.leaveOut(end, reason, l.plants...)
	l.plants, l.keyed = nil, false
}

// countWithout notes how many keys a figure has with no limb solved. without is the same figure, with its channels.
func (f *figure) countWithout(without *figure, channels []channel) {
	if !slices.ContainsFunc(f.limbs, func(l limb) bool { return !l.idle }) {
		return
	}
	for _, c := range channels {
		if c.dropped {
			continue
		}
		f.keysWithout += len(c.rows)
		for _, d := range c.drives {
			f.bakedWithout += without.bakedKeys(&without.series[d.series])
		}
	}
}

// refitted is what is settled with some limbs solved, before all errors together are held against the clips.
func (e *settled) refitted(g *ensemble, channels [][]channel, within Within) *settled {
	if e.over != nil {
		// Its dials have shares in the limbs' numbers too, so all are found anew.
		allowance := make([][][]float64, len(g.figures))
		eachOf(len(g.figures), func(k int) { allowance[k] = g.figures[k].limbAllowances(nil, within) })
		return g.fitAll(within, e.beats, allowance)
	}
	s := &settled{g, e.beats, make([]*checker, len(g.figures)), nil, make([][][]float64, len(g.figures))}
	eachOf(len(g.figures), func(k int) {
		s.allowance[k] = g.figures[k].limbAllowances(e.allowance[k], within)
	})
	// What carries a limb has to be so close then that a dial may have to be taken apart.
	s.channels = g.dissolve(channels, s.allowance)
	eachOf(len(g.figures), func(k int) {
		f := g.figures[k]
		f.refitNarrowed(s.channels[k], e.allowance[k], s.allowance[k], e.beats[k].frames)
		s.checks[k] = newChecker(f, within)
	})
	return s
}
