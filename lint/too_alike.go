package lint

import (
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

func tooAlike() *Rule {
	return &Rule{
		Name: "too-alike", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "Two members of a family that move more alike than the family allows.",
			Why:     "Side by side they read as one person in two coats.",
			Decides: "The root of the mean square, over joints and time, of the difference of both members' displacements from rest in figure heights, at the phase and the mirror at which they come closest, as a share of the base's own motion: the same mean of how far its joints go from their own mean places. The limit is the family's `distinct`; 50% is a good start (common practice). A family that does not say is not judged. The base is the first member that is made from no other. Spans are left out.",
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
	for i := range r.Members {
		for k := i + 1; k < len(r.Members); k++ {
			share := r.Share(i, k)
			if !(share < f.Distinct-1e-9) {
				continue
			}
			a, b := r.Members[i], r.Members[k]
			finding := p.Report(f.At("distinct"), "%s and %s are only %s apart%s; the family asks for %s of the base's motion", a.Name, b.Name, percent(share), how(r.Distances[i][k]), percent(f.Distinct))
			finding.Related = []motion.Related{opens(a), opens(b)}
		}
	}
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
