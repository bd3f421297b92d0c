package lint

import (
	"path"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

func missingClip() *Rule {
	return &Rule{
		Name: "missing-clip", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "A person of a family without one of the clips that everybody needs, a sheet whose name does not fit the family's pattern, two of one name, or no members at all.",
			Why:     "The engine asks for the clip by its name, finds nothing, and the figure stands in its bind pose.",
			Decides: "Members' names are read by the family's `name`, where of several clips that fit the longest counts, and each person is held to the clips of `each`. A clip whose file is there with a broken opening line is not missing. In a family without `name` or `each` only two sheets of one name are reported.",
			Allow:   "While a person is still being made.",
			Bad:     "family folk\n  members   \"*-*.motet\"\n  each      wait glance\n  name      \"{who}-{clip}\"\n",
			Good:    "family folk\n  members   \"*-wait.motet\"\n  each      wait\n  name      \"{who}-{clip}\"\n",
		},
		Check: checkMissingClip,
	}
}

func checkMissingClip(p *Pass) {
	f := p.Motion.Family()
	if f == nil {
		return
	}
	if f.Missed != "" {
		p.nobody(f)
	}
	p.sameNames(f)
	if f.Pattern == "" || len(f.Each) == 0 {
		return
	}
	clips := map[string][]string{}
	var people []string
	for i := range f.Members {
		m := &f.Members[i]
		who, clip, ok := f.Person(m.Name)
		if !ok {
			finding := p.Report(f.At("name"), "the sheet `%s` is not named like `%s` with one of the clips %s; rename it", m.Name, f.Pattern, strings.Join(f.Each, ", "))
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
			name := strings.NewReplacer("{who}", who, "{clip}", clip).Replace(f.Pattern)
			if !slices.Contains(clips[who], clip) && !unread(f, name) {
				p.Report(f.At("each"), "`%s` has no `%s`; make the sheet `%s`", who, clip, name)
			}
		}
	}
}

// nobody reports a family whose rules hold for no sheet at all, since what they say about nobody is always true.
func (p *Pass) nobody(f *motion.Family) {
	folder, name := path.Split(f.Missed)
	if strings.ContainsAny(folder, "*?[") {
		p.Report(f.At("members"), "there is no folder `%s`; only the last part of the path may stand for several, so keep the members in one folder", path.Clean(folder))
		return
	}
	p.Report(f.At("members"), "no sheet's file in `%s` is called `%s`, so that the family has no members; name them from this file's folder, such as `\"*.motet\"`", path.Clean(folder), name)
}

// sameNames reports members that have one name: whoever asks for the clip by its name gets one of them, and nobody knows
// which.
func (p *Pass) sameNames(f *motion.Family) {
	firsts := map[string]*motion.Member{}
	for i := range f.Members {
		m := &f.Members[i]
		first := firsts[m.Name]
		if first == nil {
			firsts[m.Name] = m
			continue
		}
		finding := p.Report(f.At("members"), "two sheets are named `%s`, in %s and in %s; rename one of them", m.Name, path.Base(first.Path), path.Base(m.Path))
		finding.Related = []motion.Related{opens(first), opens(m)}
	}
}

// unread tells whether a file is named like a clip whose sheet cannot be told: that is a report of its own.
func unread(f *motion.Family, name string) bool {
	return slices.ContainsFunc(f.Unread, func(file string) bool {
		return strings.TrimSuffix(path.Base(file), path.Ext(file)) == name
	})
}
