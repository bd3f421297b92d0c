package lint

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func pop() *Rule {
	return &Rule{
		Name: "pop", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0.4, Unit: "deg"}, {Value: 0.3, Unit: "cm"}, {Value: 3, Unit: "x"}},
		Doc: Doc{
			Reports: "A single frame that sticks out of the motion round it, or a jump from one frame to the next.",
			Why:     "One frame in the wrong place is a flicker that nobody can name and everybody sees: a toe that twitches, a head that blinks sideways.",
			Decides: "The motion as it plays, frame by frame, all layers put together. A frame sticks out where the way to it and the way on from it, each less the speed of the motion round them, go opposite ways, and the smaller of the two is over 0.4° or 0.3 cm and 3 times what the three frames on each side depart from that speed. A jump is a step that differs from the mean of those beside it by 3 times as much as that, 1.2° or 0.9 cm, and by 4 times the largest of the two on each side. A turn must be so for its joint's turn as a whole too, since three dials of one joint may jump with the joint going on smoothly. Not looked at: eyes and lids, which dart and blink; what a stay (`=`) steps to, and a seam that does not close. What pops at one moment is one report. The first definition tried, a frame off the cubic through its neighbours by 8 times the median, gave 2 786 reports on 15 of the 16 real clips that were read in, since a curve of few keys is a cubic nearly everywhere, and its median 0; this one gives 13, on 6 clips, each a frame that a viewer of the clip can see.",
			Allow:   "When something breaks, snaps or strikes within a frame.",
			Bad:     "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack head\n  at      nod\n  0b      0\n  1b      22\n  2b-1f   10\n  2b      6\n  2b+1f   8.6\n  5/2b    -8\n",
			Good:    "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack head\n  at      nod\n  0b      0\n  1b      22\n  2b      9.3\n  5/2b    -8\n",
		},
		Check: checkPop,
	}
}

// popped is a channel that pops at one sample.
type popped struct {
	channel *motion.Channel
	sample  int // the one that sticks out, or the first of a jump's two
	jumps   bool
	by      float64 // the channel's unit
	over    float64 // times its limit
}

// steps gives how much something changes in the step from sample k + i to the next: of a channel one number, of a joint's
// turn three.
type steps func(i int) [3]float64

func checkPop(p *Pass) {
	s := p.Sampled()
	if s == nil || s.Count < 8 {
		return
	}
	var pops []popped
	for i := range p.Motion.Channels {
		c := &p.Motion.Channels[i]
		part := p.Motion.Rig.PartOf(c.Dial)
		if c.Moves() && p.Limit(c.Dial.Unit) > 0 && part != motion.PartEye && part != motion.PartLid {
			pops = append(pops, p.popsAgain(s, c)...)
		}
	}
	slices.SortStableFunc(pops, func(a, b popped) int { return cmp.Compare(a.sample, b.sample) })
	for len(pops) > 0 {
		n := 1
		for n < len(pops) && pops[n].sample <= pops[n-1].sample+1 {
			n++
		}
		p.pop(s, pops[:n])
		pops = pops[n:]
	}
}

// popsOf finds the pops of one channel among the samples at which it alone seems to pop, see [Pass.seemToPop]. Of neighbouring
// samples the one that sticks out most counts.
func (p *Pass) popsOf(s *motion.Sampled, c *motion.Channel, seeming []popped) (pops []popped) {
	limit := p.Limit(c.Dial.Unit)
	for _, q := range seeming {
		if c.Dial.Unit == "deg" {
			if _, ok := p.popAt(p.turnsOf(s, c, q.sample), limit); !ok {
				continue
			}
		}
		q.channel = c
		if last := len(pops) - 1; last >= 0 && pops[last].sample == q.sample-1 {
			if q.over > pops[last].over {
				pops[last] = q
			}
			continue
		}
		pops = append(pops, q)
	}
	return pops
}

// seemToPop finds the samples at which a channel pops, whatever else turns its joint; they name no channel.
func (p *Pass) seemToPop(s *motion.Sampled, c *motion.Channel) (seeming []popped) {
	values, limit := s.Channel(c.Index), p.Limit(c.Dial.Unit)
	first, end := 0, s.Count
	if !s.Closed {
		first, end = 3, s.Count-4
	}
	samples, step := values.Samples, values.Step(first-1)
	steps := stepTimes{pass: p, channel: c}
	for k := first; k < end; k++ {
		before := step
		if k+1 < len(samples) {
			step = samples[k+1] - samples[k]
		} else {
			step = values.Step(k)
		}
		// Nearly all samples are left here: a pop is two large steps in a row, or one.
		if math.Abs(step-before) <= limit {
			continue
		}
		if !mayPop(values, k, limit) || steps.near(s.Time(k)) {
			continue
		}
		ways := func(i int) [3]float64 { return [3]float64{values.Step(k + i)} }
		if q, ok := p.popAt(ways, limit); ok {
			q.sample = k
			seeming = append(seeming, q)
		}
	}
	return seeming
}

// mayPop tells whether one channel's own steps are large enough for [Pass.popAt], without looking at what is round them.
func mayPop(values motion.Signal, k int, limit float64) bool {
	before, to, on, after := values.Step(k-2), values.Step(k-1), values.Step(k), values.Step(k+1)
	past := (before + after) / 2
	sticksOut := (to-past)*(on-past) < 0 && min(math.Abs(to-past), math.Abs(on-past)) > limit
	return sticksOut || math.Abs(on-(to+after)/2) > asLarge*limit
}

// asLarge is how many times its limit a jump is at least: so it is told from a fast accent.
const asLarge = 3

