package lint

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func freeze() *Rule {
	return &Rule{
		Name: "freeze", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0.5, Unit: "s"}, {Value: 0.4, Unit: "%"}},
		Doc: Doc{
			Reports: "The whole figure still, for half a second or more.",
			Why:     "A figure that stands dead still turns into a picture of itself. Whoever lives sways, breathes and shifts, even in a hold.",
			Decides: "In each step from frame to frame, the speed of the fastest joint through the world, in per cent of the figure's height a second. Since a head on its pivot moves no joint, a dial's own speed counts as well: a degree for the way of a point that is a tenth of the height from the pivot, a per cent for as much. Under 0.4 % a second, 0.7 cm for a grown figure, nobody sees anything move (common practice; at 1 %, which was tried first, a hold that drifts by 1.5 cm in two seconds was told as dead); half a second of that, round the seam too, is reported where the mean is a quarter of it or less, since a slow turn passes through with a half. A sheet in which nothing moves from end to end is a pose, and is left alone. Of the 16 real clips that were read in it speaks of none, and `all-stop` of two holds that die in their middle.",
			Allow:   "When the figure is meant to stop dead: a statue, a game of statues, a held breath.",
			Bad:     "track hips\n  at      side\n  0b      3\n  1b      -3^\n  2b      -3^\n",
			Good:    "track hips\n  at      side\n  0b      3\n  1b      -3\n  2b      -4\n",
		},
		Check: checkFreeze,
	}
}

func checkFreeze(p *Pass) {
	s := p.Sampled()
	if s == nil {
		return
	}
	for _, h := range p.freezes(s) {
		p.Report(p.nearestRow(h.from), "the whole figure stands still for %s from %s on: no joint moves by as much as %s%% of its height in a second; let the hold drift, or breathe",
			p.lasting(h), p.moment(h.from), number(p.Limit("%")))
	}
}

// hold is a stretch of time, in frames; in a cycle it may go on beyond the end.
type hold struct{ from, frames float64 }

// freezes gives the stretches in which the whole figure is still for as long as `freeze` asks for; none where it is off.
func (p *Pass) freezes(s *motion.Sampled) []hold {
	rule := p.inForce("freeze")
	if rule.Level == Off {
		return nil
	}
	limit, least := rule.limit("%"), rule.limit("s")*p.Motion.Sheet.Rate.Float()
	if !p.mayRest(s, limit, least) {
		return nil
	}
	moving := p.liveliness(s)
	all := stretches(below(moving, limit), s, least)
	return slices.DeleteFunc(all, func(h hold) bool { return !rests(h, s, moving, limit) })
}

// passing is how much of a limit speeds may be in their mean where something rests. A smooth turn passes through its
// stillest moment at half of it, its speed falling and rising in straight lines.
const passing = 0.25

// rests tells whether speeds stay low through a stretch, and do not only pass.
func rests(h hold, s *motion.Sampled, speeds []float64, limit float64) bool {
	from, count, sum := int(math.Round(h.from/s.Step)), int(math.Round(h.frames/s.Step)), 0.0
	for i := range count {
		sum += speeds[(from+i)%len(speeds)]
	}
	return sum < passing*limit*float64(count)
}

func below(values []float64, limit float64) []bool {
	out := make([]bool, len(values))
	for k, v := range values {
		out[k] = v < limit
	}
	return out
}

// liveliness is how much moves in each step, in per cent of the figure's height a second: the fastest joint's speed, or
// that of a dial where it is more.
func (s *subject) liveliness(sampled *motion.Sampled) []float64 {
	if s.lively == nil {
		s.lively = liveliness(sampled)
	}
	return s.lively
}

// mayRest tells whether there is a stretch of at least so many frames in which the liveliness stays under a limit, or none
// that is over it. It looks at the dials and the root first, which is quick: where they move, the figure does. Only where
// they rest it asks for the joints.
func (s *subject) mayRest(sampled *motion.Sampled, limit, leastFrames float64) bool {
	if s.obvious == nil {
		s.obvious = make([]float64, sampled.Steps())
		rig := s.motion.Rig
		if root := slices.IndexFunc(rig.Joints, func(j motion.Joint) bool { return j.Part == motion.PartRoot }); root >= 0 {
			s.obvious = inHeights(rig, sampled.Speeds(root, s.obvious))
		}
		s.obvious = dialSpeeds(sampled, s.obvious)
	}
	still := below(s.obvious, limit)
	if !slices.Contains(still, false) {
		return true
	}
	if len(stretches(still, sampled, leastFrames)) == 0 {
		return false
	}
	fastest := sampled.FastestSpeedsIn(still)
	for k := range still {
		still[k] = still[k] && fastest[k]*100/s.motion.Rig.Height < limit
	}
	return len(stretches(still, sampled, leastFrames)) > 0
}

func liveliness(s *motion.Sampled) []float64 {
	return dialSpeeds(s, inHeights(s.Motion.Rig, s.FastestSpeeds(nil)))
}

// inHeights turns speeds from cm into per cent of a figure's height.
func inHeights(rig *motion.Rig, speeds []float64) []float64 {
	for k := range speeds {
		speeds[k] *= 100 / rig.Height
	}
	return speeds
}

// dialSpeeds raises speeds to those of the dials, as far as they count as the way of a point.
func dialSpeeds(s *motion.Sampled, moving []float64) []float64 {
	m := s.Motion
	const arm = 10 // per cent of the height from the pivot
	perSecond := m.Sheet.Rate.Float() / s.Step
	for i := range m.Channels {
		c := &m.Channels[i]
		if !c.Moves() || c.Dial.Unit == "cm" && len(c.Dial.Drives) > 0 {
			continue
		}
		values := s.Channel(i)
		least, most := s.Range(i)
		if most == least && values.Gain == 0 {
			continue
		}
		const perUnit = arm * math.Pi / 180
		for k := range values.Samples[1:] {
			if speed := math.Abs(values.Samples[k+1]-values.Samples[k]) * perSecond * perUnit; speed > moving[k] {
				moving[k] = speed
			}
		}
		if last := len(values.Samples) - 1; last < len(moving) {
			moving[last] = max(moving[last], math.Abs(values.Step(last))*perSecond*perUnit)
		}
	}
	return moving
}

// stretches are the runs of steps for which a condition holds that last at least so many frames, round the seam in a
// cycle. One that holds from end to end is none.
func stretches(holds []bool, s *motion.Sampled, leastFrames float64) (out []hold) {
	n, start := len(holds), 0
	for s.Closed && start < n && holds[start] {
		start++
	}
	length := 0
	for i := range n + 1 {
		k := start + i
		if i < n && holds[k%n] {
			length++
			continue
		}
		if frames := float64(length) * s.Step; length > 0 && length < n && frames >= leastFrames-1e-9 {
			out = append(out, hold{s.Time((k - length) % n), frames})
		}
		length = 0
	}
	return out
}

// moment writes a time of a sample in frames and in seconds.
func (p *Pass) moment(frame float64) string { return moment(p.Motion.Sheet, thousandths(frame)) }

// lasting writes how long a stretch is in frames and in seconds.
func (p *Pass) lasting(h hold) string { return duration(p.Motion.Sheet, thousandths(h.frames)) }

// thousandths is a number of frames that is not the text's own, to a thousandth.
func thousandths(frames float64) grammar.Rat {
	return grammar.NewRat(int64(math.Round(frames*1000)), 1000)
}
