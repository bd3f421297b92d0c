package exchange

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// A PlantReport is a stretch of time in which the sheet holds a goal.
type PlantReport struct {
	Goal string
	// On is the joint that carries it, empty for the world.
	On       string
	From, To int // frames
}

// A planter is an import's search for limbs that can be solved so that their ends stand.
type planter struct {
	*settled // as it is without
	figure   *figure
	within   Within
	notes    []string
}

// anchorShare is how much of a joint's limit a plant itself may cost, with everything else as in the clip: the rest is
// for what the curves are off.
const anchorShare = 0.85

// plant looks for ends that stand and gives what is settled with these limbs solved, and its errors; what it was where
// there are none, or where the joints could not be kept within the limits.
func (e *settled) plant(within Within, errors []errorReport) (*settled, []errorReport) {
	p := &planter{settled: e, figure: e.figures[0], within: within}
	f := p.figure
	all := f.findLimbs()
	if len(all) == 0 {
		return e, errors
	}
	stands := f.standsAt(stepsPerFrame, nil)
	if f.closed {
		stands = stands[:len(stands)-1]
	}
	reach := stillShare * within.WorldCM
	var limbs []limb
	for _, l := range all {
		switch l.plants = f.findPlants(&l, stands, reach); {
		case len(l.plants) == 0:
		case l.why != "":
			p.leaveOut(l.end, fmt.Sprintf("%s, so no chain can be its limb", l.why), l.plants...)
		default:
			limbs = append(limbs, l)
		}
	}
	limbs = p.worth(limbs)
	for len(limbs) > 0 {
		g, channels := f.withLimbs(limbs, e.channels[0], e.still)
		if kept := p.bearable(g.lead); len(kept) < len(limbs) || plantsOf(kept) < plantsOf(limbs) {
			limbs = p.worth(kept)
			continue
		}
		s := e.refitted(g, channels, within)
		reports := s.narrowDown(2 * settlingRounds)
		worst, ratio := p.worstLimb(s.checks[0], limbs)
		if ratio <= 1 && reports[0].ratio <= math.Max(1, errors[0].ratio) {
			for _, c := range e.channels[0] {
				if !c.dropped {
					g.lead.keysWithout += len(c.rows)
					for _, d := range c.drives {
						g.lead.bakedWithout += f.bakedKeys(&f.series[d.series])
					}
				}
			}
			g.lead.unplanted = p.notes
			return s, reports
		}
		p.leaveOut(limbs[worst].end, fmt.Sprintf("with its limb solved, the worst joint would still be %s times as far off as is allowed", number(ratio, 2)), limbs[worst].plants...)
		limbs = slices.Delete(slices.Clone(limbs), worst, worst+1)
	}
	f.unplanted = p.notes
	return e, errors
}

// refitted is what is settled with some limbs solved, before all errors together are held against the clip.
func (e *settled) refitted(g *ensemble, channels []channel, within Within) *settled {
	allowance := g.lead.limbAllowances(e.allowance[0], within)
	g.lead.refitNarrowed(channels, e.allowance[0], allowance, e.beats[0].frames)
	return &settled{g, e.beats, []*checker{newChecker(g.lead, within)}, [][]channel{channels}, [][][]float64{allowance}}
}

// standShare is the share of the clip from which on it is worth to solve a limb all the time for the sake of its plants:
// between them, the goal and the swivel take about as many keys as the turns did (testdata/fit.md).
const standShare = 1.0 / 8

// worth are the limbs whose ends stand long enough.
func (p *planter) worth(limbs []limb) (out []limb) {
	for _, l := range limbs {
		stands := plantedFrames(l.plants)
		if float64(stands) < standShare*float64(p.figure.time.frames) {
			p.leaveOut(l.end, fmt.Sprintf("for %s of %d its limb would have to be solved all the time", count(stands, "frame"), p.figure.time.frames), l.plants...)
			continue
		}
		out = append(out, l)
	}
	return out
}

func plantedFrames(plants []plant) (frames int) {
	for i := range plants {
		frames += plants[i].to - plants[i].from
	}
	return frames
}

func plantsOf(limbs []limb) (n int) {
	for i := range limbs {
		n += len(limbs[i].plants)
	}
	return n
}

// refitNarrowed fits anew what has no rows yet, and what may be off less than before.
func (f *figure) refitNarrowed(channels []channel, before, allowance [][]float64, beatFrames float64) {
	f.eachControl(channels, func(own []*channel) {
		shared := map[int]bool{}
		changed := false
		for _, c := range own {
			anew := c.rows == nil && !c.dropped || slices.ContainsFunc(c.drives, func(d drive) bool {
				return d.series < len(before) && !slices.Equal(before[d.series], allowance[d.series])
			})
			if anew {
				f.fitChannel(c, allowance, beatFrames, shared)
				changed = true
				continue
			}
			for _, r := range c.rows {
				shared[r.frame] = true
			}
		}
		if changed {
			f.shareRows(own, allowance, beatFrames)
		}
	})
}

