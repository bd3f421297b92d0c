package exchange

import "slices"

// holdStill has the ends that jitter stand where that is asked for, in each clip that is not spared, but those that are free.
func (t *together) holdStill(o *AllOptions, cuts []cut, spared []bool, free []map[int]bool) error {
	if o.StillCM <= 0 || o.NoPlants {
		return nil
	}
	held := make([][]stilledLimb, len(cuts))
	eachOf(len(cuts), func(k int) {
		f := t.figures[k]
		if spared[k] {
			return
		}
		limbs := f.findLimbs
		if o.Over != nil {
			limbs = func() []limb { return f.limbsOver(o.Over.Rig, make([]bool, len(f.series))) }
		}
		held[k] = f.stilled(limbs(), o.StillCM, free[k])
	})
	if !slices.ContainsFunc(held, func(limbs []stilledLimb) bool { return len(limbs) > 0 }) {
		return nil
	}
	t.held, t.asBaked = held, t.figures
	figures, err := sampledFigures(o, cuts)
	if err != nil {
		return err
	}
	for k, f := range figures {
		f.still(held[k])
	}
	t.ensemble = o.ensemble(figures)
	return nil
}

// freeUnplanted frees ends that were held and then could not be planted, and tells whether there were any: they would be bent
// for nothing.
func (t *together) freeUnplanted(free []map[int]bool) (any bool) {
	for k, limbs := range t.held {
		for i := range limbs {
			if l := t.figures[k].limbOf(limbs[i].end); l == nil || len(l.plants) == 0 {
				free[k][limbs[i].end], any = true, true
			}
		}
	}
	return any
}

// tellHeld puts what was held still into what is told of the clips, and measures their sheets against the clips as they are.
func (t *together) tellHeld(o *AllOptions) {
	for k, limbs := range t.held {
		if len(limbs) == 0 {
			continue
		}
		f := t.figures[k]
		f.heldCM = o.StillCM
		f.unplanted = append(f.stillLines(o.StillCM, limbs), f.unplanted...)
		t.offs[k] = f.honest(t.asBaked[k], f.values(t.channels[k], t.beats[k].frames), o.Within, t.offs[k])
	}
}

// honest is how far values of the series are from a clip of which ends were held still. Whether they are within the limits
// is told of the clip with these held, and so are the weights.
func (f *figure) honest(asBaked *figure, values [][]float64, within Within, held errorReport) errorReport {
	out := f.against(asBaked, values, within)
	out.ratio, out.weightPercent, out.weightName = held.ratio, held.weightPercent, held.weightName
	return out
}