// popAt tells whether the sample in the middle of some steps sticks out, or the step from it is a jump.
func (p *Pass) popAt(way steps, limit float64) (q popped, ok bool) {
	out, rest := sticksOut(way)
	if out > limit && out > p.Limit("x")*rest {
		return popped{by: out, over: out / limit}, true
	}
	const asMuch = 4.0 / 3 // and how much larger than its surroundings
	out, rest = jumps(way)
	if out > asLarge*limit && out > asMuch*p.Limit("x")*rest {
		return popped{by: out, over: out / (asLarge * limit), jumps: true}, true
	}
	return q, false
}

// sticksOut is how far a sample is off the way past it, and how uneven that way is.
func sticksOut(way steps) (out, rest float64) {
	past := halfway(way(-2), way(1))
	to, on := less(way(-1), past), less(way(0), past)
	if dot(to, on) > -0.7*norm(to)*norm(on) {
		return 0, 0
	}
	for _, i := range [4]int{-3, -2, 1, 2} {
		rest = max(rest, norm(less(way(i), past)))
	}
	return min(norm(to), norm(on)), rest
}

// jumps is by how much a step is larger than those beside it are in the mean, and the largest of these.
func jumps(way steps) (out, rest float64) {
	for _, i := range [4]int{-2, -1, 1, 2} {
		rest = max(rest, norm(way(i)))
	}
	return norm(less(way(0), halfway(way(-1), way(1)))), rest
}

func less(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

func halfway(a, b [3]float64) [3]float64 {
	return [3]float64{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2}
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// turnsOf gives the turns, from sample to sample, of the joint that a channel turns: about the joint's own axes, in
// degrees. A dial without a joint has its own steps.
func (p *Pass) turnsOf(s *motion.Sampled, c *motion.Channel, k int) steps {
	at := slices.IndexFunc(c.Dial.Drives, func(d motion.Drive) bool { return d.Joint >= 0 && d.Kind == motion.DrivesTurn })
	if at < 0 {
		return func(i int) [3]float64 { return [3]float64{s.Channel(c.Index).Step(k + i)} }
	}
	joint := c.Dial.Drives[at].Joint
	var turns [7][9]float64 // from k − 3 on
	for i := range turns {
		turns[i] = s.Turn(joint, k-3+i)
	}
	return func(i int) [3]float64 { return motion.TurnBetween(&turns[i+3], &turns[i+4]) }
}

// stepTimes are the times at which a channel may step, found when first asked for.
type stepTimes struct {
	pass    *Pass
	channel *motion.Channel
	strands []strandSteps
	found   bool
}

// strandSteps are the times of one curve's steps, in rising order and within its period, in frames.
type strandSteps struct {
	strand *motion.Strand
	times  []float64
}

// near tells whether a stay of the channel ends within two frames of a time, where it may step, or its ends do not meet
// there, which `seam-gap` reports.
func (t *stepTimes) near(frame float64) bool {
	if !t.found {
		t.find()
	}
	for _, s := range t.strands {
		if len(s.times) == 0 {
			continue
		}
		after := sort.SearchFloat64s(s.times, s.strand.Within(frame))
		for _, i := range [2]int{after - 1, after} {
			if s.strand.Apart(s.times[(i+len(s.times))%len(s.times)], frame) <= 2 {
				return true
			}
		}
	}
	return false
}

func (t *stepTimes) find() {
	t.found = true
	for layer, strand := range t.channel.Strands() {
		late := 0.0
		if layer == "" {
			late = t.channel.Late.Float()
		}
		steps := strandSteps{strand: strand}
		if math.Abs(strand.Curve.SeamGap()) > t.pass.Limit(t.channel.Dial.Unit)/2 {
			steps.times = append(steps.times, strand.Within(late))
		}
		for i := range strand.Keys {
			if strand.Keys[i].Shape == motion.Stay {
				steps.times = append(steps.times, strand.Within(strand.Keys[(i+1)%len(strand.Keys)].Time.Float()+late))
			}
		}
		slices.Sort(steps.times)
		t.strands = append(t.strands, steps)
	}
}

// pop reports what pops at one moment.
func (p *Pass) pop(s *motion.Sampled, pops []popped) {
	most := slices.MaxFunc(pops, func(a, b popped) int { return cmp.Compare(a.over, b.over) })
	frame := grammar.NewRat(int64(math.Round(s.Time(most.sample)*1000)), 1000)
	name, by := most.channel.Dial.Path, value(most.channel, rounded(most.by, 2))
	what := fmt.Sprintf("%s sticks out by %s at %s, for a single frame; take it back to its neighbours", name, by, moment(p.Motion.Sheet, frame))
	if most.jumps {
		what = fmt.Sprintf("%s jumps by %s from %s to the next; give it the frames that it needs", name, by, moment(p.Motion.Sheet, frame))
	}
	var others []motion.Related
	for _, q := range pops {
		if q.channel != most.channel && !slices.ContainsFunc(others, func(r motion.Related) bool { return r.Message == q.channel.Dial.Path+" too" }) {
			others = append(others, motion.Related{At: p.nearestPlace(q.channel, s.Time(q.sample)), Message: q.channel.Dial.Path + " too"})
		}
	}
	if len(others) > 0 {
		what += fmt.Sprintf(" (and with it %s)", plural(len(others), "more channel"))
	}
	finding := p.Report(p.nearestPlace(most.channel, s.Time(most.sample)), "%s", what)
	const shown = 3
	finding.Related = others[:min(shown, len(others))]
}
