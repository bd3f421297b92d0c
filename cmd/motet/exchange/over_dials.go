package exchange

import (
	"cmp"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// dialsOver are the rig's dials as channels, and one of its own for each number that no dial moves. Where several dials move
// one number, the one that moves nothing else has what the others leave; where that does not settle it, they are a mesh.
func (e *ensemble) dialsOver() [][]channel {
	rig, lead := e.over.rig, e.lead
	var out []channel
	for i := range rig.Channels {
		dial := &rig.Channels[i]
		if e.over.resting[i] != "" {
			continue
		}
		if why := mixesGoals(dial); why != "" {
			e.over.resting[i] = why
			continue
		}
		c := channel{name: dial.Name, base: dial.Rest, known: true, number: i, control: e.controlOf(dial.Control)}
		for _, d := range dial.Drives {
			for axis := range 3 {
				if !d.Axes[axis] && !(d.Kind == motion.DrivesSwivel && axis == 0) || d.Gain == 0 {
					continue
				}
				n := lead.driven(&d, axis)
				if n < 0 || lead.series[n].axes[0] != axis {
					continue
				}
				if at := slices.IndexFunc(c.drives, func(have drive) bool { return have.series == n }); at >= 0 {
					c.drives[at].gain += d.Gain // one row more for the same
					continue
				}
				c.drives = append(c.drives, drive{series: n, gain: d.Gain})
			}
		}
		c.drives = slices.DeleteFunc(c.drives, func(d drive) bool { return d.gain == 0 })
		if len(c.drives) == 0 {
			continue
		}
		if e.sizesAlone(c.drives) {
			e.over.resting[i] = "it sizes a joint along with something else, as a clip does not, and nothing undoes a size"
			continue
		}
		// What moves most leads.
		slices.SortStableFunc(c.drives, func(a, b drive) int { return cmp.Compare(math.Abs(b.gain), math.Abs(a.gain)) })
		out = append(out, c)
	}
	out = e.settleShares(e.withoutSharedSizes(out))
	moved := make([]bool, len(lead.series))
	for _, c := range out {
		for _, d := range c.drives {
			moved[d.series] = true
		}
	}
	for n := range lead.series {
		if !moved[n] && !lead.series[n].gone {
			out = append(out, e.ownDial(n))
		}
	}
	all := make([][]channel, len(e.figures))
	for k := range e.figures {
		for _, c := range out {
			all[k] = append(all[k], e.overClip(k, c))
		}
		sortByControl(all[k])
	}
	return all
}

// driven is the series of what a dial drives along an axis, -1 where there is none.
func (f *figure) driven(d *motion.Drive, axis int) int {
	if d.Joint >= 0 {
		return f.at[d.Joint][propertyOf(d.Kind)][axis]
	}
	for n := range f.limbs {
		if l := &f.limbs[n]; f.goalName(l) == d.Goal {
			if d.Kind == motion.DrivesSwivel {
				return l.swivel
			}
			return l.goal[axis]
		}
	}
	return -1
}

// mixesGoals says why a dial is left at rest that moves a chain's goal along with something else: a key of it would solve
// the chain in sheets that mean only the other.
func mixesGoals(dial *motion.Dial) string {
	goal := ""
	for i, d := range dial.Drives {
		switch {
		case d.Joint < 0 && i > 0 && goal != d.Goal, d.Joint >= 0 && goal != "":
			return "it moves a chain's goal along with something else"
		case d.Joint < 0:
			goal = d.Goal
		}
	}
	return ""
}

// alongPercent is how far a size may be, in per cent, from what goes along with it to be one dial's.
const alongPercent = 0.1

// sizesAlone tells whether a dial sizes a joint and moves something else too, which the clips do not do together.
func (e *ensemble) sizesAlone(drives []drive) bool {
	size := slices.IndexFunc(drives, func(d drive) bool { return e.lead.series[d.series].property == scales })
	if size < 0 {
		return false
	}
	for _, f := range e.figures {
		by := &f.series[drives[size].series]
		for _, d := range drives {
			s := &f.series[d.series]
			for k := range s.clip {
				dial := (by.clip[k] - by.rest) / drives[size].gain
				if math.Abs((s.clip[k]-s.rest)/d.gain-dial)*math.Abs(drives[size].gain) > alongPercent {
					return true
				}
			}
		}
	}
	return false
}

// withoutSharedSizes leaves at rest what sizes a joint and moves something that others move too: as one of several it would
// be somewhere even where the clip stays.
func (e *ensemble) withoutSharedSizes(out []channel) (kept []channel) {
	for m, c := range out {
		sizes := slices.ContainsFunc(c.drives, func(d drive) bool { return e.lead.series[d.series].property == scales })
		shared := slices.ContainsFunc(c.drives, func(d drive) bool {
			for other := range out {
				if other != m && slices.ContainsFunc(out[other].drives, func(o drive) bool { return o.series == d.series }) {
					return true
				}
			}
			return false
		})
		if sizes && shared {
			e.over.resting[c.number] = "it sizes a joint along with something that other dials move too, and nothing undoes a size"
			continue
		}
		kept = append(kept, c)
	}
	return kept
}

// settleShares settles which dial has what of the numbers that several move.
func (e *ensemble) settleShares(out []channel) []channel {
	by := map[int][]int{} // the channels that move a series
	sets := eachAlone(len(out))
	for m := range out {
		for _, d := range out[m].drives {
			by[d.series] = append(by[d.series], m)
			sets.join(by[d.series][0], m)
		}
	}
	unused := map[int]bool{}
	for first := range out {
		var together []int
		for m := range out {
			if sets.find(m) == first {
				together = append(together, m)
			}
		}
		if len(together) > 1 && !shareOut(out, together, by) {
			for _, m := range e.mesh(out, together) {
				unused[m] = true
			}
		}
	}
	var kept []channel
	for m := range out {
		if !unused[m] {
			kept = append(kept, out[m])
		}
	}
	return kept
}

// shareOut leaves each number that several of some channels move to the one that moves nothing else. It is false, and
// nothing is changed, where that does not tell what each of them has.
func shareOut(out []channel, together []int, by map[int][]int) bool {
	was := make([]channel, len(together))
	for k, m := range together {
		was[k] = out[m]
		was[k].drives = slices.Clone(out[m].drives)
	}
	for n, movers := range by {
		if len(movers) < 2 || !slices.Contains(together, movers[0]) {
			continue
		}
		own := -1
		for _, m := range movers {
			if len(out[m].drives) == 1 {
				if own >= 0 {
					own = -1
					break
				}
				own = m
			}
		}
		if own < 0 {
			for k, m := range together {
				out[m] = was[k]
			}
			return false
		}
		out[own].above = true
		for _, m := range movers {
			for k := range out[m].drives {
				out[m].drives[k].loose = out[m].drives[k].loose || m != own && out[m].drives[k].series == n
			}
		}
	}
	for _, m := range together {
		slices.SortStableFunc(out[m].drives, func(a, b drive) int {
			switch {
			case a.loose == b.loose:
				return 0
			case a.loose:
				return 1
			}
			return -1
		})
	}
	if !slices.ContainsFunc(together, func(m int) bool { return out[m].drives[0].loose }) {
		return true
	}
	for k, m := range together {
		out[m] = was[k]
	}
	return false
}
