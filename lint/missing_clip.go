package lint

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

func missingClip() *Rule {
	return &Rule{
		Name: "missing-clip", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "A person of a family without one of the clips that everybody needs, or a sheet whose name does not fit the family's pattern.",
			Why:     "The engine asks for the clip by its name, finds nothing, and the figure stands in its bind pose.",
			Decides: "Members' names are read by the family's `name`, and each person is held to the clips of `each`. A family without `name` is not judged.",
			Allow:   "While a person is still being made.",
			Bad:     "family folk\n  members   \"*-*.motet\"\n  each      wait glance\n  name      \"{who}-{clip}\"\n",
			Good:    "family folk\n  members   \"*-wait.motet\"\n  each      wait\n  name      \"{who}-{clip}\"\n",
		},
		Check: checkMissingClip,
	}
}

func checkMissingClip(p *Pass) {
	f := p.Motion.Family()
	if f == nil || f.Pattern == "" || len(f.Each) == 0 {
		return
	}
	clips := map[string][]string{}
	var people []string
	for i := range f.Members {
		m := &f.Members[i]
		who, clip, ok := f.Person(m.Name)
		if !ok {
			finding := p.Report(f.At("name"), "the sheet `%s` is not named like `%s` with one of the clips %s", m.Name, f.Pattern, strings.Join(f.Each, ", "))
			finding.Related = []motion.Related{opens(m)}
			continue
		}
		if clips[who] == nil {
			people = append(people, who)
		}
		clips[who] = append(clips[who], clip)
	}
	for _, who := range people {
		for _, clip := range f.Each {
			if !slices.Contains(clips[who], clip) {
				name := strings.NewReplacer("{who}", who, "{clip}", clip).Replace(f.Pattern)
				p.Report(f.At("each"), "`%s` has no `%s`; make the sheet `%s`", who, clip, name)
			}
		}
	}
}

// opens is the line that opens a member's sheet, as a related place.
func opens(m *motion.Member) motion.Related {
	b := m.Motion.Sheet.Block
	return motion.Related{At: b.RefLine(b.Open), Message: m.Name}
}
