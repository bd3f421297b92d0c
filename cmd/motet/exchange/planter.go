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

// A planter is an import's search for limbs of one clip that can be solved so that their ends stand.
type planter struct {
	figure *figure
	within Within
	limbs  []limb // all that the figure has; those without plants are not solved
	notes  []string
}

// anchorShare is how much of a joint's limit a plant itself may cost, with everything else as in the clip: the rest is
// for what the curves are off.
const anchorShare = 0.85

// standShare is the share of the clip from which on it is worth to solve a limb all the time for the sake of its plants:
// between them, the goal and the swivel take about as many keys as the turns did (testdata/fit.md).
const standShare = 1.0 / 8

// worth lets go of limbs whose ends do not stand long enough.
func (p *planter) worth() {
	for n := range p.limbs {
		l := &p.limbs[n]
		if stands := plantedFrames(l.plants); stands > 0 && !l.keyed && float64(stands) < standShare*float64(p.figure.time.frames) {
			p.leaveOut(l.end, fmt.Sprintf("for %s of %d its limb would have to be solved all the time", count(stands, "frame"), p.figure.time.frames), l.plants...)
			l.plants = nil
		}
	}
}

func plantedFrames(plants []plant) (frames int) {
	for i := range plants {
		frames += plants[i].to - plants[i].from
	}
	return frames
}

// plants is how many plants there are, and limbs that are solved without.
func (p *planter) plants() (n int) {
	for i := range p.limbs {
		if n += len(p.limbs[i].plants); p.limbs[i].keyed {
			n++
		}
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

// bearable lets go of the plants of a figure with which its joints could not stay within their limits with everything else
// as in the clip, and of those of limbs that could not at all.
func (p *planter) bearable(g *figure) {
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
			if l.idle {
				continue
			}
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
	for n := range g.limbs {
		l := &g.limbs[n]
		if l.idle {
			continue
		}
		own := p.limb(l.end)
		if c := costs[n][nil]; c.share > anchorShare {
			how := "can't be solved as it moves"
			if place := g.world[c.frame*stepsPerFrame]; place[l.middle].minus(place[l.root]).angleTo(place[l.end].minus(place[l.middle])) < leastBendDeg {
				how = "is as good as straight, so that nothing tells which way it bends,"
			}
			p.leaveOut(l.end, fmt.Sprintf("its limb %s at frame %d: %s would be off by %s°", how, c.frame, joints[c.joint].name, roundUp(c.deg, 2)), l.plants...)
			own.plants, own.keyed = nil, false
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
		own.plants = kept
	}
}

// limb is the planter's own limb of an end.
func (p *planter) limb(end int) *limb {
	return &p.limbs[slices.IndexFunc(p.limbs, func(l limb) bool { return l.end == end })]
}

// mostSuggestedDeg is up to which limit of turns a wider one is suggested for the sake of a plant, and suggestShare the
// share of it that the plant itself would take then.
const (
	mostSuggestedDeg = 1.5
	suggestShare     = 0.7
)

// leaveOut notes that an end stands still and is not planted, and why.
func (p *planter) leaveOut(end int, reason string, plants ...plant) {
	if len(plants) == 0 {
		return
	}
	p.notes = append(p.notes, fmt.Sprintf("%s stands still from frame %s, but stays unplanted: %s", p.figure.skeleton.joints[end].name, p.figure.stretchesOf(plants), reason))
}

// stretchesOf are the frames of plants, and what they are on, for a person.
func (f *figure) stretchesOf(plants []plant) string {
	var when []string
	for i := range plants {
		where := ""
		if on := plants[i].on; on >= 0 {
			where = " on " + f.skeleton.joints[on].name
		}
		when = append(when, fmt.Sprintf("%d to %d%s", plants[i].from, plants[i].to, where))
	}
	return strings.Join(when, " and ")
}

// worstLimb is the end of the limb whose joints, or what hangs on them, are farthest outside their limits, and by how much.
// idle says to look at limbs that are not solved in this clip, and not at the others.
func worstLimb(check *checker, idle bool) (end int, ratio float64) {
	for n := range check.figure.limbs {
		l := &check.figure.limbs[n]
		if l.idle != idle {
			continue
		}
		for _, i := range append([]int{l.root, l.middle, l.end}, l.carried...) {
			if r := max(slices.Max(check.own[i]), slices.Max(check.place[i])); r > ratio {
				end, ratio = l.end, r
			}
		}
	}
	return end, ratio
}

// plantReports are the plants of a figure by goal and time.
func (f *figure) plantReports() (out []PlantReport) {
	for n := range f.limbs {
		for _, p := range f.limbs[n].plants {
			r := PlantReport{Goal: f.goalName(&f.limbs[n]), From: p.from, To: p.to}
			if p.on >= 0 {
				r.On = f.skeleton.joints[p.on].name
			}
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b PlantReport) int { return cmp.Compare(a.Goal, b.Goal) })
	return out
}
