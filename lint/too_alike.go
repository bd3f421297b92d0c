package lint

import (
	"math"
	"strconv"

	"github.com/motet-sheet/motet/lint/motion"
)

func tooAlike() *Rule {
	return &Rule{
		Name: "too-alike", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "Two members of a family that move more alike than the family allows.",
			Why:     "Side by side they read as one person in two coats.",
			Decides: "The root of the mean square, over joints and time, of the difference of both members' displacements from rest in figure heights, at the phase and the mirror at which they come closest, as a share of the base's own motion: the same mean of how far its joints go from their own mean places. The limit is the family's `distinct`; 50% is a good start (common practice). A family that does not say, or whose base does not move, is not judged. The base is the first cycle that is made from no other, or the first one of all. Spans are left out, and so are two clips of one person, where the family's `name` tells who that is. Each member is reported once, with the one before it that it is nearest to.",
			Allow:   "When the two are never seen together.",
			Bad:     "family folk\n  members   \"[ce]*-wait.motet\"\n  distinct  50%\n",
			Good:    "family folk\n  members   \"[cp]*-wait.motet\"\n  distinct  50%\n",
		},
		Check: checkTooAlike,
	}
}

func checkTooAlike(p *Pass) {
	f := p.Motion.Family()
	if f == nil || f.Distinct == 0 {
		return
	}
	r := f.Resemblance()
	if r.Base == 0 {
		return
	}
	sure := make([]bool, len(r.Members))
	for k, m := range r.Members {
		sure[k] = certain(m.Motion)
		nearest, more := -1, 0
		for i := range k {
			if !sure[i] || !sure[k] || !tooNear(f, r, i, k) {
				continue
			}
			if nearest >= 0 {
				more++
			}
			if nearest < 0 || r.Share(i, k) < r.Share(nearest, k) {
				nearest = i
			}
		}
		if nearest >= 0 {
			p.reportAlike(f, r, nearest, k, more)
		}
	}
}

// tooNear tells whether two persons' cycles are nearer than the family allows. One person's are never seen together.
func tooNear(f *motion.Family, r *motion.Resemblance, i, k int) bool {
	a, b := r.Members[i], r.Members[k]
	one, _ := person(f, a)
	other, _ := person(f, b)
	return (one != other || f.Pattern == "") && r.Share(i, k) < f.Distinct-1e-9
}

func (p *Pass) reportAlike(f *motion.Family, r *motion.Resemblance, i, k, more int) {
	a, b := r.Members[i], r.Members[k]
	finding := p.Report(f.At("distinct"), "%s and %s are only %s apart%s; the family asks for %s of the base's motion", called(f, b), called(f, a), percent(r.Share(i, k)), how(r.Distances[i][k]), percent(f.Distinct))
	if more > 0 {
		finding.Message += " (and " + called(f, b) + " is too near to " + strconv.Itoa(more) + " more)"
	}
	finding.Related = []motion.Related{opens(a), opens(b)}
}

func percent(share float64) string { return number(math.Round(share*1000)/10) + "%" }

// how says in which way two members come closest, where that is not just as they stand.
func how(d motion.Distance) string {
	switch {
	case d.Mirrored:
		return " when one of them is mirrored"
	case math.Abs(d.LagBeats) > 0.05:
		return " when one of them plays " + number(rounded(math.Abs(d.LagBeats), 1)) + " beats later"
	}
	return ""
}
