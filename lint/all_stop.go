package lint

import (
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func allStop() *Rule {
	return &Rule{
		Name: "all-stop", Group: MotionGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 15, Unit: "%"}, {Value: 0.08, Unit: "s"}},
		Doc: Doc{
			Reports: "A moment at which everything arrives at once and stops.",
			Why:     "In a living body something is always still on its way: the hips have come to rest while the arms swing out. Where all of it stops on one frame, the poses show through, and the motion reads as a row of pictures.",
			Decides: "The speeds of all joints through the world added up, frame by frame. Where that sum is under 15 % of its own mean for two frames at 24 fps (0.08 s, and never less than two), with a mean of a quarter of that, since a smooth turn passes through with a half, and the figure is as still as `freeze` asks for, all has stopped; `freeze` itself takes over from half a second on. The ends of a span are left alone: it comes from rest and goes to it. Limits are common practice; a real idle's least sum is 40 % of its mean. The sum alone spoke of 19 moments in 7 of the 16 real clips that were read in, holds that drift as a hold should and slow turns; with the other two conditions it speaks of two, of 7 and 11 frames, in the middle of holds that drift before and after and die there.",
			Allow:   "When everything is meant to stop: a fright, a word of command.",
			Bad:     "track hips\n  at      side\n  0b      3\n  1b      -3\n  1b+4f   -3\n  5/2b    0\n",
			Good:    "track hips\n  at      side\n  0b      3\n  1b      -3\n  1b+4f   -3.5\n  5/2b    0\n",
		},
		Check: checkAllStop,
	}
}

func checkAllStop(p *Pass) {
	s := p.Sampled()
	if s == nil {
		return
	}
	still := p.inForce("freeze").limit("%")
	least := max(2, math.Round(p.Limit("s")*p.Motion.Sheet.Rate.Float()))
	if !p.mayRest(s, still, least) {
		return
	}
	sums, mean := s.SummedSpeeds(nil), 0.0
	for _, v := range sums {
		mean += v / float64(len(sums))
	}
	stops := below(p.liveliness(s), still)
	for k := range stops {
		stops[k] = stops[k] && sums[k] < p.Limit("%")/100*mean
	}
	frozen := p.freezes(s)
	for _, h := range stretches(stops, s, least) {
		told := slices.ContainsFunc(frozen, func(f hold) bool { return within(s, h, f) })
		if told || !rests(h, s, sums, p.Limit("%")/100*mean) || !s.Closed && (h.from == 0 || h.from+h.frames > s.Time(s.Steps())-1e-9) {
			continue
		}
		p.Report(p.nearestRow(h.from), "everything stops at once at %s and stays for %s, under %s%% of the motion's mean speed; let some of it arrive later, by an `overlap` or a moving hold",
			p.moment(h.from), p.lasting(h), number(p.Limit("%")))
	}
}

// within tells whether one stretch lies in another, round the seam in a cycle.
func within(s *motion.Sampled, inner, outer hold) bool {
	after := inner.from - outer.from
	if s.Closed && after < 0 {
		after += s.Motion.Sheet.Length.Float()
	}
	return after >= -1e-9 && after+inner.frames <= outer.frames+1e-9
}
