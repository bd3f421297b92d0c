package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// Stat measures how much motion was checked and what was reported, rule by rule.
type Stat struct {
	Keys    int     // of all channels of the sheets below
	Beats   float64 // that one playing of each sheet lasts
	Seconds float64 // the same
	// Busiest is the sheet with the most keys a second, and BusiestRate how many that are; empty where there is no sheet.
	Busiest     string
	BusiestRate float64

	byRule map[string]Levels
}

// Levels count findings by their level.
type Levels struct {
	Errors   int `json:"errors"`
	Warnings int `json:"warnings"`
	Notes    int `json:"notes"`
}

// Add counts the findings of a file, and the motion of a sheet whose length is known.
func (s *Stat) Add(path string, m *motion.Motion, found []Finding) {
	if s.byRule == nil {
		s.byRule = map[string]Levels{}
	}
	for i := range found {
		n := s.byRule[found[i].Rule]
		n.add(found[i].Level)
		s.byRule[found[i].Rule] = n
	}
	if !m.Whole() {
		return
	}
	seconds := m.Sheet.Seconds(m.Sheet.Length).Float()
	keys := keyCount(m)
	s.Keys += keys
	s.Seconds += seconds
	s.Beats += m.Sheet.Beats(m.Sheet.Length).Float()
	if rate := float64(keys) / seconds; rate > s.BusiestRate {
		s.Busiest, s.BusiestRate = path, rate
	}
}

// Rate is how many keys there are a second; 0 where there is no second.
func (s *Stat) Rate() float64 {
	if s.Seconds == 0 {
		return 0
	}
	return float64(s.Keys) / s.Seconds
}

// ByRule gives the rules that reported, the busiest first, and how often.
func (s *Stat) ByRule() []RuleCount {
	out := make([]RuleCount, 0, len(s.byRule))
	for rule, n := range s.byRule {
		out = append(out, RuleCount{rule, n})
	}
	slices.SortFunc(out, func(a, b RuleCount) int {
		return cmp.Or(cmp.Compare(b.sum(), a.sum()), cmp.Compare(a.Rule, b.Rule))
	})
	return out
}

// RuleCount is how often a rule reported.
type RuleCount struct {
	Rule string `json:"rule"`
	Levels
}

func (l Levels) sum() int { return l.Errors + l.Warnings + l.Notes }

func (l *Levels) add(level lint.Level) {
	switch level {
	case lint.Error:
		l.Errors++
	case lint.Warning:
		l.Warnings++
	default:
		l.Notes++
	}
}

// String says it for people: `2 errors, 1 note`.
func (l Levels) String() string {
	var parts []string
	for _, level := range []struct {
		n    int
		word string
	}{{l.Errors, "error"}, {l.Warnings, "warning"}, {l.Notes, "note"}} {
		if level.n > 0 {
			parts = append(parts, Count(level.n, level.word))
		}
	}
	return strings.Join(parts, ", ")
}

// Stat writes the measures below the summary.
func (t *Text) Stat(s *Stat) {
	t.print("\n")
	rows := [][2]string{
		{"keys", fmt.Sprint(s.Keys)},
		{"keys a second", fmt.Sprintf("%.1f", s.Rate())},
		{"beats", rounded(s.Beats)},
		{"seconds", rounded(s.Seconds)},
	}
	if s.Busiest != "" {
		rows = append(rows, [2]string{"busiest sheet", fmt.Sprintf("%s, %.1f keys a second", Printable(s.Busiest), s.BusiestRate)})
	}
	counts := s.ByRule()
	for _, c := range counts {
		rows = append(rows, [2]string{"  " + c.Rule, c.String()})
	}
	width := 0
	for _, row := range rows {
		width = max(width, len(row[0]))
	}
	for i, row := range rows {
		if i == len(rows)-len(counts) {
			t.print("reports by rule\n")
		}
		t.print(fmt.Sprintf("%-*s  %s\n", width, row[0], row[1]))
	}
}

func rounded(x float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", x), "0"), ".")
}

type jsonStat struct {
	Keys        int         `json:"keys"`
	Rate        float64     `json:"keysPerSecond"`
	Beats       float64     `json:"beats"`
	Seconds     float64     `json:"seconds"`
	Busiest     string      `json:"busiest"`
	BusiestRate float64     `json:"busiestKeysPerSecond"`
	Rules       []RuleCount `json:"rules"`
}

func (s *Stat) json() jsonStat {
	return jsonStat{s.Keys, s.Rate(), s.Beats, s.Seconds, s.Busiest, s.BusiestRate, s.ByRule()}
}
