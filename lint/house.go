package lint

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// Setting is a rule as it is in force for one file.
type Setting struct {
	Rule *Rule       // with the level and the limits in force
	From grammar.Ref // the house row that set it; nothing where the rule is as it comes
}

// Settings are all rules as they are in force for a motion's file: the nearest house that speaks of a rule counts for
// it, the sheet's own before its folder's, that before the folder's above.
func Settings(m *motion.Motion) []Setting { return settle(m, Rules()) }

func settle(m *motion.Motion, rules []*Rule) []Setting {
	out := make([]Setting, len(rules))
	for i, rule := range rules {
		out[i] = Setting{Rule: rule.unasked()}
		for _, house := range m.Houses {
			if row, ok := houseRow(house, rule.Name); ok {
				if changed, fault := row.apply(rule); fault == "" {
					out[i] = Setting{changed, row.ref(0)}
				}
				break
			}
		}
	}
	return out
}

// unasked is the rule as it is in force where no house speaks of it.
func (r *Rule) unasked() *Rule {
	if !r.Asked {
		return r
	}
	c := *r
	c.Level = Off
	return &c
}

// AskedFor is the rule as it runs for somebody who names it: one that waits for a house to ask for it no longer does. What
// a house says of it holds all the same.
func (r *Rule) AskedFor() *Rule {
	if !r.Asked {
		return r
	}
	c := *r
	c.Asked = false
	return &c
}

// houseLine is one row of a house.
type houseLine struct {
	block *grammar.Block
	line  int
}

// houseRow finds the row of a house that speaks of a rule; of several the last counts.
func houseRow(b *grammar.Block, name string) (found houseLine, ok bool) {
	for i := range b.Rows() {
		if row := (houseLine{b, i}); row.text("rule") == name {
			found, ok = row, true
		}
	}
	return found, ok
}

func (r houseLine) text(column string) string {
	at := r.block.ColumnIndex(column)
	l := &r.block.Lines[r.line]
	if at < 0 || at >= len(l.Cells) || l.Cells[at].Class == grammar.Dot {
		return ""
	}
	return l.CellText(at)
}

// ref is a cell's place, or the row's where it has no such cell.
func (r houseLine) ref(column int) grammar.Ref {
	l := &r.block.Lines[r.line]
	if column < 0 || column >= len(l.Cells) {
		return r.block.RefLine(r.line)
	}
	return r.block.Ref(r.line, l.Cells[column].Span)
}

// apply is the rule as the row sets it, or what is wrong with the row.
func (r houseLine) apply(rule *Rule) (changed *Rule, fault string) {
	c := *rule
	c.Level = Level(slices.Index(levelNames[:], r.text("level")))
	if rule.Group == TextGroup && rule.Level == Error && c.Level != Error {
		return nil, fmt.Sprintf("`%s` is an error about the text itself, which cannot be lowered", rule.Name)
	}
	text := r.text("limit")
	if text == "" {
		return &c, ""
	}
	limits, ok := grammar.ParseLimits(text)
	if !ok {
		return nil, fmt.Sprintf("`%s` is no limit of `%s`", text, rule.Name)
	}
	c.Limits = slices.Clone(rule.Limits)
	for _, l := range limits {
		at := slices.IndexFunc(c.Limits, func(have grammar.Limit) bool { return have.Unit == l.Unit })
		if at < 0 {
			return nil, fmt.Sprintf("`%s` %s", rule.Name, limitUnits(rule))
		}
		c.Limits[at].Value = l.Value
	}
	return &c, ""
}

// limitUnits says in which units a rule's limits are.
func limitUnits(rule *Rule) string {
	if len(rule.Limits) == 0 {
		return "has no limit to set; leave the cell out"
	}
	return "is limited in other units; its own limits are " + strings.ReplaceAll(rule.LimitsText(), ", ", ",")
}

func houseSetting() *Rule {
	return &Rule{
		Name: "house-setting", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A row of a house that sets nothing: a rule that is not there, a limit of the wrong unit, or a rule that cannot be lowered.",
			Why:     "Whoever wrote it believes that the folder is guarded, or left in peace, in a way that it is not.",
			Decides: "Each row is held to the rules that there are. Limits must have the units of the rule's own limits; errors of the Text group cannot be lowered, since what cannot be read cannot be judged.",
			Allow:   "Never.",
			Bad:     "track hips\n  at      tilt\n  0b      2\n  2b      -2\n\nhouse\n  rule            level   limit\n  seam-gap        error   2f\n",
			Good:    "track hips\n  at      tilt\n  0b      2\n  2b      -2\n\nhouse\n  rule            level   limit\n  seam-gap        error   0.1deg\n",
		},
		Check: checkHouse,
	}
}

func checkHouse(p *Pass) {
	for _, b := range p.Motion.File.Blocks {
		if b.Kind != grammar.HouseBlock {
			continue
		}
		seen := map[string]int{}
		for i := range b.Rows() {
			p.houseLine(houseLine{b, i}, seen)
		}
	}
}

func (p *Pass) houseLine(row houseLine, seen map[string]int) {
	name := row.text("rule")
	rule := ruleNamed(p.rules, name)
	if rule == nil {
		at := row.ref(row.block.ColumnIndex("rule"))
		finding := p.Report(at, "there is no rule `%s`", name)
		if near := grammar.Nearest(name, ruleNames(p.rules)); near != "" {
			finding.Message += "; did you mean `" + near + "`?"
			finding.Mends = []motion.Mend{motion.Write(at, near)}
		}
		return
	}
	if before, twice := seen[name]; twice {
		finding := p.Report(row.ref(row.block.ColumnIndex("rule")), "`%s` is already set above; leave one of the two out", name)
		finding.Related = []motion.Related{{At: row.block.RefLine(before), Message: "the first one"}}
		return
	}
	seen[name] = row.line
	if _, fault := row.apply(rule); fault != "" {
		column := "limit"
		if row.text("limit") == "" || strings.Contains(fault, "lowered") {
			column = "level"
		}
		p.Report(row.ref(row.block.ColumnIndex(column)), "%s", fault)
	}
}