// bearable are the limbs of a figure whose joints can stay within their limits with everything else as in the clip, with
// the plants that allow it.
func (p *planter) bearable(g *figure) []limb {
	values := make([][]float64, len(g.series))
	for n := range values {
		values[n] = g.series[n].clip
	}
	type cost struct {
		share        float64 // of the limit
		joint, frame int
		deg          float64
	}
	costs := make([]map[*plant]cost, len(g.limbs))
	for n := range costs {
		costs[n] = map[*plant]cost{}
	}
	joints := g.skeleton.joints
	g.eachPose(values, func(step int, pose []transform, place []vec3) {
		if step%stepsPerFrame != 0 {
			return
		}
		for n := range g.limbs {
			l := &g.limbs[n]
			held := g.plantAt(l, step)
			for _, i := range []int{l.root, l.middle, l.end} {
				o := offsOf(pose[i], joints[i].clip[step], place[i], g.world[step][i])
				own, there := o.shares(p.within, offs{})
				if share := max(own, there); share > costs[n][held].share {
					costs[n][held] = cost{share, i, step / stepsPerFrame, o.turnDeg}
				}
			}
		}
	})
	var out []limb
	for n := range g.limbs {
		l := g.limbs[n]
		if c := costs[n][nil]; c.share > anchorShare {
			how := "can't be solved as it moves"
			if place := g.world[c.frame*stepsPerFrame]; place[l.middle].minus(place[l.root]).angleTo(place[l.end].minus(place[l.middle])) < leastBendDeg {
				how = "is as good as straight, so that nothing tells which way it bends,"
			}
			p.leaveOut(l.end, fmt.Sprintf("its limb %s at frame %d: %s would be off by %s°", how, c.frame, joints[c.joint].name, roundUp(c.deg, 2)), l.plants...)
			continue
		}
		var kept []plant
		for i := range g.limbs[n].plants {
			held := &g.limbs[n].plants[i]
			c := costs[n][held]
			if c.share <= anchorShare {
				kept = append(kept, *held)
				continue
			}
			reason := fmt.Sprintf("it jitters, and held still it would put %s off by %s° at frame %d", joints[c.joint].name, roundUp(c.deg, 2), c.frame)
			if wide := math.Ceil(10*c.deg/suggestShare) / 10; wide <= mostSuggestedDeg {
				reason += fmt.Sprintf("; --within %sdeg plants it", number(wide, 1))
			}
			p.leaveOut(l.end, reason, *held)
		}
		if l.plants = kept; len(kept) > 0 {
			out = append(out, l)
		}
	}
	return out
}

// mostSuggestedDeg is up to which limit of turns a wider one is suggested for the sake of a plant, and suggestShare the
// share of it that the plant itself would take then.
const (
	mostSuggestedDeg = 1.5
	suggestShare     = 0.7
)

// leaveOut notes that an end stands still and is not planted, and why.
func (p *planter) leaveOut(end int, reason string, plants ...plant) {
	var when []string
	for i := range plants {
		where := ""
		if on := plants[i].on; on >= 0 {
			where = " on " + p.figure.skeleton.joints[on].name
		}
		when = append(when, fmt.Sprintf("%d to %d%s", plants[i].from, plants[i].to, where))
	}
	p.notes = append(p.notes, fmt.Sprintf("%s stands still from frame %s, but stays unplanted: %s", p.figure.skeleton.joints[end].name, strings.Join(when, " and "), reason))
}

// worstLimb is the limb whose joints, or what hangs on them, are farthest outside their limits, and by how much.
func (p *planter) worstLimb(check *checker, limbs []limb) (worst int, ratio float64) {
	for n := range limbs {
		l := &limbs[n]
		for _, i := range append([]int{l.root, l.middle, l.end}, l.carried...) {
			if r := max(slices.Max(check.own[i]), slices.Max(check.place[i])); r > ratio {
				worst, ratio = n, r
			}
		}
	}
	return worst, ratio
}

// plantReports are the plants of a figure by goal and time.
func (f *figure) plantReports() (out []PlantReport) {
	for n := range f.limbs {
		for _, p := range f.limbs[n].plants {
			r := PlantReport{Goal: f.skeleton.joints[f.limbs[n].end].name, From: p.from, To: p.to}
			if p.on >= 0 {
				r.On = f.skeleton.joints[p.on].name
			}
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b PlantReport) int { return cmp.Compare(a.Goal, b.Goal) })
	return out
}
