package lint

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// allowance is a comment `# allow RULE: reason` and the line it speaks for.
type allowance struct {
	*grammar.Allow
	at   grammar.Ref // the comment
	line grammar.Ref // block and line that it speaks for
	used bool
}

// allowances finds the comments of a file that allow something. One behind a line speaks for that line; one on a line of
// its own speaks for the next line below it that is not a comment or blank.
func allowances(f *grammar.File) []*allowance {
	var out []*allowance
	for _, b := range f.Blocks {
		for i := 0; i < len(b.Lines) && !b.Plain; i++ {
			l := &b.Lines[i]
			if l.Allow == nil {
				continue
			}
			speaksFor := i
			for speaksFor < len(b.Lines)-1 && (b.Lines[speaksFor].Kind == grammar.CommentLine || b.Lines[speaksFor].Kind == grammar.BlankLine) {
				speaksFor++
			}
			out = append(out, &allowance{Allow: l.Allow, at: b.Ref(i, l.Allow.Span), line: b.Ref(speaksFor, grammar.Span{})})
		}
	}
	return out
}

// withoutAllowed leaves out what comments allow, and adds a report for each comment that has no effect, where the rule
// that such a report belongs to is asked for.
func withoutAllowed(f *grammar.File, found []Finding, ran, asked []*Rule) []Finding {
	all := allowances(f)
	if len(all) == 0 {
		return found
	}
	kept := slices.DeleteFunc(found, func(finding Finding) bool {
		allowed := false
		for _, a := range all {
			if a.Reason != "" && a.Rule == finding.Rule && a.line.Block == finding.At.Block && a.line.Line == finding.At.Line {
				a.used, allowed = true, true
			}
		}
		return allowed
	})
	for _, a := range all {
		if finding, bad := judgeAllowance(f, a, ran); bad && ruleNamed(asked, finding.Rule) != nil {
			kept = append(kept, finding)
		}
	}
	return kept
}

// dropped takes the comment out, with the white space before it, or the whole line where it stands alone.
func (a *allowance) dropped(f *grammar.File) []motion.Edit {
	l := &a.at.Block.Lines[a.at.Line]
	if l.Kind == grammar.CommentLine {
		return []motion.Edit{{At: wholeLine(f, a.at.Block, a.at.Line)}}
	}
	return []motion.Edit{{At: a.at.Block.Ref(a.at.Line, grammar.Span{Start: l.Content().End, End: a.at.Span.End})}}
}

func judgeAllowance(f *grammar.File, a *allowance, ran []*Rule) (Finding, bool) {
	name := a.at.Block.Ref(a.at.Line, a.At)
	rule := RuleNamed(a.Rule)
	switch {
	case rule == nil:
		finding := Finding{Rule: "unknown-name", Level: Error, At: name, Message: "there is no rule `" + a.Rule + "`"}
		if near := grammar.Nearest(a.Rule, ruleNames(Rules())); near != "" {
			finding.Message += "; did you mean `" + near + "`?"
			finding.Mends = []motion.Mend{motion.Write(name, near)}
		}
		return finding, true
	case a.Reason == "":
		return Finding{
			Rule: "syntax", Level: Error, At: a.at,
			Message: "an allowance needs its reason, so that the next reader knows; write `# allow " + a.Rule + ": REASON`",
		}, true
	case !a.used && ruleNamed(ran, rule.Name) != nil:
		return Finding{
			Rule: "unused-name", Level: Note, At: a.at, Unused: true,
			Message: "nothing here is reported by `" + a.Rule + "`, so this allowance does nothing; remove it",
			Mends:   []motion.Mend{{Title: "remove the allowance", Edits: a.dropped(f), Safe: true}},
		}, true
	}
	return Finding{}, false
}
